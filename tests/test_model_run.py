"""What a fuel run, a straight and wear do to the car, and whether the demo car is sound.

"Handbook" is trade material collected in our rule file; sources are named there."""

from typing import Any

import numpy as np
import pytest

from engine.car import Car
from engine.channels import CHANNELS
from engine.model import predict, rows_of
from engine.model_loads import weigh
from engine.model_values import values_of
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.track import Track
from engine.units import from_si, to_si

CAR, TRACK = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
BASE = CAR.base_setup()


def physics(car: Car, **changes: Any) -> Car:
    """The car with other physics values (SI)."""
    return car.model_copy(update={"physics": car.physics.model_copy(update=changes)})


def track(base: Track, **changes: Any) -> Track:
    """The track with other values (SI)."""
    return base.model_copy(update=changes)


def test_fuel_burn_moves_the_nose_as_the_trade_reckons() -> None:
    """Handbook section 3, arithmetic: 2,800 lb, 50/50, 10 gal of 6 lb from a cell 24 in behind the axle
    of a 105 in wheelbase: rear loses 74 lb, front gains 14, nose +1.6 points."""
    lb = to_si(1.0, "lbf")
    p = CAR.physics.model_copy(
        update={
            "mass": to_si(2800, "lb"),
            "wheelbase": to_si(105, "in"),
            "fuel_behind_axle": to_si(24, "in"),
            "fuel_density": to_si(6, "lb/gal"),
            "fuel_left": 0.0,
        }
    )
    full = values_of(
        CAR,
        rows_of(
            CAR, [{**BASE, "nose_weight": 50.0, "left_weight": 50.0, "cross_weight": 50.0, "fuel": 10.0}]
        ),
    )
    w = weigh(p, full, full, np.array([[[1.0], [0.0]]]))
    axle = np.stack((w.corner[0] + w.corner[1], w.corner[2] + w.corner[3]))[:, 0, :, 0] / lb
    assert axle[0, 1] - axle[0, 0] == pytest.approx(13.7, abs=0.05)
    assert axle[1, 1] - axle[1, 0] == pytest.approx(-73.7, abs=0.05)
    assert 100 * (w.axle[0, 0, 1, 0] - w.axle[0, 0, 0, 0]) == pytest.approx(1.6, abs=0.05)


@pytest.mark.parametrize(("cell_left_in", "falls"), [(0.0, False), (8.0, True)])
def test_cross_falls_as_fuel_burns_only_when_the_cell_is_on_the_left(
    cell_left_in: float, falls: bool
) -> None:
    """Handbook section 3, arithmetic: centred cell: nearly unchanged; cell to the left: LR loses more,
    cross falls."""
    p = CAR.physics.model_copy(update={"fuel_left": to_si(cell_left_in, "in")})
    v = values_of(CAR, rows_of(CAR, [BASE]))
    corner = weigh(p, v, v, np.array([[[1.0], [0.05]]])).corner[:, 0, :, 0]
    cross = 100 * (corner[1] + corner[2]) / corner.sum(axis=0)

    assert (cross[1] - cross[0] < -0.2) == falls
    if not falls:
        assert abs(cross[1] - cross[0]) < 0.15


def drift(car: Car, where: Track, phase: str) -> float:
    """Balance late in the run less balance at its start, feel."""
    got = predict(car, where, car.base_setup())
    return got[f"balance/{phase}/late"] - got[f"balance/{phase}/start"]


def test_more_right_rear_wear_makes_the_exit_looser_late_in_the_run() -> None:
    """Less grip at the rear late in the run (handbook: right-rear wear shows on the throttle)."""
    p = CAR.physics
    worse = physics(CAR, wear_rate=(*p.wear_rate[:3], 2 * p.wear_rate[3]))

    for phase in ("exit-first-throttle", "exit-full-throttle"):
        assert drift(worse, TRACK, phase) < drift(CAR, TRACK, phase) - 0.3


def test_a_harsh_track_wears_more_and_a_loose_car_wears_the_right_rear_more() -> None:
    """Handbook section 7 (common practice): harsher wear: start tighter to spare the right rear."""
    gentle, harsh = (predict(CAR, track(TRACK, wear=w), BASE) for w in ("gentle", "harsh"))
    tighter = predict(CAR, track(TRACK, wear="harsh"), {**BASE, "cross_weight": BASE["cross_weight"] + 1})

    assert harsh["wear/RR"] > 1.5 * gentle["wear/RR"]
    assert tighter["wear/RR"] < harsh["wear/RR"]
    assert tighter["wear-gap/right"] > harsh["wear-gap/right"]


def test_top_rpm_follows_speed_ratio_and_tyre() -> None:
    """rpm = mph * ratio * 336 / diameter (worked example I0: 336.135, identity)."""
    got = predict(CAR, TRACK, BASE)
    diameter = from_si(2 * CAR.physics.tyre_radius, "in")
    ratio = BASE["final_drive"] * BASE["gear_4"]

    assert got["top-rpm"] == pytest.approx(got["straight-speed"] * ratio * 336.135 / diameter, rel=1e-4)


def test_tape_heats_the_water_and_helps_the_straight() -> None:
    """Handbook 2.12 (P: S75, S76)."""
    taped, open_ = (predict(CAR, TRACK, {**BASE, "grille_tape": t}) for t in (80, 0))
    assert taped["water-temperature"] > open_["water-temperature"] + 20
    assert taped["straight-speed"] > open_["straight-speed"]


def test_the_base_set_up_of_the_default_pair_is_sound() -> None:
    """Near neutral to slightly tight, right-side wear within 4 % (common practice), water and revs inside
    their limits."""
    got = predict(CAR, TRACK, BASE)
    half = [got[c] for c in CHANNELS if c.startswith("balance") and c.endswith("half")]

    assert all(-0.1 < b < 0.6 for b in half)
    assert abs(got["wear-gap/right"]) < 4
    assert CAR.limits.water_temperature and got["water-temperature"] < CAR.limits.water_temperature
    assert CAR.limits.top_rpm and got["top-rpm"] < CAR.limits.top_rpm
    for tyre in ("LF", "RF", "LR", "RR"):
        assert abs(got[f"pressure-window/{tyre}"]) < CAR.limits.pressure_window
    for tyre in ("LF", "RF"):
        assert abs(got[f"camber-window/{tyre}"]) < CAR.limits.camber_window
