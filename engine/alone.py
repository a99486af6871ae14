"""What each change does on its own inside the model: tyre loads, share of grip used, wear, before and
after; in one call."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.model import Pace, State, look, rows_of, simulate
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


@dataclass(frozen=True, slots=True)
class Sight:
    """One set-up in the corner that counts most: as in `Alone`, without the first axis."""

    corner: str
    load: Array
    front: Array
    rear: Array
    worn: Array


def sights(states: Sequence[State], count: int) -> list[Sight]:
    """The first `count` set-ups of some states."""
    top = max(states, key=lambda s: s.corner.weight)
    load = POUNDS * top.own(np.broadcast_to(top.loads.tyre, (4, *top.use.axle.shape[1:])))
    front, rear = top.use.axle
    worn = _worn(states, top.use.axle.shape[1])
    return [Sight(top.corner.name, load[:, i], front[i], rear[i], worn[i]) for i in range(count)]


def beside(before: Sight, after: Sight) -> Alone:
    """Two set-ups side by side."""
    pairs = (
        np.array([getattr(before, part), getattr(after, part)]) for part in ("load", "front", "rear", "worn")
    )
    return Alone(after.corner, *pairs)


def each_alone(car: Car, track: Track, setup: Setup, changed: Sequence[Setup], pace: Pace) -> list[Alone]:
    """One `Alone` for each changed set-up, against `setup`."""
    _, states = look(car, track, rows_of(car, (setup, *changed)), pace)
    first, *others = sights(states, 1 + len(changed))
    return [beside(first, other) for other in others]


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
