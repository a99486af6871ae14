"""Tyres, their air and stagger against published examples (reference rows E, J and K).

Statuses as in test_worked_examples_loads."""

import numpy as np
import pytest

from engine.model_linear import PEAK_AT
from engine.physics import gas, stagger, tyre
from engine.sheets import DEFAULT_CAR, shipped_cars
from engine.units import from_si, to_si

MEASURED_LOAD = np.array([900.0, 1350.0, 1800.0])
MEASURED_GRIP = np.array([1.10, 1.08, 0.97])
"""E1 seen: RCVD fig. 2.9 as quoted in Wikipedia, Tire load sensitivity (lbf, peak side force over load)."""
BAKKER = (-22.1, 1011.0, 1078.0, 1.82, 0.208, 0.0, -0.354, 0.707)
"""E2 coefficients seen: n-jokic/Vehicle_MPC_control src/simulink/pacajeka_init.m."""


def fitted() -> tuple[float, float]:
    """Friction on a light load and limit load of the saturating peak nearest to the measured one (least
    squares)."""
    design = np.stack((np.ones(3), MEASURED_LOAD**2), axis=1)
    (a, b), *_ = np.linalg.lstsq(design, 1 / MEASURED_GRIP, rcond=None)
    return 1 / float(a), float(np.sqrt(a / b))


def test_e1_seen_saturating_peak_follows_measured_peaks() -> None:
    """E1 seen: the model's peak force stays within 4 % of the three measured peaks, and falls with load as
    they do."""
    grip, limit = fitted()

    made = tyre.peak_saturating(MEASURED_LOAD, grip, limit) / MEASURED_LOAD

    assert made == pytest.approx(MEASURED_GRIP, rel=0.04)
    assert np.all(np.diff(made) < 0)


def test_e1_computed_pair_loses_side_force() -> None:
    """E1 pair, computed from the seen table: 1350 + 1350 lbf hold 2916 lbf, 900 + 1800 hold 2736, 6.17 %
    less. The smooth fit cannot bend as sharply as the three readings: it keeps about half of the loss, and is
    within 2.5 % of both forces."""
    grip, limit = fitted()
    even = 2 * tyre.peak_saturating(1350.0, grip, limit)
    uneven = tyre.peak_saturating(np.array([900.0, 1800.0]), grip, limit).sum()

    assert pytest.approx(2916) == 2 * 1350 * 1.08
    assert pytest.approx(2736) == 900 * 1.10 + 1800 * 0.97
    assert even == pytest.approx(2916, rel=0.025)
    assert uneven == pytest.approx(2736, rel=0.025)
    assert 0.025 < 1 - uneven / even < 0.0617


def test_e1_seen_exponent_of_the_demo_tyre() -> None:
    """E1 seen, same article: peak force grows as load to the 0.7-0.9. Local exponent of the demo car's
    outside tyres, whose loads lie between 1600 and 2600 lbf."""
    car = shipped_cars()[DEFAULT_CAR].physics
    load = to_si(1, "lbf") * np.array([1600.0, 2100.0, 2600.0])
    peak = tyre.peak_saturating(np.stack((load * 0.999, load * 1.001)), car.grip, car.load_limit)

    exponent = np.diff(np.log(peak), axis=0)[0] / np.log(1.001 / 0.999)

    assert np.all((exponent > 0.7) & (exponent < 0.9))


def test_e2_coefficients_seen_table_mem() -> None:
    """E2: coefficients seen, table from memory (Bakker, Nyborg, Pacejka SAE 870421, Wong's tyre chapter): D
    within 1.2 %, BCD within 1.5 % of B, C, D at 2/4/6/8 kN; side force at 5 deg (in)."""
    load = np.array([2.0, 4.0, 6.0, 8.0])
    b, c, d, e = tyre.magic_lateral_1987(load, BAKKER)
    table = np.array([[0.244, 1.50, 1936], [0.239, 1.19, 3650], [0.164, 1.27, 5237], [0.112, 1.36, 6677]])

    assert d == pytest.approx(table[:, 2], rel=0.012)
    assert b * c * d == pytest.approx(table.prod(axis=1), rel=0.015)
    assert tyre.magic(5.0, b, c, d, e) == pytest.approx([1828.9, 3389.6, 4409.0, 4821.9], abs=0.05)


def test_e3_seen_normalised_curve() -> None:
    """E3, RCVD fig. 14.1 via notes ch. 14: coefficients and their product seen;
    curve in (fixture), peak 1 at 2.678."""
    slip = np.linspace(0.0, 6.0, 6001)
    curve = tyre.magic_normalised(slip)

    assert pytest.approx(1, abs=5e-4) == 0.714 * 1.40 * 1.0
    assert tyre.magic_normalised(np.array([0.5, 1, 2, 3, 5])) == pytest.approx(
        [0.4649, 0.7741, 0.9828, 0.9980, 0.9590], abs=5e-5
    )
    assert curve.max() == pytest.approx(1.0, abs=1e-6)
    assert slip[curve.argmax()] == pytest.approx(2.678, abs=2e-3)
    assert pytest.approx(2.678, abs=1e-9) == PEAK_AT


def test_e4_seen_slip_ratio() -> None:
    """E4 seen, RCVD notes ch. 2: 30 m/s, 0.30 m, 110 rad/s: slip 0.10; at 40 000 N per slip, 4000 N."""
    slip = tyre.slip_ratio(30.0, 0.30, 110.0)

    assert slip == pytest.approx(0.10)
    assert 40000 * slip == pytest.approx(4000)


def test_e5_identity_friction_ellipse() -> None:
    """E5 identity (RCVD notes ch. 2 sec. 5): 0.6 of the grip along leaves 0.8 across;
    nothing is left past it."""
    assert tyre.side_force_left(0.6 * 5000.0, 5000.0) == pytest.approx(0.8 * 5000)
    assert tyre.side_force_left(6000.0, 5000.0) == 0


@pytest.mark.parametrize(
    ("reference", "grip", "power", "load", "expected"),
    [
        pytest.param(800, 1.2, 0.9, (400, 800, 1200), (514.4513, 960, 1382.7809), id="pacejka-0.1.0"),
        pytest.param(3000, 1.2, 0.85, (1500, 3000, 4500), (1997.225, 3600, 5081.361), id="slipx-0.2.0"),
    ],
)
def test_e6_package_load_power_law(
    reference: float, grip: float, power: float, load: tuple[float, ...], expected: tuple[float, ...]
) -> None:
    """E6, values computed by third-party packages (named in the id): peak force as a power of load."""
    assert tyre.peak_power(np.array(load), grip, reference, power) == pytest.approx(expected, abs=5e-4)


def test_e6_package_magic_formula() -> None:
    """E6, computed by the pacejka 0.1.0 package: B 10, C 1.9, E 0.97 at 4000 N, 0.1 rad gives 3823.3684 N."""
    assert tyre.magic(0.1, 10.0, 1.9, 4000.0, 0.97) == pytest.approx(3823.3684, abs=5e-5)


def test_e6_package_friction_limits() -> None:
    """E6, computed by pacejka 0.1.0 (circle of 960 N) and slipx 0.2.0 (ellipse 4000 x 3000 N)."""
    assert tyre.clipped(900.0, 900.0, 960.0, 960.0) == pytest.approx((678.8225, 678.8225), abs=5e-5)
    assert tyre.clipped(3000.0, 3000.0, 4000.0, 3000.0) == pytest.approx((2400, 2400))
    assert tyre.clipped(300.0, 400.0, 960.0, 960.0) == pytest.approx((300, 400))


def test_j1_seen_absolute_pressure() -> None:
    """J1 seen, OpenStax College Physics 13.3: 7.00e5 Pa absolute from 18 to 35 C: 7.41e5 Pa."""
    hot = gas.hot_absolute(7.00e5, to_si(18, "degC"), to_si(35, "degC"))

    assert hot == pytest.approx(7.41e5, abs=500)


@pytest.mark.parametrize(
    ("hot", "expected"), [pytest.param(50, 18.7, id="J2-50F"), pytest.param(130, 23.9, id="J2-130F")]
)
def test_j2_seen_gauge_in_fahrenheit(hot: float, expected: float) -> None:
    """J2 seen, ftp.team.net fot/2002-07/msg00126: 20 psi at 70 F, atmosphere 14.7, zero at -460 F."""
    made = gas.hot_gauge(20.0, 70 + 460.0, hot + 460.0, atmosphere=14.7)

    assert made == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("cold", "from_c", "to_c", "atmosphere", "expected", "digits"),
    [
        pytest.param(658, 20, 60, 101.3, 761.66, 0.005, id="J3-seen-assignmentexpert-1507"),
        pytest.param(42.5, -16, 44.2, 14.7, 55.8986, 5e-5, id="J4-seen-physicsforums-320368"),
    ],
)
def test_j3_j4_seen_gauge_in_celsius(
    cold: float, from_c: float, to_c: float, atmosphere: float, expected: float, digits: float
) -> None:
    """J3, J4 seen (sources in the ids), zero taken at -273 C as they do."""
    made = gas.hot_gauge(cold, from_c + 273, to_c + 273, atmosphere=atmosphere)

    assert made == pytest.approx(expected, abs=digits)


def test_j5_bad_gauge_pressure_scaled() -> None:
    """J5 BAD, hlsn.net: 30 psi from 11 to 54 C; scaling the gauge pressure gives its 34.5, right is 36.8."""
    psi = to_si(1, "psi")
    hot = gas.hot_gauge(30 * psi, 284.0, 327.0) / psi

    assert hot == pytest.approx(36.8, abs=0.05)
    assert abs(hot - 34.5) > 2
    assert gas.cold_gauge(hot * psi, 284.0, 327.0) / psi == pytest.approx(30)


def test_k1_seen_natural_radius() -> None:
    """K1 seen, westernracing.com/TURNRADIUS: diameters 27.91 and 29.38 in on 60 in: 1140 in = 95 ft to the
    inner wheel (unrounded 1139.2)."""
    radius = stagger.free_radius(27.91, 29.38, 60.0)

    assert radius == pytest.approx(1139.2, abs=0.05)
    assert radius / 12 == pytest.approx(95, abs=0.5)


def test_k2_seen_rollouts() -> None:
    """K2 seen, circletrack.com ctrp_0405: 86 and 83.5 in are 2.5 in of stagger;
    (mine) 167 ft on a 60 in track."""
    inside, outside = 83.5, 86.0
    radius = stagger.free_radius(inside, outside, 60.0)

    assert radius / 12 == pytest.approx(167, abs=0.5)
    middle, rollout = radius + 30.0, (inside + outside) / 2
    assert stagger.for_radius(middle, 60.0, rollout) == pytest.approx(2.5)
    assert stagger.slip_apart(2.5, rollout, 60.0, middle) == pytest.approx(0, abs=1e-12)
    assert stagger.slip_apart(3.0, rollout, 60.0, middle) > 0
    assert from_si(to_si(2.5, "in"), "in") == pytest.approx(outside - inside)


def test_k3_seen_wheel_speeds() -> None:
    """K3 seen, RCVD pp. 734-735 via notes ch. 20: 30 ft, track 5 ft: the outer wheel runs 18.2 % faster."""
    assert stagger.speed_apart(30.0, 5.0) == pytest.approx(0.182, abs=5e-4)
