"""How the channels move when a move is made: central differences on the model, all set-ups in one call."""

from collections.abc import Sequence

import numpy as np

from engine.car import Car, Move, Setting, Setup
from engine.channels import BALANCE, CHANNELS
from engine.model import channels, find_pace
from engine.model_values import Array
from engine.response import Response
from engine.track import Track

MODEL_SD = 0.35
"""Relative standard deviation of a model effect (design figure: a car differs from its model by about a third)."""
MODEL_FLOOR = 0.05
"""Smallest standard deviation of a balance effect, feel per click."""


def respond(car: Car, track: Track, setup: Setup, moves: Sequence[Move] | None = None) -> Response:
    """What +1 click of each move does at `setup`; `moves` default to the car's own."""
    chosen = tuple(car.moves if moves is None else moves)
    base, slope = slopes(car, track, setup)
    index = {s.key: i for i, s in enumerate(car.settings)}
    step = np.zeros((len(chosen), len(CHANNELS)))
    for row, move in enumerate(chosen):
        for key, clicks in move.parts.items():
            step[row] += clicks * slope[index[key]]
    floor = np.array([MODEL_FLOOR if c in BALANCE else 0.0 for c in CHANNELS])
    sd = np.hypot(MODEL_SD * np.abs(step), floor)
    none = np.full_like(step, np.nan)
    return Response(chosen, base, step, sd, step, none, np.ones_like(step), tuple(() for _ in chosen))


def slopes(car: Car, track: Track, setup: Setup) -> tuple[Array, Array]:
    """Channels at `setup` and their change per +1 click of each setting (settings, channels)."""
    here = np.array([setup[s.key] for s in car.settings])
    n = len(here)
    rows = np.tile(here, (2 * n + 1, 1))
    width = np.empty(n)
    for i, setting in enumerate(car.settings):
        low, high = _neighbours(setting, setup[setting.key])
        rows[1 + 2 * i, i], rows[2 + 2 * i, i] = low, high
        width[i] = 1.0 if setting.choices is None else 2.0 if low < here[i] < high else 1.0
        if setting.step is not None:
            width[i] = (high - low) / setting.step
    values = channels(car, track, rows, find_pace(car, track))
    return values[0], (values[2::2] - values[1::2]) / width[:, None]


def _neighbours(setting: Setting, value: float) -> tuple[float, float]:
    """One click below and above, inside the range."""
    click = setting.click_of(value)
    return setting.value_at(max(click - 1, 0)), setting.value_at(min(click + 1, setting.last))
