"""What was changed before in this session, and what that forbids now: no change may undo what an earlier
one cured."""

from collections.abc import Iterable
from dataclasses import dataclass

ACCEPTED = ("fixed", "better", "quiet", "")
"""Verdicts after which a change stands: it may go further, not back."""
FREE = ("worse", "too-far", "undo")
"""Verdicts after which a change may go back."""


@dataclass(frozen=True, slots=True)
class PastStep:
    """One setting that was moved, its values, and what the driver said of it: fixed, better, no-change,
    worse, too-far, undo (asked for it back), still (named again), quiet or "" (said nothing)."""

    setting: str
    before: float
    after: float
    verdict: str = ""

    @property
    def sign(self) -> int:
        """+1 moved up, -1 down, 0 not at all."""
        return (self.after > self.before) - (self.after < self.before)


@dataclass(frozen=True, slots=True)
class History:
    """The session so far, oldest first. `passed`: sets of settings the driver turned down; no plan may
    contain one."""

    steps: tuple[PastStep, ...] = ()
    passed: tuple[frozenset[str], ...] = ()

    def barred(self, asked: Iterable[str] = ()) -> dict[str, frozenset[int]]:
        """Setting → directions (+1, -1) that are closed; `asked` are settings the driver himself wants
        moved.

        After an accepted change its reverse is closed; after "no change" the same direction is closed (it
        was just shown not to work); "worse" and "too far" close the same direction and open the reverse;
        "still" (named again) closes nothing new. The newest verdict counts."""
        closed: dict[str, frozenset[int]] = {}
        for step in self.steps:
            if not step.sign or step.setting in asked:
                continue
            if step.verdict in FREE or step.verdict == "no-change":
                closed[step.setting] = frozenset({step.sign})
            elif step.verdict in ACCEPTED:
                closed[step.setting] = frozenset({-step.sign})
        return closed


EMPTY = History()
