"""Package and carry-over: the balance is held with the fewest changes, or honestly only in part; limits
always."""

import random

import numpy as np
import pytest

from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.model import channels, find_pace, rows_of
from engine.response import Array
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, at_track, shipped_cars, shipped_tracks
from engine.style import RACE
from engine.tools.aim import bands, over_limits
from engine.tools.carrying import OWN, carry_over
from engine.tools.holding import Held
from engine.tools.package import package

TRACKS, CARS = shipped_tracks(), shipped_cars()
TRACK = TRACKS[DEFAULT_TRACK]
CAR = at_track(CARS[DEFAULT_CAR], TRACK)
LEVERS = (
    "front_bar",
    "cross_weight",
    "nose_weight",
    "spring_rf",
    "spring_rr",
    "track_bar_right",
    "left_weight",
)


def near(car: Car, dice: random.Random) -> Setup:
    """The base set-up with four settings a click or two away."""
    setup = car.base_setup()
    for setting in dice.sample([s for s in car.settings if s.key != "fuel"], 4):
        now = setting.click_of(setting.base)
        setup[setting.key] = setting.value_at(max(0, min(setting.last, now + dice.choice((-2, -1, 1, 2)))))
    return setup


def check_held(car: Car, track_id: str, held: Held) -> None:
    """On the sheet, and every balance number that is not in its band is listed with its size."""
    track = TRACKS[track_id]
    assert car.complete(held.setup) == held.setup
    now = channels(car, track, rows_of(car, [held.setup]), find_pace(car, track))[0][: len(BALANCE)]
    error = now - held.goal
    off = {c: e for c, e, band in zip(BALANCE, error, bands(), strict=True) if abs(e) > band + 1e-6}
    assert dict(held.off) == pytest.approx(off, abs=1e-9)
    assert held.met is (not off)


@pytest.mark.parametrize("seed", range(84))
def test_package_keeps_the_balance_or_says_what_is_left(seed: int) -> None:
    dice = random.Random(seed)
    setup = near(CAR, dice)
    setting = CAR.setting(LEVERS[seed % len(LEVERS)])
    now = setting.click_of(setup[setting.key])
    asked = setting.value_at(max(0, min(setting.last, now + dice.choice((-2, -1, 1, 2)))))

    held = package(CAR, TRACK, setup, {setting.key: asked})
    check_held(CAR, TRACK.id, held)
    assert held.setup[setting.key] == asked
    assert held.proved
    if seed % 12 == 0:
        assert package(CAR, TRACK, setup, {setting.key: asked}).setup == held.setup


@pytest.mark.parametrize("seed", range(20))
def test_carry_over_keeps_the_balance_or_says_what_is_left(seed: int) -> None:
    dice = random.Random(seed)
    first, second = dice.sample(sorted(CARS), 2)
    track = TRACKS[("stonecup", "millpond", "longmeadow")[seed % 3]]
    a, b = at_track(CARS[first], track), at_track(CARS[second], track)

    carried = carry_over(a, near(a, dice), b, track)
    check_held(b, track.id, carried.held)
    for one in carried.clipped:
        assert carried.start[one.setting] == one.got
    assert outside(carried.held.after, carried.held) <= outside(carried.held.before, carried.held) + 1e-9
    assert carried.held.met, carried.held.off
    assert over_limits(b, RACE, carried.held.after[None])[0] == pytest.approx(0.0, abs=1e-6)


def outside(row: Array, held: Held) -> float:
    """How far the balance at half fuel is outside its bands in all, feel."""
    return float(np.maximum(0.0, np.abs(row[5:10] - held.goal[5:10]) - bands()[5:10]).sum())


def test_the_same_car_carries_over_to_itself_unchanged() -> None:
    """Its own gears, tape and fuel are its base; all else is kept and nothing has to pay."""
    setup = near(CAR, random.Random(1)) | {k: CAR.setting(k).base for k in OWN if k in CAR.by_key}

    carried = carry_over(CAR, setup, CAR, TRACK)
    assert carried.clipped == () and carried.held.setup == setup and carried.held.met


def test_carry_over_answers_the_same_twice() -> None:
    a, b = (at_track(CARS[key], TRACK) for key in ("tern-premier", "tern-club"))

    first, second = (carry_over(a, near(a, random.Random(3)), b, TRACK) for _ in range(2))
    assert first.held.setup == second.held.setup and first.clipped == second.clipped
