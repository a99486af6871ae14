"""The full model for one answer: a car at a track and a pace, every set-up computed once."""

from collections.abc import Sequence

import numpy as np

from engine.alone import Alone, Sight, beside, sights
from engine.car import Car, Setup
from engine.model import Pace, look, rows_of
from engine.response import Array
from engine.track import Track

__all__ = ["FullModel"]


class FullModel:
    """Set-ups → channels, and what a change does on its own. A call of the model costs nearly the same for
    one set-up as for twenty, so whoever needs several asks for them together."""

    def __init__(self, car: Car, track: Track, pace: Pace) -> None:
        self.car, self.track, self.pace = car, track, pace
        self._seen: dict[tuple[float, ...], tuple[Array, Sight]] = {}

    def __call__(self, setups: Sequence[Setup]) -> Array:
        """Channels [n, channels] of some set-ups."""
        return np.array([row for row, _ in self._look(setups)])

    def alone(self, setup: Setup, changed: Sequence[Setup]) -> list[Alone]:
        """One `Alone` for each changed set-up, against `setup`."""
        (_, before), *others = self._look([setup, *changed])
        return [beside(before, after) for _, after in others]

    def _look(self, setups: Sequence[Setup]) -> list[tuple[Array, Sight]]:
        """What is known of some set-ups, the new ones computed in one call."""
        rows = rows_of(self.car, setups)
        keys = [tuple(row) for row in rows.tolist()]
        new = {key: i for i, key in enumerate(keys) if key not in self._seen}
        if new:
            values, states = look(self.car, self.track, rows[list(new.values())], self.pace)
            self._seen |= zip(new, zip(values, sights(states, len(new)), strict=True), strict=True)
        return [self._seen[key] for key in keys]
