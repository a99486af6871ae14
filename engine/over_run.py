"""Complaints that turn round over the run: loose at one end, tight or good at the other, in one place."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from engine.both_ways import NAMED
from engine.car import Move
from engine.response import Array
from engine.task import INDEX, Task, is_met
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
    for need in task.needs:
        if need.unit_feel:
            found += _kept_good(task, np.asarray(deltas), need)
    return found


def _turning(task: Task, deltas: Array, one: Need, other: Need) -> Fact:
    between = _mean(one) - _mean(other)
    wanted = one.target - other.target
    best, most = _best(task, between)
    numbers = {
        "got": max(0.0, float(deltas @ between) * (1.0 if wanted > 0 else -1.0)),
        "wanted": abs(wanted),
    }
    names = {"need": f"{one.group}/whole", "setting": best}
    kind = "turns-round" if numbers["got"] >= SAID else "turns-round-none"
    return Fact(kind, {**numbers, "most": most}, names)


def _kept_good(task: Task, deltas: Array, need: Need) -> list[Fact]:
    """What stands in the way where a need is not met: the same places are good at another run stage."""
    places = {channel.split("/")[1] for channel, _ in need.parts}
    held = [
        g.channel
        for g in task.guards
        if g.kind == "good" and g.channel.split("/")[1] in places and not g.channel.endswith(f"/{need.stage}")
    ]
    if not held or is_met(task, need, deltas - task.shift):
        return []
    other = replace(need, parts=tuple((channel, 1.0 / len(held)) for channel in held))
    best, most = _best(task, _mean(need) - _mean(other))
    names = {"need": f"{need.group}/{held[0].split('/')[2]}", "setting": best}
    return [Fact("kept-good", {"moved": float(deltas @ _mean(other)), "most": most}, names)]


def _mean(need: Need) -> Array:
    """The need as a row over all channels."""
    found = np.zeros(len(INDEX))
    for channel, weight in need.parts:
        found[INDEX[channel]] += weight
    return found


def _best(task: Task, between: Array) -> tuple[str, float]:
    """The lever that acts most on a difference of channels, and by how much in a whole round."""
    moves = task.response.moves
    round_of = [abs(float(task.response.step[i] @ between)) * m.cap for i, m in enumerate(moves)]
    best = max((i for i, m in enumerate(moves) if _usual(m)), key=lambda i: (round_of[i], -i))
    return moves[best].key, round_of[best]


def _usual(move: Move) -> bool:
    """Gears and fuel are not moved for the balance, nor what only the driver's word opens."""
    return move.reach < NAMED and not move.key.startswith(("gear", "final", "fuel"))
