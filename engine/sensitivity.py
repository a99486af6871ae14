"""How the channels move when a move is made: central differences on the model, all set-ups in one call."""

from collections.abc import Sequence

import numpy as np

from engine.car import Car, Move, Setting, Setup
from engine.channels import BALANCE, CHANNELS
from engine.model import Pace, channels
from engine.model_values import Array
from engine.response import Response
from engine.track import Track

MODEL_SD = 0.35
"""Relative standard deviation of a model effect (design figure: a car differs from its model by about a third)."""
MODEL_FLOOR = 0.05
"""Smallest standard deviation of a balance effect, feel per click."""


def respond(
    car: Car, track: Track, setup: Setup, moves: Sequence[Move] | None = None, pace: Pace | None = None
) -> Response:
    """What +1 click of each move does at `setup`; `moves` default to the car's own."""
    chosen = tuple(car.moves if moves is None else moves)
    base, slope = slopes(car, track, setup, pace)
    step = _parts(car, chosen) @ slope
    floor = np.array([MODEL_FLOOR if c in BALANCE else 0.0 for c in CHANNELS])
    sd = np.hypot(MODEL_SD * np.abs(step), floor)
    none = np.full_like(step, np.nan)
    return Response(chosen, base, step, sd, step, none, np.ones_like(step), tuple(() for _ in chosen))


def _parts(car: Car, moves: Sequence[Move]) -> Array:
    """Clicks of each setting in one click of each move (moves, settings)."""
    index = {s.key: i for i, s in enumerate(car.settings)}
    made = np.zeros((len(moves), len(index)))
    for row, move in enumerate(moves):
        for key, clicks in move.parts.items():
            made[row, index[key]] = clicks
    return made


def slopes(car: Car, track: Track, setup: Setup, pace: Pace | None = None) -> tuple[Array, Array]:
    """Channels at `setup` and their change per +1 click of each setting (settings, channels)."""
    here = np.array([setup[s.key] for s in car.settings])
    around = np.array([_neighbours(s, setup[s.key]) for s in car.settings])
    n = len(here)
    rows = np.tile(here, (2 * n + 1, 1))
    own = np.arange(n)
    rows[1 + 2 * own, own], rows[2 + 2 * own, own] = around[:, 0], around[:, 1]
    values = channels(car, track, rows, pace)
    return values[0], (values[2::2] - values[1::2]) / np.maximum(around[:, 2:], 1.0)


def _neighbours(setting: Setting, value: float) -> tuple[float, float, float]:
    """Values one click below and above, inside the range, and the clicks between them."""
    click = setting.click_of(value)
    low, high = max(click - 1, 0), min(click + 1, setting.last)
    return setting.value_at(low), setting.value_at(high), float(high - low)
