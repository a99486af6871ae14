"""What planning works on: a car at a set-up with needs, guards, wishes and history; and whether a change
of channels meets them.

Channels are scaled (`SCALE`) so that one unit of any channel matters about as much as one feel.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from math import inf

import numpy as np
from numpy.typing import NDArray

from engine.car import Car, Setup
from engine.channels import CHANNELS
from engine.guarding import SPARE
from engine.history import History
from engine.learning import Knowledge
from engine.memo import Memo
from engine.response import Array, Response
from engine.style import Style
from engine.wanted import Guard, Need
from engine.wishes import Wishes

INDEX = {channel: i for i, channel in enumerate(CHANNELS)}
SCALES = {
    "water-temperature": 10.0, "top-rpm": 100.0, "straight-speed": 2.0, "lockup-margin": 4.0, "wear": 2.0,
    "wear-gap": 2.0, "pressure-window": 2.0, "camber-window": 1.0,
}  # fmt: skip
SCALE = np.array([1.0 if c.startswith("balance/") else SCALES[c.split("/")[0]] for c in CHANNELS])
"""What weighs as much as one feel, per channel (judgement)."""
WIDER = 1.8
"""How much wider the rest of the corner may move when nothing cures within the usual band: about a slight
complaint."""
DISPUTE = 10.0
"""Model and rule dispute a lever when each says a tenth (1 / DISPUTE) of the want in a round, with opposite
signs (judgement)."""
NEAR = 0.05
"""How far, in feel, the full model may be from what the plan promised before it is solved again."""

PAST = {"harm": 2 * NEAR, "side": 0.15, "good": 0.15}
"""How far beyond a band, in feel, the full model may have a plan go that the response keeps inside it, per
kind of guard: more is not the plan that was looked for (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Bounds:
    """Guards side by side: column of each one's channel, how far it may move, whether it is a limit of
    the car."""

    at: NDArray[np.int64]
    low: Array
    high: Array
    limit: NDArray[np.bool_]


@dataclass(frozen=True)
class Task:
    """Everything a plan is made from. `shift` is what is changed already by settings the driver asked for
    (channels)."""

    car: Car
    setup: Setup
    response: Response
    needs: tuple[Need, ...]
    guards: tuple[Guard, ...]
    wishes: Wishes
    history: History
    style: Style
    shift: Array
    asked: frozenset[str] = frozenset()
    knowledge: Knowledge | None = None
    far: bool = True
    """False: only levers the trade reaches for before the last ones (`FAR`)."""

    @property
    def hedged(self) -> bool:
        """True when there are reports to go by and all that is asked for is balance."""
        return (
            self.knowledge is not None and self.knowledge.reports > 0 and all(n.unit_feel for n in self.needs)
        )

    @cached_property
    def doubt(self) -> Array:
        """How little each move's answer is known on what is complained of [moves]: 0 known, 1 not at all."""
        wanted = [INDEX[c] for need in self.needs for c, _ in need.parts]
        size = np.abs(self.response.step[:, wanted]).sum(axis=1)
        spread = self.response.sd[:, wanted].sum(axis=1)
        return np.where(size > 1e-9, np.minimum(1.0, spread / np.maximum(size, 1e-9)), 1.0)

    @cached_property
    def bounds(self) -> "Bounds":
        """The guards as arrays."""
        at = np.array([INDEX[g.channel] for g in self.guards], np.int64)
        low, high = np.array([(g.low, g.high) for g in self.guards], np.float64).reshape(-1, 2).T
        return Bounds(at, low, high, np.array([g.kind == "limit" for g in self.guards], np.bool_))

    @cached_property
    def disputed(self) -> frozenset[int]:
        """Rows of the levers that noticeably help a complaint by the model and noticeably harm it by the
        trade's rule, or the other way: nobody reaches for such a one, whichever is right."""
        asked = tuple(n for n in self.needs if n.group) if self.knowledge is None else ()
        own = tuple((need.parts, need.target) for need in asked)
        return _DISPUTED.get((self.response,), own, lambda: _disputed(self.response, asked))

    @cached_property
    def now(self) -> dict[str, int]:
        """Click of every setting."""
        return _NOW.get((self.car, self.setup), None, lambda: _clicks(self.car, self.setup))


_DISPUTED: Memo[frozenset[int]] = Memo(16, plans=True)


def _disputed(response: Response, needs: tuple[Need, ...]) -> frozenset[int]:
    rows: set[int] = set()
    caps = np.array([move.cap for move in response.moves])
    for need in needs:
        index = [INDEX[c] for c, _ in need.parts]
        weight = np.array([w for _, w in need.parts]) * DISPUTE / abs(need.target)
        ours = response.step[:, index] @ weight * caps
        said = np.nan_to_num(response.rule[:, index]) @ weight * caps
        disputed = (ours * said < 0) & (np.minimum(np.abs(ours), np.abs(said)) >= 1.0)
        rows |= set(np.flatnonzero(disputed).tolist())
    return frozenset(rows)


_NOW: Memo[dict[str, int]] = Memo(16)


def _clicks(car: Car, setup: Setup) -> dict[str, int]:
    return {s.key: s.click_of(setup[s.key]) for s in car.settings}


def widened(task: Task) -> Task:
    """The task with the bands on what nobody complained of (and nobody called good) opened by `WIDER`, at the
    stage of the complaint no further than `SPARE`."""
    return replace(task, guards=tuple(_opened(guard) for guard in task.guards))


def _opened(guard: Guard) -> Guard:
    most = {"side": SPARE, "stage": inf}.get(guard.kind)
    if most is None:
        return guard
    low, high = max(-most, guard.low * WIDER), min(most, guard.high * WIDER)
    return replace(guard, low=min(guard.low, low), high=max(guard.high, high))


def within_limits(task: Task, deltas: Array) -> bool:
    """True when no limit of the car is crossed (or made worse) by the changes."""
    b = task.bounds
    at = b.at[b.limit]
    shift = task.shift[at]
    change = deltas[at] + shift
    low, high = np.minimum(b.low[b.limit], shift) - 1e-6, np.maximum(b.high[b.limit], shift) + 1e-6
    return bool(((low <= change) & (change <= high)).all())


def harms(task: Task, deltas: Array) -> bool:
    """True when the full model has a plan leave a complaint worse than may be, with twice the usual slack, or
    push what nobody complained of noticeably beyond its band, further than what was asked for does."""
    total = deltas + task.shift
    for guard in task.guards:
        if guard.kind in PAST:
            i, slack = INDEX[guard.channel], PAST[guard.kind]
            low, high = min(guard.low, float(task.shift[i])), max(guard.high, float(task.shift[i]))
            if not low - slack <= total[i] <= high + slack:
                return True
    return False


def got(task: Task, need: Need, deltas: Array) -> float:
    """What a need gets from changes of the channels (and the task's shift)."""
    return float(sum(w * (deltas[INDEX[c]] + task.shift[INDEX[c]]) for c, w in need.parts))


def lack(task: Task, need: Need, deltas: Array, slack: float = NEAR) -> float:
    """How far a need is outside its interval beyond `slack`, 0 when it is met; in feel, or as much of another
    channel."""
    scale, size = float(SCALE[INDEX[need.parts[0][0]]]), abs(need.target)
    sign = 1.0 if need.target > 0 else -1.0
    change = sign * got(task, need, deltas)
    least = min(sign * float(deltas[INDEX[c]] + task.shift[INDEX[c]]) for c, _ in need.parts)
    outside = max(
        size * (1 - need.tolerance) - change, change - size * (1 + need.tolerance), size * need.floor - least
    )
    return max(0.0, outside / scale - slack)


def lacking(task: Task, deltas: Array) -> float:
    """What all needs lack together, in feel."""
    return sum(lack(task, need, deltas) for need in task.needs)


def is_met(task: Task, need: Need, deltas: Array, slack: float = NEAR) -> bool:
    """True when the need is inside its interval, give or take `slack` (in feel, or as much of another
    channel)."""
    return lack(task, need, deltas, slack + 1e-9) == 0.0
