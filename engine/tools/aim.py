"""What a set-up is brought to, as one number to descend on: the balance in its bands, the car's limits, and
a price for what differs from where it began."""

from collections.abc import Callable

import numpy as np

from engine.car import Car, Limits
from engine.channels import BALANCE, CHANNELS
from engine.response import Array
from engine.style import Style
from engine.task import INDEX, SCALE
from engine.tools.descent import Cost
from grammar.intent import PHASES, STAGES, TYRES

__all__ = ["BAND", "STAGE_BAND", "Price", "bands", "make_cost", "over_limits", "windows"]

BAND = 0.35
"""How far from the goal the balance may stay, feel (the engine's own side band)."""
STAGE_BAND = 1.5
"""The other stages of the run may stay this many bands from the goal: they drift with wear and fuel, which
is not set by the balance alone (judgement)."""
COUNTS, DRIFT, OUTSIDE, NEARER, LIMIT = 50.0, 20.0, 0.3, 0.02, 1000.0
"""Cost of one squared feel beyond the share of the band aimed for, at the stage that counts and at the
others; of one channel outside its band; of one squared feel from the goal; of one squared scale unit over a
limit. A limit comes before the balance, the balance before the
drift (judgement)."""
INSIDE, MARGIN = 0.7, 0.05
"""Share of the band aimed for, and scale units to stay inside a limit, so that the end stays in both."""
FELT = len(BALANCE)
Price = Callable[[Array], Array]
"""Clicks from the start [n, settings] → price [n]."""


def bands(stage: str = "half") -> Array:
    """How far from the goal each balance channel may stay, feel; `stage` is the one that counts."""
    return np.array([BAND if s == stage else BAND * STAGE_BAND for s in STAGES for _ in PHASES])


def windows(limits: Limits, style: Style) -> tuple[Array, Array]:
    """Lowest and highest value of every channel the car's limits allow."""
    low, high = np.full(len(CHANNELS), -np.inf), np.full(len(CHANNELS), np.inf)
    sides = {f"pressure-window/{tyre}": limits.pressure_window for tyre in TYRES}
    sides |= {f"camber-window/{tyre}": limits.camber_window for tyre in ("LF", "RF")}
    if style.session != "qualifying":
        sides["wear-gap/right"] = limits.wear_gap
    for channel, most in sides.items():
        low[INDEX[channel]], high[INDEX[channel]] = -most, most
    for axle in ("front", "rear"):
        low[INDEX[f"lockup-margin/{axle}"]] = limits.lockup_margin
    for channel, top in (("water-temperature", limits.water_temperature), ("top-rpm", limits.top_rpm)):
        if top is not None:
            high[INDEX[channel]] = top
    return low, high


def over_limits(car: Car, style: Style, rows: Array, margin: float = 0.0) -> Array:
    """How far each channel [n, channels] is outside the car's limits less a margin (scale units), in its
    own unit, 0 inside."""
    low, high = windows(car.limits, style)
    room = margin * SCALE
    return np.asarray(np.maximum(0.0, rows - high + room) + np.maximum(0.0, low + room - rows))


def make_cost(car: Car, goal: Array, style: Style, price: Price) -> Cost:
    """The cost of channels on the way to `goal` [15]."""
    wide = bands(style.stage)
    counts = np.array([s == style.stage for s in STAGES for _ in PHASES])
    weight = np.where(counts, COUNTS, DRIFT)

    def cost(rows: Array, clicks: Array) -> Array:
        error = np.abs(rows[:, :FELT] - goal)
        beyond = np.maximum(0.0, error - INSIDE * wide) ** 2 @ weight
        outside = OUTSIDE * (error > wide).sum(axis=1)
        over = (over_limits(car, style, rows, MARGIN) / SCALE) ** 2
        near = NEARER * (error[:, counts] ** 2).sum(axis=1)
        return np.asarray(beyond + outside + near + LIMIT * over.sum(axis=1) + price(clicks))

    return cost
