"""Understeer gradient, turns and air against published examples (reference rows F, H and N).

Statuses as in test_worked_examples_loads."""

import numpy as np
import pytest

from engine.physics import aero, handling, turns
from engine.units import from_si, to_si


def test_f1_seen_bicycle_car() -> None:
    """F1 seen, RCVD notes ch. 5 sec. 12: 1000 kg, a 1.0, b 1.5 m, 80 kN/rad per axle."""
    gravity, mass, wheelbase, stiff = 9.81, 1000.0, 2.5, 80e3
    front, rear = mass * gravity * 1.5 / wheelbase, mass * gravity * 1.0 / wheelbase

    gradient = handling.understeer_gradient(front, rear, stiff, stiff)

    assert gradient / gravity / wheelbase == pytest.approx(0.001, abs=5e-6)
    assert np.degrees(gradient) == pytest.approx(1.405, abs=5e-4)
    assert handling.static_margin(1.0, 1.5, stiff, stiff) == pytest.approx(0.10)
    assert handling.characteristic_speed(gradient, wheelbase, gravity) == pytest.approx(31.62, abs=0.005)
    lateral = turns.pull_g(20.0, 100.0, gravity)
    assert lateral == pytest.approx(0.4077, abs=5e-5)
    assert handling.steer(100.0, lateral, wheelbase, gradient) == pytest.approx(0.035, abs=5e-5)


def test_f2_mem_tight_then_loose() -> None:
    """F2 from memory, Wong, Theory of Ground Vehicles ex. 5.1: 20.105 kN, 2.8 m, 53.5/46.5; kN/rad per tyre
    38.92 and 38.25: 0.016 rad, 41.5 m/s; with 47.82 in front -0.0097 rad, critical 53.2 m/s."""
    front, rear = 20105 * 0.535, 20105 * 0.465
    tight = handling.understeer_gradient(front, rear, 2 * 38920.0, 2 * 38250.0)
    loose = handling.understeer_gradient(front, rear, 2 * 47820.0, 2 * 38250.0)

    assert tight == pytest.approx(0.016, abs=5e-5)
    assert handling.characteristic_speed(tight, 2.8, 9.81) == pytest.approx(41.5, abs=0.05)
    assert loose == pytest.approx(-0.0097, abs=6e-5)
    assert handling.critical_speed(loose, 2.8, 9.81) == pytest.approx(53.2, rel=0.003)
    assert np.isnan(handling.characteristic_speed(loose, 2.8, 9.81))
    assert np.isnan(handling.critical_speed(tight, 2.8, 9.81))


def test_f3_in_imperial_car() -> None:
    """F3 in (fixture), askanewquestion.com 1867047 (statement):
    4520 lb, 10.5 ft, 55/45, 8750 and 8600 lb/rad per tyre."""
    gradient = handling.understeer_gradient(4520 * 0.55, 4520 * 0.45, 2 * 8750.0, 2 * 8600.0)

    assert gradient == pytest.approx(0.02380, abs=5e-6)
    assert handling.characteristic_speed(gradient, 10.5, 32.2) == pytest.approx(119.2, abs=0.05)


def test_f4_in_small_gradient() -> None:
    """F4 in (fixture), numerade.com olga-hogan-7347 (statement):
    1008 kg, 1.2 and 1.0 m, 117 and 145 kN/rad."""
    weight = 1008 * 9.81
    gradient = handling.understeer_gradient(weight * 1.0 / 2.2, weight * 1.2 / 2.2, 117e3, 145e3)

    assert np.degrees(gradient) == pytest.approx(0.0698, abs=5e-5)


def test_f_slopes_of_the_steer_curve() -> None:
    """Formula row of F (RCVD notes ch. 5 sec. 9):
    slope of steer against g is K at one radius, K + g l/V2 at one speed."""
    gradient, wheelbase, gravity, speed = 0.02, 2.7, 9.81, 30.0
    g = np.array([0.30, 0.31])
    one_radius = handling.steer(120.0, g, wheelbase, gradient)
    one_speed = handling.steer(speed**2 / (g * gravity), g, wheelbase, gradient)

    assert np.diff(one_radius) / 0.01 == pytest.approx([gradient])
    assert np.diff(one_speed) / 0.01 == pytest.approx([gradient + gravity * wheelbase / speed**2])


def test_h1_seen_flat_turn() -> None:
    """H1 seen, OpenStax College Physics 6.3: 900 kg, 25.0 m/s, 500 m flat: 1125 N, friction 0.13."""
    pull = turns.pull_g(25.0, 500.0, 9.80)

    assert 900 * 9.80 * pull == pytest.approx(1125)
    assert turns.friction_needed(pull) == pytest.approx(0.13, abs=0.005)


@pytest.mark.parametrize(
    ("friction", "radius", "bank", "gravity", "expected", "digits"),
    [
        pytest.param(0, 100, 65, 9.80, 45.8, 0.05, id="H2-seen-OpenStax-6.3"),
        pytest.param(0, 400, 10, 9.8, 26.29, 0.005, id="H3-seen-meritnation-9525801-optimum"),
        pytest.param(0.2, 400, 10, 9.8, 39.08, 0.03, id="H3-seen-meritnation-9525801-most-rounded-tan"),
        pytest.param(0, 300, 15, 9.8, 28.1, 0.05, id="H4-mem-NCERT-Physics-XI-optimum"),
        pytest.param(0.2, 300, 15, 9.8, 38.1, 0.05, id="H4-mem-NCERT-Physics-XI-most"),
        pytest.param(0, 100, 30, 9.8, 23.8, 0.05, id="H5-seen-zhenging-phys208a"),
        pytest.param(0.5, 15, -10, 9.81, 6.62, 0.005, id="H6-in-physicsforums-mehtab.252510-adverse"),
    ],
)
def test_h_speed_on_a_bank(
    friction: float, radius: float, bank: float, gravity: float, expected: float, digits: float
) -> None:
    """H2-H6, sources and statuses in the ids; the speed found needs exactly the friction given."""
    speed = turns.speed_at(friction, radius, np.radians(bank), gravity)

    assert speed == pytest.approx(expected, abs=digits)
    pull = turns.pull_g(speed, radius, gravity)
    assert turns.friction_needed(pull, np.radians(bank)) == pytest.approx(friction, abs=1e-9)


def test_h2_seen_in_km_h() -> None:
    """H2 seen, same: 45.8 m/s is 165 km/h."""
    speed = turns.speed_at(0.0, 100.0, np.radians(65.0), 9.80)

    assert from_si(float(speed), "km/h") == pytest.approx(165, abs=0.5)


def test_n1_seen_downforce_for_a_turn() -> None:
    """N1 seen, RCVD p. 521 via notes ch. 15: 2500 lb, friction 1.3, 1.7 g: 769 lbf, 15.4 lb/ft2 on 50 ft2."""
    need = aero.downforce_for(2500.0, 1.7, 1.3)

    assert need == pytest.approx(769, abs=0.5)
    assert need / 50 == pytest.approx(15.4, abs=0.05)


def test_n2_seen_drag_lifts_the_nose() -> None:
    """N2 seen, RCVD pp. 503-510 via notes ch. 15:
    95 lbf at 4.75 ft on 7.5 ft takes 60 lbf off the front axle."""
    assert aero.front_load_lost(95.0, 4.75, 7.5) == pytest.approx(60, abs=0.5)


def test_n3_seen_power_of_drag() -> None:
    """N3 seen, RCVD p. 494 via notes ch. 15: 128 lbf at 140 mph is 48 hp."""
    power = aero.drag_power(to_si(128, "lbf"), to_si(140, "mph"))

    assert from_si(float(power), "hp") == pytest.approx(48, abs=0.5)


def test_air_force_of_a_known_area() -> None:
    """Dynamic pressure by hand: 1.2 kg/m3 at 50 m/s is 1500 Pa, on 0.8 m2 1200 N."""
    assert aero.force(0.8, 50.0, 1.2) == pytest.approx(1200)


def test_speed_after_a_straight_against_small_steps() -> None:
    """Constant power against drag, closed form against m u du = (P/u - k u2) ds stepped by Heun's method."""
    power, area, mass, density, distance = 400e3, 0.9, 1560.0, 1.2, 350.0
    k, speed, step = density * area / 2, 40.0, 0.05
    for _ in range(round(distance / step)):
        slope = (power / speed - k * speed**2) / (mass * speed)
        ahead = speed + slope * step
        after = (power / ahead - k * ahead**2) / (mass * ahead)
        speed += (slope + after) / 2 * step

    assert aero.speed_after(40.0, power, area, mass, distance, density) == pytest.approx(speed, rel=1e-6)
