"""A driver for the closed-loop bench: what he feels, when he complains, and the words he finds for it.

Balance is feel against what he likes, + = tighter, one number per phase at half fuel.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
NOISE = 0.15
GROUPS = {"entry": (0, 1), "centre": (2,), "exit": (3, 4)}
PLACES = {
    (0, 1): ("in", "getting in", "on entry", "into the corner", "on corner entry"),
    (0,): ("on the brakes", "under braking"),
    (1,): ("rolling in", "rolling into the corner"),
    (2,): ("in the middle", "in the centre", "through the middle", "at the apex"),
    (3, 4): ("off", "on exit", "off the corner", "coming off", "on corner exit"),
    (3,): ("picking up the throttle", "on first throttle"),
    (4,): ("at full throttle", "wide open"),
}
TIGHT = ("tight", "pushing", "snug", "tight", "understeering")
LOOSE = ("loose", "free", "loose", "oversteering")
SLIGHT = ("a little {}", "slightly {}", "a touch {}", "a bit {}")
PLAIN = ("{}", "{}", "too {}")
SEVERE = ("really {}", "very {}", "way too {}")
EDGES = (0.75, 1.5)
"""Up to where he calls it slight, and plain, feel (between the wants 0.5, 1 and 2 of the design)."""


@dataclass
class Driver:
    """Thresholds for tight and for loose (his taste: he may stand one better than the other), feel."""

    tight: float
    loose: float

    def feel(self, balance: Array, rng: np.random.Generator) -> Array:
        """What he felt on a run."""
        return balance + rng.normal(0.0, NOISE, len(balance))

    def bothered(self, felt: float) -> bool:
        """True when he would complain of it."""
        return felt > self.tight or felt < -self.loose

    def content(self, felt: Array) -> bool:
        """True when nothing bothers him."""
        return not any(self.bothered(float(f)) for f in felt)

    def complaints(self, felt: Array) -> list[tuple[tuple[int, ...], float]]:
        """What bothers him: phases and how much; both halves of a group said as one when they agree."""
        found: list[tuple[tuple[int, ...], float]] = []
        for members in GROUPS.values():
            bad = [p for p in members if self.bothered(float(felt[p]))]
            if len(bad) == 2 and felt[bad[0]] * felt[bad[1]] > 0:
                found.append((members, float(np.mean(felt[bad]))))
            else:
                found += [((p,), float(felt[p])) for p in bad]
        return found

    def words(self, felt: Array, before: Array | None, rng: np.random.Generator) -> str:
        """The report as he would type it; half the time he also compares with the run before."""
        complaints = self.complaints(felt)
        clauses = [_clause(phases, amount, rng) for phases, amount in complaints]
        if before is not None and rng.random() < 0.5:
            clauses = [*self._compared(felt, before, {p for c, _ in complaints for p in c}, rng), *clauses]
        text = _joined(clauses, rng)
        return text + (" at half fuel" if len(clauses) == 1 and rng.random() < 0.3 else "")

    def _compared(self, felt: Array, before: Array, named: set[int], rng: np.random.Generator) -> list[str]:
        """At most one comparison, on a part of the corner he complained of before and does not now."""
        for phases, amount in self.complaints(before):
            if not set(phases) & named and abs(float(np.mean(felt[list(phases)]))) < abs(amount) - 0.3:
                return [f"better {_pick(PLACES[phases], rng)} but"]
        return []


def _clause(phases: tuple[int, ...], amount: float, rng: np.random.Generator) -> str:
    size = abs(amount)
    degree = SLIGHT if size < EDGES[0] else PLAIN if size < EDGES[1] else SEVERE
    word = _pick(TIGHT if amount > 0 else LOOSE, rng)
    return f"{_pick(degree, rng).format(word)} {_pick(PLACES[phases], rng)}"


def _joined(clauses: list[str], rng: np.random.Generator) -> str:
    text = clauses[0]
    for clause in clauses[1:]:
        text += (" " if text.endswith("but") else _pick((", ", " and ", ", "), rng)) + clause
    return text


def _pick(options: tuple[str, ...], rng: np.random.Generator) -> str:
    return options[int(rng.integers(len(options)))]
