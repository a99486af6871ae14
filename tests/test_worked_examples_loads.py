"""Static loads, CG and fuel against published examples (reference rows A and L).

Ids carry the row and its status: seen = inputs and answer read in the source; in = inputs read, answer
recomputed (a fixture); mem = recalled from memory; BAD = the printed answer does not follow from its own
inputs."""

import numpy as np
import pytest

from engine.physics import fuel, loads
from engine.units import from_si, to_si

LEFT, RIGHT = 1364.0, 1191.0
"""Side weights, lb, of "The Hows and Whys of Cornerweights", groundcontrolstore.com."""


def test_a1_seen_corner_targets() -> None:
    """A1a-e seen, groundcontrolstore.com: fronts 52.8 and 49.0 % of their sides; target share 50.9 % of each
    side gives LF 694, RR 585, RF 606, LR 670 lb, diagonals 1279 and 1276 lb."""
    share, total = (0.528 + 0.490) / 2, LEFT + RIGHT
    cross = share * RIGHT + (1 - share) * LEFT

    lf, rf, lr, rr = loads.corners(total, share, LEFT / total, cross / total)

    assert share == pytest.approx(0.509)
    assert (lf, rf, lr, rr) == pytest.approx((694, 606, 670, 585), abs=0.5)
    assert (lf + rr, rf + lr) == pytest.approx((1279, 1276), abs=0.5)


def test_a1g_bad_nose_does_not_change_with_perches() -> None:
    """A1g BAD, same page: its unweighted mean of the two fronts drops the front axle by 3.3 lb, which
    perches cannot do. With nose and left kept, 50 % cross means LF 695.1 lb, not the page's 694.3."""
    total, front = LEFT + RIGHT, 0.528 * LEFT + 0.490 * RIGHT

    corner = loads.corners(total, front / total, LEFT / total, 0.5)

    assert front / total == pytest.approx(0.5103, abs=5e-5)
    assert corner[0] + corner[1] == pytest.approx(front)
    assert corner[0] == pytest.approx(695.1, abs=0.06)
    assert abs(corner[0] - 0.509 * LEFT) > 0.7


def test_a2_seen_cross() -> None:
    """A2 seen, savvycalculator.com/cross-weight-calculator: LR 600, RF 550 of 2500 lb is 46 %."""
    nose, left, cross = loads.shares(np.array([700.0, 550.0, 600.0, 650.0]))

    assert cross == pytest.approx(0.46)
    assert (nose, left) == pytest.approx((0.5, 0.52))


def test_a3_seen_cg_from_axles() -> None:
    """A3 seen, Jazar, Vehicle Dynamics (2008) Ex. 40 p. 41: 2000 and 1800 N per wheel on 2.34 m:
    a1 1.1084, a2 1.2316 m."""
    behind = loads.cg_behind_front(4000.0, 3600.0, 2.34)

    assert behind == pytest.approx(1.1084, abs=5e-5)
    assert 2.34 - behind == pytest.approx(1.2316, abs=5e-5)


def test_a4_mem_axles_from_cg() -> None:
    """A4 from memory, Jazar Ex. 39 p. 40: 890 kg, CG 0.78 m back of 2.35 m: 2916.5 and 1449 N per wheel."""
    front, rear = loads.axles(890 * 9.81, 0.78, 2.35)

    assert front / 2 == pytest.approx(2916.5, abs=0.5)
    assert rear / 2 == pytest.approx(1449, abs=0.5)


def test_a5_in_three_weighings() -> None:
    """A5 in (fixture), dajmannetje/Amazing-controller-RCcar parameters.m: means of three weighings, g;
    0.535 m."""
    lf, rf = np.mean([2855, 2873, 2875]), np.mean([2985, 2972, 2725])
    lr, rr = np.mean([3880, 3850, 3920]), np.mean([3814, 3834, 3909])
    corner = np.array([lf, rf, lr, rr])

    nose, left, cross = loads.shares(corner)

    assert (1 - nose, left, cross) == pytest.approx((0.5731, 0.5002, 0.5021), abs=5e-5)
    behind = loads.cg_behind_front(corner[:2].sum(), corner[2:].sum(), 0.535)
    assert behind == pytest.approx(0.3066, abs=5e-5)


def test_corners_and_shares_are_inverse() -> None:
    """Four scales have three shares and a total: no information lost (identity)."""
    corner = np.array([[810.0, 900.0], [700.0, 640.0], [820.0, 700.0], [760.0, 780.0]])
    nose, left, cross = loads.shares(corner)

    assert loads.corners(corner.sum(axis=0), nose, left, cross) == pytest.approx(corner)


def test_cg_to_right_is_the_moment_about_the_centreline() -> None:
    """Formula row of A (RCVD p.

    667-668 via chapter notes), unequal tracks, against the moments written out."""
    corner, tf, tr = np.array([900.0, 700.0, 800.0, 750.0]), 1.6, 1.5
    moment = (700 - 900) * tf / 2 + (750 - 800) * tr / 2

    assert loads.cg_to_right(corner, tf, tr) == pytest.approx(moment / 3150)


def test_cg_height_from_a_tilted_car() -> None:
    """Formula row of A (RCVD p. 668-671 via chapter notes):
    a rigid car tilted about its front hubs by geometry alone."""
    weight, wheelbase, behind, height, radius, tilt = 15000.0, 2.8, 1.35, 0.42, 0.33, np.radians(9.0)
    rise = height - radius
    level = weight * (wheelbase - behind) / wheelbase
    nose_down = behind * np.cos(tilt) - rise * np.sin(tilt)
    raised = weight * (1 - nose_down / (wheelbase * np.cos(tilt)))

    assert loads.cg_height(level, raised, weight, wheelbase, tilt, radius) == pytest.approx(height)


def test_l1_seen_fuel_weight() -> None:
    """L1 seen, buildingspeed.org 2015/10/02: 12 gal at 6.2 lb/gal weigh 74.4 lb;
    (in) 105 lb are 16.94 gal."""
    density = to_si(6.2, "lb/gal")

    assert from_si(density * to_si(12, "gal"), "lb") == pytest.approx(74.4)
    assert from_si(to_si(105, "lb") / density, "gal") == pytest.approx(16.94, abs=0.005)


def test_l2_seen_quarts() -> None:
    """L2 seen, buildingspeed.org 2011/06/10: 18.5 gal are 74 quarts (0.946352946 l each, NIST)."""
    assert from_si(to_si(18.5, "gal"), "l") / 0.946352946 == pytest.approx(74.0)


def test_l3_fixture_nose_after_the_burn() -> None:
    """L3 constructed by moments, no outside source: 2800 lb at 50 %, 108 in; 110 lb burnt 36 in behind:
    nose 53.41 %."""
    assert fuel.nose_after(2800.0, 0.5, 110.0, 36.0, 108.0) == pytest.approx(0.5341, abs=5e-5)
