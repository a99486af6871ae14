"""Complaints that turn round over the run: loose at one end of it, tight at the other, in one place."""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from engine.response import Array
from engine.task import INDEX, Task
from engine.verdict import Fact
from engine.wanted import Need

__all__ = ["over_the_run"]

SAID = 0.05
"""Feel below which a list is said to take back nothing: what one decimal can show."""


def over_the_run(task: Task, deltas: Sequence[float]) -> list[Fact]:
    """How much of the turning round a list takes back, and which lever acts on it most; feel."""
    found = []
    for one, other in combinations(task.needs, 2):
        if one.unit_feel and one.group == other.group and one.target * other.target < 0:
            found.append(_turning(task, np.asarray(deltas), one, other))
    return found


def _turning(task: Task, deltas: Array, one: Need, other: Need) -> Fact:
    between = np.zeros(len(INDEX))
    for need, sign in ((one, 1.0), (other, -1.0)):
        for channel, weight in need.parts:
            between[INDEX[channel]] += sign * weight
    wanted = one.target - other.target
    round_of = [
        abs(float(task.response.step[i] @ between)) * m.cap for i, m in enumerate(task.response.moves)
    ]
    best = max(
        (i for i, m in enumerate(task.response.moves) if _usual(m.key)), key=lambda i: (round_of[i], -i)
    )
    numbers = {
        "got": max(0.0, float(deltas @ between) * (1.0 if wanted > 0 else -1.0)),
        "wanted": abs(wanted),
    }
    names = {"need": f"{one.group}/whole", "setting": task.response.moves[best].key}
    kind = "turns-round" if numbers["got"] >= SAID else "turns-round-none"
    return Fact(kind, {**numbers, "most": round_of[best]}, names)


def _usual(key: str) -> bool:
    """Gears and fuel are not moved for the balance."""
    return not key.startswith(("gear", "final", "fuel"))
