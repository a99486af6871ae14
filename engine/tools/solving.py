"""Least squares over every setting at once: where a set-up brings the balance and the limits together.

Levenberg-Marquardt on the full model, settings as fractional clicks within their range; what lies furthest
from its band counts most (fourth power). The end is rounded to whole clicks; that costs a little, which the
descent takes back. Deterministic; a local least, not proved the least there is.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.model import Pace, channels
from engine.response import Array
from engine.style import RACE, Style
from engine.task import SCALE
from engine.tools.aim import bands, windows
from engine.track import Track

__all__ = ["solve"]

FELT = len(BALANCE)
ROUNDS, HALF_CLICK = 24, 0.5
DAMPED = np.array([0.1, 0.3, 1.0, 3.0, 10.0, 100.0])
"""Factors on the damping that are tried in every round."""
LIMIT, MARGIN, SPLIT = 20.0, 0.1, 0.2
"""Residual of one scale unit over a limit; scale units to stay inside one; residual of one unit of a split
limit (judgement)."""
APART = 0.05
"""Residual of one usual round's step from where it began (judgement)."""
LEAST, STUCK = 1e-3, 1e4
"""Share of the cost that is worth another round, and the damping at which none helps."""


@dataclass(frozen=True, slots=True, eq=False)
class _Field:
    """What is solved: `free` indices of settings, `start` [settings] clicks, `caps` [free] clicks of a usual
    round's step; `low`, `high` [channels] the limits."""

    car: Car
    track: Track
    pace: Pace
    goal: Array
    wide: Array
    free: NDArray[np.int64]
    start: Array
    caps: Array
    last: Array
    low: Array
    high: Array

    def values(self, clicks: Array) -> Array:
        """Fractional clicks [n, settings] → values in the sheet's units."""
        columns = [
            np.interp(column, np.arange(s.last + 1), [s.value_at(c) for c in range(s.last + 1)])
            for s, column in zip(self.car.settings, clicks.T, strict=True)
        ]
        return np.stack(columns, axis=1)

    def residuals(self, clicks: Array) -> Array:
        """[n, residuals]: balance over its band first, then limits, then how far from the start."""
        values = self.values(clicks)
        rows = channels(self.car, self.track, values, self.pace)
        room = MARGIN * SCALE
        over = np.maximum(0.0, rows - self.high + room) - np.maximum(0.0, self.low + room - rows)
        index = {s.key: i for i, s in enumerate(self.car.settings)}
        splits = [np.zeros((len(values), 0))]
        for link in self.car.limits.links:
            split = values[:, index[link.first]] - values[:, index[link.second]]
            beyond = np.maximum(0.0, split - link.high) - np.maximum(0.0, link.low - split)
            splits.append(SPLIT * beyond[:, None])
        apart = APART * (clicks - self.start)[:, self.free] / self.caps
        felt = (rows[:, :FELT] - self.goal) / self.wide
        return np.concatenate([felt, LIMIT * over / SCALE, apart, *splits], axis=1)


def solve(
    car: Car, track: Track, setup: Setup, goal: Array, locked: frozenset[str], pace: Pace, style: Style = RACE
) -> Setup:
    """The set-up near `setup` whose balance lies nearest to `goal` [15], measured in bands; `locked`
    settings stay."""
    field = _lay(car, track, setup, goal, locked, pace, style)
    if not len(field.free):
        return dict(setup)
    here, damping = field.start, 1.0
    now = field.residuals(here[None])[0]
    for _ in range(ROUNDS):
        steps = _steps(field, here, now, damping)
        tried = field.residuals(steps)
        costs = _cost(tried)
        best = int(costs.argmin())
        gain = float(_cost(now) - costs[best])
        if gain <= 0:
            damping *= float(DAMPED[-1])
            if damping > STUCK:
                break
            continue
        damping = max(1e-4, damping * float(DAMPED[best]))
        here, now = steps[best], tried[best]
        if gain < LEAST * float(costs[best]):
            break
    whole = np.rint(here).astype(int)
    return {s.key: s.value_at(int(c)) for s, c in zip(car.settings, whole, strict=True)}


def _cost(residuals: Array) -> Array:
    """Fourth power of the balance in bands, square of the rest, over the last axis."""
    felt, rest = residuals[..., :FELT], residuals[..., FELT:]
    return np.asarray((felt**4).sum(axis=-1) + (rest**2).sum(axis=-1))


def _steps(field: _Field, here: Array, now: Array, damping: float) -> Array:
    """Where each damping would lead from `here` [dampings, settings]."""
    weight = np.ones(len(now))
    weight[:FELT] = np.maximum(0.3, np.abs(now[:FELT]))
    slope = _slope(field, here) * weight[:, None]
    own, found = here[field.free], []
    for factor in damping * DAMPED:
        to = here.copy()
        to[field.free] = own + _bounded(slope, -now * weight, factor, field, own)
        found.append(to)
    return np.array(found)


def _slope(field: _Field, here: Array) -> Array:
    """Residuals per click [residuals, free] by differences a click wide, one-sided at an end."""
    count = len(field.free)
    up, down = (np.repeat(here[None], count, axis=0) for _ in range(2))
    at = np.arange(count)
    up[at, field.free] = np.minimum(up[at, field.free] + HALF_CLICK, field.last[field.free])
    down[at, field.free] = np.maximum(down[at, field.free] - HALF_CLICK, 0.0)
    both = field.residuals(np.concatenate([up, down]))
    return np.asarray(((both[:count] - both[count:]) / (up - down).sum(axis=1)[:, None]).T)


def _bounded(slope: Array, wanted: Array, damping: float, field: _Field, own: Array) -> Array:
    """The damped step [free] that stays on the sheet: settings that would leave it are put at the end and
    the rest solved again."""
    step, inside = np.zeros(len(own)), np.ones(len(own), dtype=bool)
    for _ in range(4):
        normal = slope[:, inside].T @ slope[:, inside] + np.diag(damping / field.caps[inside] ** 2)
        left = wanted - slope[:, ~inside] @ step[~inside]
        step[inside] = np.linalg.solve(normal, slope[:, inside].T @ left)
        kept = np.clip(own + step, 0.0, field.last[field.free]) - own
        out = inside & (np.abs(kept - step) > 1e-9)
        step = kept
        inside &= ~out
        if not out.any() or not inside.any():
            break
    return step


def _lay(
    car: Car, track: Track, setup: Setup, goal: Array, locked: frozenset[str], pace: Pace, style: Style
) -> _Field:
    index = {s.key: i for i, s in enumerate(car.settings)}
    caps = {index[next(iter(m.parts))]: m.cap for m in car.moves if len(m.parts) == 1}
    free = np.array([i for i in sorted(caps) if car.settings[i].key not in locked], dtype=np.int64)
    start = np.array([float(s.click_of(setup[s.key])) for s in car.settings])
    last = np.array([float(s.last) for s in car.settings])
    low, high = windows(car.limits, style)
    usual = np.array([float(caps[int(i)]) for i in free])
    return _Field(car, track, pace, goal, bands(style.stage), free, start, usual, last, low, high)
