"""What going from one set-up to another does to every channel: the full model, plus what the rules of thumb
add to it."""

from collections.abc import Sequence

import numpy as np

from engine.car import Car, Setup
from engine.model import Pace, channels, find_pace, rows_of
from engine.response import Array
from engine.rules import effects
from engine.sensitivity import combine, slopes
from engine.track import Track

__all__ = ["Effects"]


class Effects:
    """The answer of a car at a track around `start`. `base` is every channel there."""

    def __init__(self, car: Car, track: Track, start: Setup, pace: Pace | None = None) -> None:
        self.car, self.track, self.start = car, track, start
        self.pace = pace or find_pace(car, track)
        self.base, slope = slopes(car, track, start, self.pace)
        self._spoken = combine(slope, effects(car, track))[0] - slope

    def clicks(self, setup: Setup) -> Array:
        """Clicks of every setting from the start to `setup`."""
        there = [(s, setup[s.key], self.start[s.key]) for s in self.car.settings]
        return np.array([0 if v == v0 else s.click_of(v) - s.click_of(v0) for s, v, v0 in there], dtype=float)

    def of(self, setups: Sequence[Setup]) -> Array:
        """Change of every channel from the start to each of `setups`, (n, channels), in the channel's
        unit."""
        truth = channels(self.car, self.track, rows_of(self.car, [self.start, *setups]), self.pace)
        spoken = np.array([self.clicks(s) for s in setups]).reshape(len(setups), -1) @ self._spoken
        return np.asarray(truth[1:] - truth[0] + spoken)
