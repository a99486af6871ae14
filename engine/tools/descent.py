"""Descent on the full model: from a set-up, click by click, to where a cost is least.

The planner looks for the fewest changes; this is for a set-up made from nothing, where how many settings
differ from the sheet's own counts little. Every step tries each move by several clicks each way in one call
of the model and takes the best, or puts one setting back; when no single move helps, pairs of moves are
tried. Deterministic; the result is a local least, not proved the least there is.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.car import Car, Setup
from engine.model import Pace, channels
from engine.response import Array
from engine.track import Track

__all__ = ["Cost", "descend"]

Cost = Callable[[Array, Array], Array]
"""(channels [n, channels], clicks from the start [n, settings]) → cost [n]."""
Clicks = NDArray[np.int64]
SIZES = (1, 2, 4, 8)
STEPS, PAIRINGS = 60, 3
LEAST = 1e-4
"""Smallest gain worth a step, in the cost's unit."""


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """Where the descent walks: `table` [settings, clicks] the sheet's values, `last` the highest click of
    each."""

    car: Car
    track: Track
    pace: Pace
    start: Clicks
    table: Array
    last: Clicks
    cost: Cost

    def costs(self, clicks: Clicks) -> Array:
        """Cost of rows of clicks [n, settings]; infinite off the sheet or over a split limit."""
        found = np.full(len(clicks), np.inf)
        inside = ((clicks >= 0) & (clicks <= self.last)).all(axis=1)
        rows = self.table[np.arange(len(self.last)), np.clip(clicks, 0, self.last)]
        index = {s.key: i for i, s in enumerate(self.car.settings)}
        for link in self.car.limits.links:
            split = rows[:, index[link.first]] - rows[:, index[link.second]]
            inside &= (split >= link.low - 1e-9) & (split <= link.high + 1e-9)
        if inside.any():
            found[inside] = self.cost(
                channels(self.car, self.track, rows[inside], self.pace),
                ((clicks[inside] - self.start).astype(float)).astype(float),
            )
        return found


def descend(
    car: Car,
    track: Track,
    setup: Setup,
    locked: frozenset[str],
    cost: Cost,
    pace: Pace,
    origin: Setup | None = None,
) -> Setup:
    """The set-up at the end of the descent from `setup`; `locked` settings stay. Clicks are counted from
    `origin`, and it is to there that settings are put back; None: from `setup`."""
    ground = _lay(car, track, setup if origin is None else origin, cost, pace)
    single, pairs = _steps(car, locked)
    own = np.eye(len(ground.start), dtype=np.int64)
    here = np.array([s.click_of(setup[s.key]) for s in car.settings])
    now = float(ground.costs(here[None])[0])
    pairings = 0
    for _ in range(STEPS):
        back = own * (ground.start - here)
        there, least = _best(ground, here, np.concatenate([single, back]))
        if least > now - LEAST and pairings < PAIRINGS:
            pairings += 1
            there, least = _best(ground, here, pairs)
        if least > now - LEAST:
            break
        here, now = there, least
    return {s.key: s.value_at(int(c)) for s, c in zip(car.settings, here, strict=True)}


def _best(ground: _Ground, here: Clicks, steps: Clicks) -> tuple[Clicks, float]:
    costs = ground.costs(here + steps)
    at = int(costs.argmin())
    return here + steps[at], float(costs[at])


def _lay(car: Car, track: Track, setup: Setup, cost: Cost, pace: Pace) -> _Ground:
    last = np.array([s.last for s in car.settings])
    table = np.zeros((len(last), int(last.max()) + 1))
    for row, setting in zip(table, car.settings, strict=True):
        row[: setting.last + 1] = [setting.value_at(click) for click in range(setting.last + 1)]
    start = np.array([s.click_of(setup[s.key]) for s in car.settings])
    return _Ground(car, track, pace, start, table, last, cost)


def _steps(car: Car, locked: frozenset[str]) -> tuple[Clicks, Clicks]:
    """Single moves by each size and way, and pairs of single clicks, as rows of clicks [n, settings]."""
    index = {s.key: i for i, s in enumerate(car.settings)}
    units = []
    for move in car.moves:
        if locked.isdisjoint(move.parts):
            unit = np.zeros(len(index), dtype=np.int64)
            for key, each in move.parts.items():
                unit[index[key]] = each
            units.append(unit)
    if not units:
        units.append(np.zeros(len(index), dtype=np.int64))
    ways = np.concatenate([np.array(units), -np.array(units)])
    first, second = np.triu_indices(len(ways), 1)
    return np.concatenate([ways * size for size in SIZES]), ways[first] + ways[second]
