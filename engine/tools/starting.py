"""A base set-up for a car at a track, from nothing but the two sheets."""

import numpy as np

from engine.alone import best_hot
from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS
from engine.laying import NOT_FOR_BALANCE
from engine.model import Pace, channels, find_pace, rows_of
from engine.response import Array
from engine.style import RACE, Style
from engine.tools.aim import Price, make_cost
from engine.tools.descent import descend
from engine.tools.holding import Held, off_of
from engine.tools.solving import solve
from engine.tools.sweeps import gears, tape
from engine.track import Track
from grammar.intent import TYRES

__all__ = ["GOAL", "aim_of", "start"]

GOAL = 0.15
"""Feel aimed at in every phase: neutral to slightly tight (common practice, no source)."""
WEAR_LEAN = {"gentle": -0.1, "normal": 0.0, "harsh": 0.1}
"""A track that is hard on tyres wants a tighter start to spare the right rear (common practice, no
source)."""
FRESH_LEAN = -0.15
"""A qualifying run has no tyres to save and may be freer (common practice, no source)."""
RPM_ROOM, WATER_ROOM = 50.0, 5.0
"""How far inside the limiter and the water limit to stay, rpm and degF (common practice, no source)."""
AGAIN = 2
"""How often what is still outside its band is solved for again."""
APART = 0.003
"""Price of one setting a usual round's step from the sheet's own, for the lever reached for first
(judgement)."""


def aim_of(track: Track, style: Style) -> float:
    """The balance aimed at, feel, at the stage that counts."""
    return GOAL + style.lean + (FRESH_LEAN if style.session == "qualifying" else WEAR_LEAN[track.wear])


def start(car: Car, track: Track, style: Style = RACE) -> Held:
    """Gears for the straight, tape for the water, pressures for the tyres; then all settings at once by least
    squares, rounded, and down the full model click by click, to a balance that is neutral or slightly tight
    within the car's limits. What is still outside its band is solved for again from there.

    `before` is the sheet's own set-up; fewest changes is not asked for, only that what is usual costs
    nothing."""
    pace = find_pace(car, track)
    geared = _geared(car, track, car.base_setup())
    goal = np.full(len(BALANCE), aim_of(track, style))
    held = (frozenset(NOT_FOR_BALANCE) | {"grille_tape"}) & frozenset(car.by_key)
    cost = make_cost(car, goal, style, _apart(car))
    pressed = _pressed(car, track, geared, pace)
    first = [geared, pressed, solve(car, track, pressed, goal, held, pace, style)]
    costs = cost(channels(car, track, rows_of(car, first), pace), np.zeros((len(first), len(car.settings))))
    found = descend(car, track, first[int(costs.argmin())], held, cost, pace)
    before, after = channels(car, track, rows_of(car, [car.base_setup(), found]), pace)
    for _ in range(AGAIN):
        if not off_of(after, goal, style):
            break
        other = descend(car, track, solve(car, track, found, goal, held, pace, style), held, cost, pace)
        rows = channels(car, track, rows_of(car, [found, other]), pace)
        now, then = cost(rows, np.zeros((2, len(car.settings))))
        if then >= now:
            break
        found, after = other, rows[1]
    return Held(found, before, after, goal, off_of(after, goal, style), proved=False)


def _apart(car: Car) -> Price:
    """The price of being away from where the descent began: by the square of usual steps, dearer for levers
    the trade reaches for last."""
    weight = np.ones(len(car.settings))
    index = {s.key: i for i, s in enumerate(car.settings)}
    for move in car.moves:
        if len(move.parts) == 1:
            weight[index[next(iter(move.parts))]] = move.reach / move.cap**2

    def price(clicks: Array) -> Array:
        return np.asarray(APART * clicks**2 @ weight)

    return price


def _geared(car: Car, track: Track, setup: Setup) -> Setup:
    """Final drive and tape by their own numbers, where the car has them."""
    found = dict(setup)
    if "final_drive" in car.by_key and car.limits.top_rpm is not None:
        found["final_drive"] = gears(car, track, found, car.limits.top_rpm - RPM_ROOM).value
    if "grille_tape" in car.by_key and car.limits.water_temperature is not None:
        found["grille_tape"] = tape(car, track, found, car.limits.water_temperature - WATER_ROOM).value
    return found


def _pressed(car: Car, track: Track, setup: Setup, pace: Pace) -> Setup:
    """Cold pressures so that the hot ones come near what each tyre likes at its load."""
    found = dict(setup)
    best = best_hot(car, track, setup, pace)
    now = dict(zip(CHANNELS, channels(car, track, rows_of(car, [setup]), pace)[0], strict=True))
    for tyre in TYRES:
        key = f"pressure_{tyre.lower()}"
        if key not in car.by_key or tyre not in best:
            continue
        setting, wanted = car.setting(key), setup[key] - float(now[f"pressure-window/{tyre}"])
        values = [setting.value_at(click) for click in range(setting.last + 1)]
        found[key] = min(values, key=lambda value, wanted=wanted: abs(value - wanted))  # type: ignore[misc]
    return found
