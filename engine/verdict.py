"""The engine's answer as frozen data: what to change, what it will do, why, why not something else, or
why it cannot be done.

Nothing here is worded: a `Fact` has a kind, numbers, names and sources; `service.sentences` holds the
sentence of each kind. Balance in an answer is as the driver feels it: before = what he said (+1 = a plain
"tight", 0 = not complained of), carried over to the other run stages by the model's own drift; after =
before + the predicted change.
"""

from dataclasses import dataclass, field

from engine.learning import Push
from grammar.intent import Question


@dataclass(frozen=True, slots=True)
class Fact:
    """One computed thing to say. `numbers` are all the figures its sentence may hold, `names` its words
    (keys, labels)."""

    kind: str
    numbers: dict[str, float] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Effect:
    """What a change, or a whole plan, does to one channel, in the channel's unit."""

    channel: str
    before: float
    after: float

    @property
    def delta(self) -> float:
        """The change."""
        return self.after - self.before


@dataclass(frozen=True, slots=True)
class Change:
    """One setting of a move that is made: value before and after, clicks of the setting. `move` is the
    move's key."""

    move: str
    setting: str
    before: float
    after: float
    clicks: int
    reasons: tuple[Fact, ...] = ()
    effects: tuple[Effect, ...] = ()


@dataclass(frozen=True, slots=True)
class Cure:
    """How far one need is met: `wanted` and `got` in the unit of its channels, `met` when inside its
    interval."""

    need: str
    channel: str
    """The first of its channels."""
    wanted: float
    got: float
    met: bool


@dataclass(frozen=True, slots=True)
class PlanView:
    """A change list. `moves` are (move key, clicks) in key order; `deltas` is the predicted change of
    every channel, in `engine.channels.CHANNELS` order."""

    moves: tuple[tuple[str, int], ...]
    changes: tuple[Change, ...]
    expected: tuple[Effect, ...]
    cures: tuple[Cure, ...]
    deltas: tuple[float, ...]
    pushes: tuple[Push, ...] = ()
    """The moves as learning needs them: clicks and the plain response per click."""

    @property
    def cured(self) -> bool:
        """True when every need is met."""
        return all(cure.met for cure in self.cures)


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Why a lever a driver would expect is not on the list."""

    move: str
    fact: Fact


@dataclass(frozen=True, slots=True)
class ClashView:
    """The wishes and limits that cannot all hold (facts), how much of the first want can be had, and the
    one repair that helps most (None when nothing single does)."""

    members: tuple[Fact, ...]
    summary: Fact
    repair: Fact | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """Everything the engine has to say. `status`: change, question, no_change, stop, not_possible.

    `notes` come before the list (the driver's own fault, what comes next, what was left open), `cautions`
    after it."""

    status: str
    plan: PlanView | None = None
    alternatives: tuple[PlanView, ...] = ()
    questions: tuple[Question, ...] = ()
    why_not: tuple[WhyNot, ...] = ()
    clash: ClashView | None = None
    notes: tuple[Fact, ...] = ()
    cautions: tuple[Fact, ...] = ()
    needs: tuple[str, ...] = ()
