"""A base set-up for a car at a track, from nothing but the two sheets."""

import math

import numpy as np

from engine.alone import best_hot
from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS
from engine.model import channels, find_pace, rows_of
from engine.planning import INDEX
from engine.style import RACE, Style
from engine.tools.holding import Held, hold
from engine.tools.sweeps import gears, stagger, tape
from engine.track import Track
from grammar.intent import TYRES

__all__ = ["start"]

GOAL = 0.15
"""Feel aimed at in every phase at half fuel: neutral to slightly tight (common practice, no source)."""
RPM_ROOM, WATER_ROOM = 50.0, 5.0
"""How far inside the limiter and the water limit to stay, rpm and degF (common practice, no source)."""
EVEN = 2.0
"""Right-side wear gap to come back to when it is wider than the car's limit, % points (common practice, no
source)."""


def start(car: Car, track: Track, style: Style = RACE) -> Held:
    """Gears for the straight, tape for the water, stagger for the turn, pressures for the tyres; then the
    fewest changes
    that bring the balance to neutral or slightly tight and the wear gap within the limit."""
    setup = _pressed(car, track, _geared(car, track, car.base_setup()))
    now = channels(car, track, rows_of(car, [setup]), find_pace(car, track))[0]
    goal = np.full(len(BALANCE), GOAL + style.lean)
    gap = float(now[INDEX["wear-gap/right"]])
    others = {}
    if abs(gap) > car.limits.wear_gap and style.session != "qualifying":
        others["wear-gap/right"] = math.copysign(EVEN, gap) - gap
    return hold(car, track, setup, goal, frozenset({"stagger"} & set(car.by_key)), style, others)


def _geared(car: Car, track: Track, setup: Setup) -> Setup:
    """Final drive, tape and stagger by their own numbers, where the car has them."""
    found = dict(setup)
    if "final_drive" in car.by_key and car.limits.top_rpm is not None:
        found["final_drive"] = gears(car, track, found, car.limits.top_rpm - RPM_ROOM).value
    if "grille_tape" in car.by_key and car.limits.water_temperature is not None:
        found["grille_tape"] = tape(car, track, found, car.limits.water_temperature - WATER_ROOM).value
    if "stagger" in car.by_key and track.kind == "oval":
        found["stagger"] = stagger(car, track)[1]
    return found


def _pressed(car: Car, track: Track, setup: Setup) -> Setup:
    """Cold pressures so that the hot ones come near what each tyre likes at its load."""
    found = dict(setup)
    pace = find_pace(car, track)
    best = best_hot(car, track, setup, pace)
    now = dict(zip(CHANNELS, channels(car, track, rows_of(car, [setup]), pace)[0], strict=True))
    for tyre in TYRES:
        key = f"pressure_{tyre.lower()}"
        if key not in car.by_key or tyre not in best:
            continue
        setting, over = car.setting(key), float(now[f"pressure-window/{tyre}"])
        nearest = min(
            range(setting.last + 1), key=lambda click: abs(setting.value_at(click) - (setup[key] - over))
        )
        found[key] = setting.value_at(nearest)
    return found
