"""How the channels move when a move is made: central differences on the model, all set-ups in one call."""

from collections.abc import Sequence

import numpy as np

from engine.car import Car, Move, Setting, Setup
from engine.channels import BALANCE, CHANNELS
from engine.model import Pace, channels
from engine.model_values import Array
from engine.response import Response
from engine.rules import Effects, effects
from engine.track import Track
from grammar.intent import STAGES

MODEL_DOUBT = 0.35
"""Standard deviation of a model effect over its size (judgement: a car differs from its model by about a
third)."""
MODEL_FLOOR = 0.03
"""Smallest standard deviation of a model effect on balance, feel per click."""


def respond(
    car: Car, track: Track, setup: Setup, moves: Sequence[Move] | None = None, pace: Pace | None = None
) -> Response:
    """What +1 click of each move does at `setup`; `moves` default to the car's own.

    Model and rules of thumb are combined per setting, weighted by the inverse of their variances; a move
    is the sum of its parts."""
    chosen = tuple(car.moves if moves is None else moves)
    base, slope, bend = curves(car, track, setup, pace)
    said = effects(car, track)
    step, sd = combine(slope, said)
    parts = _parts(car, chosen)
    named = {s.key: keys for s, keys in zip(car.settings, said.sources, strict=True)}
    sources = tuple(tuple(dict.fromkeys(k for part in m.parts for k in named[part])) for m in chosen)
    total = parts @ step
    return Response(
        chosen,
        base,
        total,
        np.sqrt(parts**2 @ sd**2),
        parts @ slope,
        _rule_part(parts, said),
        np.ones_like(total),
        sources,
        parts**2 @ bend,
    )


def combine(slope: Array, said: Effects) -> tuple[Array, Array]:
    """Model and rules together: mean and standard deviation per click (settings, channels)."""
    mean, sd = slope.copy(), MODEL_DOUBT * np.abs(slope)
    felt = slice(0, len(BALANCE))
    variance = sd[:, felt] ** 2 + MODEL_FLOOR**2
    spoken = np.isfinite(said.step)
    doubt = np.tile(np.where(spoken, said.sd, np.inf), len(STAGES))
    weight = variance / (variance + doubt**2)
    mean[:, felt] += weight * (np.tile(np.where(spoken, said.step, 0.0), len(STAGES)) - mean[:, felt])
    sd[:, felt] = np.sqrt(variance * (1 - weight))
    return mean, sd


def _rule_part(parts: Array, said: Effects) -> Array:
    """What the rules alone say of each move (moves, channels), NaN where none of its parts is spoken of."""
    spoken = np.isfinite(said.step)
    summed = parts @ np.where(spoken, said.step, 0.0)
    summed[np.abs(parts) @ spoken == 0] = np.nan
    made = np.full((len(parts), len(CHANNELS)), np.nan)
    made[:, : len(BALANCE)] = np.tile(summed, len(STAGES))
    return made


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
    base, slope, _ = curves(car, track, setup, pace)
    return base, slope


def curves(car: Car, track: Track, setup: Setup, pace: Pace | None = None) -> tuple[Array, Array, Array]:
    """Channels at `setup`, their change per +1 click of each setting (settings, channels), and half the
    second difference; at the end of a range, where there is none, 0."""
    here = np.array([setup[s.key] for s in car.settings])
    around = np.array([_neighbours(s, setup[s.key]) for s in car.settings])
    n = len(here)
    rows = np.tile(here, (2 * n + 1, 1))
    own = np.arange(n)
    rows[1 + 2 * own, own], rows[2 + 2 * own, own] = around[:, 0], around[:, 1]
    values = channels(car, track, rows, pace)
    apart = around[:, 2:]
    bend = np.where(apart > 1.5, values[2::2] / 2 + values[1::2] / 2 - values[0], 0.0)
    return values[0], (values[2::2] - values[1::2]) / np.maximum(apart, 1e-9), bend


def _neighbours(setting: Setting, value: float) -> tuple[float, float, float]:
    """Values one click below and above, inside the range, and the clicks between them."""
    if setting.step is not None:
        low, high = max(value - setting.step, setting.min), min(value + setting.step, setting.max)
        return low, high, (high - low) / setting.step
    click = setting.click_of(value)
    down, up = max(click - 1, 0), min(click + 1, setting.last)
    return setting.value_at(down), setting.value_at(up), float(up - down)
