"""What each change does on its own inside the model: tyre loads, share of grip used, wear, before and
after; in one call."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.model import Pace, State, rows_of, simulate
from engine.model_grip import best_pressure
from engine.model_values import base_of, values_of
from engine.response import Array
from engine.track import Track
from engine.units import UNITS
from grammar.intent import TYRES

POUNDS = 1.0 / 4.4482216
"""lbf per N."""


@dataclass(frozen=True, slots=True)
class Alone:
    """Before and after (first axis: 0, 1) of one change alone, in the corner that counts most at this
    track.

    `load` [2, 4 tyres, 3 stages, 5 phases] lb; `front`, `rear` [2, 3, 5] share of the axle's grip used;
    `worn` [2, 4] %."""

    corner: str
    load: Array
    front: Array
    rear: Array
    worn: Array


def each_alone(car: Car, track: Track, setup: Setup, changed: Sequence[Setup], pace: Pace) -> list[Alone]:
    """One `Alone` for each changed set-up, against `setup`."""
    if not changed:
        return []
    base, values = base_of(car), values_of(car, rows_of(car, (setup, *changed)))
    states = [
        simulate(car, track, corner, values, base, pull)
        for corner, pull in zip(track.corners, pace.pull, strict=True)
    ]
    top = max(states, key=lambda s: s.corner.weight)
    count = 1 + len(changed)
    load = POUNDS * top.own(np.broadcast_to(top.loads.tyre, (4, count, 3, 5))).transpose(1, 0, 2, 3)
    front, rear = (np.broadcast_to(axle, (count, 3, 5)) for axle in top.use.axle)
    worn = _worn(states, count)
    picks = [np.array([0, i]) for i in range(1, count)]
    return [Alone(top.corner.name, load[p], front[p], rear[p], worn[p]) for p in picks]


def _worn(states: Sequence[State], count: int) -> Array:
    """Wear at the end of the run [set-ups, 4], %, the mean over the kinds of corner."""
    total = sum(s.corner.weight for s in states)
    parts = [s.corner.weight * s.own(np.broadcast_to(s.worn, (4, count, 1, 1)))[:, :, 0, 0] for s in states]
    return np.asarray(100.0 * sum(parts, np.zeros((4, count))).T / total)


def best_hot(car: Car, track: Track, setup: Setup, pace: Pace) -> dict[str, float]:
    """The hot pressure each tyre likes best at its load in the corner that counts most, late in the run,
    psi."""
    values = values_of(car, rows_of(car, [setup]))
    states = [
        simulate(car, track, corner, values, base_of(car), pull)
        for corner, pull in zip(track.corners, pace.pull, strict=True)
    ]
    top = max(states, key=lambda s: s.corner.weight)
    best = top.own(best_pressure(car.physics, np.broadcast_to(top.loads.tyre, (4, 1, 3, 5))[:, :, 2, 2]))
    return {tyre: float(best[i, 0] / UNITS["psi"].factor) for i, tyre in enumerate(TYRES)}
