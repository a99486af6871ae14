"""Loads of the assembled chassis model and of the formulas against a four-wheel car computed by somebody
else.

Source: commonroad-vehicle-models 3.0.2 (Althoff and Würsching, BSD-3), multi-body model, see
tests/multibody.py. Tolerances are those at which the two models are known to agree: the outside one lets
gravity act on a smaller shift of the rolled CG (lever h - wheel radius instead of h over the roll axis),
which shows on soft cars."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from assembled import bar_diameter, loads_in, physics_with, values_with
from multibody import GRAVITY, Array, Turn, plain, steady_turn, vehicle

from engine.model_values import Values
from engine.physics import transfer
from engine.physics.transfer import Axle
from engine.units import G
from engine.vehicle import Physics

CARS = [pytest.param(1, id="Escort"), pytest.param(2, id="BMW-320i"), pytest.param(3, id="Vanagon")]
CENTRES = [pytest.param(0.05, 0.20, id="centres-05-20"), pytest.param(0.02, 0.30, id="centres-02-30")]
PRINTED = [
    pytest.param(1, 15.0, (4592.7, 2831.1, 2904.2, 1698.0), 0.5936, 2.40, id="Escort-15"),
    pytest.param(1, 20.0, (5226.0, 2194.3, 3338.3, 1267.4), 0.5942, 4.11, id="Escort-20"),
    pytest.param(2, 15.0, (3724.5, 2132.6, 3022.3, 1845.9), 0.5750, 2.40, id="BMW-15"),
    pytest.param(2, 20.0, (4364.9, 1485.4, 3498.7, 1376.2), 0.5757, 4.29, id="BMW-20"),
    pytest.param(3, 15.0, (5066.3, 2640.0, 4349.6, 2452.1), 0.5611, 1.79, id="Vanagon-15"),
    pytest.param(3, 20.0, (5994.3, 1695.5, 5087.1, 1731.0), 0.5616, 3.15, id="Vanagon-20"),
]


@cache
def solved(number: int, **changes: float) -> tuple[Any, Turn]:
    """A plain car (no contact-patch shift, no camber) at 16 m/s and 0.03 rad, about 0.3 g, solved to 1e-9."""
    p = plain(number, **changes)
    turn = steady_turn(p, 16.0, 0.03)
    assert turn.residual < 1e-9
    assert turn.load.sum() == pytest.approx(p.m * GRAVITY, abs=0.01)
    return p, turn


def sprung_height(p: Any) -> float:
    """Height of the sprung CG: the outside model sinks it by the tyres' static deflection."""
    share = p.b / (p.a + p.b)
    sunk = [(s * p.m_s + u) * GRAVITY / (2 * p.K_zt) for s, u in ((share, p.m_uf), (1 - share, p.m_ur))]
    return float(p.h_s - share * sunk[0] - (1 - share) * sunk[1])


def by_formula(p: Any, turn: Turn) -> transfer.Rolled:
    """The same car in `engine.physics.transfer`. Its K_ts is negative: a bar adds to the springs."""
    share = p.b / (p.a + p.b)
    front, rear = (
        Axle(t, z, s, k * t**2 / 2 - bar, p.K_zt * t**2 / 2, m * GRAVITY, p.R_w)
        for t, z, s, k, bar, m in (
            (p.T_f, p.h_raf, share, p.K_sf, p.K_tsf, p.m_uf),
            (p.T_r, p.h_rar, 1 - share, p.K_sr, p.K_tsr, p.m_ur),
        )
    )
    arm = transfer.roll_arm(sprung_height(p), front, rear)
    return transfer.roll(front, rear, p.m_s * GRAVITY, arm, abs(turn.lateral_g))


def as_product_car(p: Any) -> tuple[Physics, Values]:
    """The same car in the terms of the shipped chassis model: sheet physics and settings."""
    mass = p.m_s + p.m_uf + p.m_ur
    height = (p.m_s * sprung_height(p) + (p.m_uf + p.m_ur) * p.R_w) / mass
    physics = physics_with(
        mass=mass * GRAVITY / G,
        wheelbase=p.a + p.b,
        track_front=p.T_f,
        track_rear=p.T_r,
        spring_base_rear=p.T_r,
        cg_height=height,
        unsprung_front=p.m_uf * GRAVITY / G,
        unsprung_rear=p.m_ur * GRAVITY / G,
        unsprung_height=p.R_w,
        motion_ratio_front=1.0,
        motion_ratio_rear=1.0,
        roll_centre_front=p.h_raf,
        tyre_rate=p.K_zt,
    )
    front = p.m_s * p.b / (p.a + p.b) + p.m_uf
    settings = {
        "nose_weight": front / mass,
        "left_weight": 0.5,
        "cross_weight": 0.5,
        "spring_lf": p.K_sf,
        "spring_rf": p.K_sf,
        "spring_lr": p.K_sr,
        "spring_rr": p.K_sr,
        "front_bar": bar_diameter(
            -p.K_tsf, physics.bar_length_front, physics.bar_arm_front, physics.bar_ratio_front, p.T_f
        ),
        "rear_bar": bar_diameter(
            -p.K_tsr, physics.bar_length_rear, physics.bar_arm_rear, physics.bar_ratio_rear, p.T_r
        ),
        "track_bar_left": p.h_rar,
        "track_bar_right": p.h_rar,
    }
    return physics, values_with(settings)


def by_product(p: Any, turn: Turn, forward_g: float = 0.0) -> Array:
    """Loads of the shipped model's own load function in the same turn, the outside named left as there."""
    load = loads_in(*as_product_car(p), abs(turn.lateral_g), forward=forward_g)
    return np.asarray(load[[1, 0, 3, 2]])


def moved(load: Array) -> Array:
    """Transfer of both axles to the left."""
    return np.array([load[0] - load[1], load[2] - load[3]]) / 2


@pytest.mark.parametrize(("number", "speed", "loads", "share", "roll"), PRINTED)
def test_the_outside_car_is_solved(
    number: int, speed: float, loads: tuple[float, ...], share: float, roll: float
) -> None:
    """The steady turns of the cars as shipped, loads to the printed 0.1 N of the reference table."""
    turn = steady_turn(vehicle(number), speed, 0.03)

    assert turn.residual < 1e-9
    assert turn.load == pytest.approx(loads, abs=0.06)
    assert turn.front_share == pytest.approx(share, abs=6e-5)
    assert turn.roll == pytest.approx(roll, abs=6e-3)


@pytest.mark.parametrize("number", CARS)
def test_stiff_car_with_centres_at_ground(number: int) -> None:
    """Springs, bars and tyres x 100: both our ways within 0.2 % on each axle."""
    p, turn = solved(number, stiff=100.0, h_raf=0.0, h_rar=0.0)
    rolled = by_formula(p, turn)

    assert [rolled.front, rolled.rear] == pytest.approx(turn.moved, rel=0.002)
    assert moved(by_product(p, turn)) == pytest.approx(turn.moved, rel=0.002)


@pytest.mark.parametrize("number", CARS)
@pytest.mark.parametrize(("front", "rear"), CENTRES)
def test_stiff_car_with_raised_centres(number: int, front: float, rear: float) -> None:
    """Roll centres of 0.05/0.20 and 0.02/0.30 m, stiff: within 1.5 % on each axle."""
    p, turn = solved(number, stiff=100.0, h_raf=front, h_rar=rear)
    rolled = by_formula(p, turn)

    assert [rolled.front, rolled.rear] == pytest.approx(turn.moved, rel=0.015)
    assert moved(by_product(p, turn)) == pytest.approx(turn.moved, rel=0.015)


@pytest.mark.parametrize("number", CARS)
@pytest.mark.parametrize(("front", "rear"), [pytest.param(0.0, 0.0, id="centres-ground"), *CENTRES])
def test_soft_car(number: int, front: float, rear: float) -> None:
    """The cars at their real softness: within 8 % on each axle and 0.015 of front share."""
    p, turn = solved(number, h_raf=front, h_rar=rear)
    rolled = by_formula(p, turn)
    product = moved(by_product(p, turn))

    assert [rolled.front, rolled.rear] == pytest.approx(turn.moved, rel=0.08)
    assert transfer.front_share(rolled) == pytest.approx(turn.front_share, abs=0.015)
    assert product == pytest.approx(turn.moved, rel=0.08)
    assert product[0] / product.sum() == pytest.approx(turn.front_share, abs=0.015)


@pytest.mark.parametrize("number", CARS)
def test_product_and_formula_are_one(number: int) -> None:
    """The shipped load function is the formula:

    same transfers to rounding on a car with every term in play."""
    p, turn = solved(number, h_raf=0.05, h_rar=0.20)
    rolled = by_formula(p, turn)

    assert moved(by_product(p, turn)) == pytest.approx(np.array([rolled.front, rolled.rear]), rel=1e-9)


@pytest.mark.parametrize(
    ("bar", "outside", "analytic"),
    [
        pytest.param(0.0, 0.5178, 0.5209, id="no-bar"),
        pytest.param(5000.0, 0.5605, 0.5592, id="5000"),
        pytest.param(10000.0, 0.5941, 0.5898, id="10000"),
        pytest.param(20000.0, 0.6438, 0.6357, id="20000"),
        pytest.param(40000.0, 0.7045, 0.6929, id="40000"),
    ],
)
def test_front_bar_sweep(bar: float, outside: float, analytic: float) -> None:
    """BMW, no contact-patch shift, no camber, front bar in N m/rad:

    front share of both models as recorded."""
    p, turn = solved(2, K_tsf=-bar)
    product = moved(by_product(p, turn))

    assert turn.front_share == pytest.approx(outside, abs=6e-4)
    assert product[0] / product.sum() == pytest.approx(analytic, abs=6e-4)
    assert product[0] / product.sum() == pytest.approx(turn.front_share, abs=0.015)


def test_straight_line() -> None:
    """Escort x 100 gaining 2 m/s2: 608.91 N leave the front axle; ours within 0.06 % of that (the outside
    model puts the force at the height of the sprung CG)."""
    p = plain(1, stiff=100.0)
    turn = steady_turn(p, 20.0, 0.0, forward=2.0)
    still = (p.m_s * p.b / (p.a + p.b) + p.m_uf) * GRAVITY

    made = transfer.longitudinal(p.m * GRAVITY, 2.0 / GRAVITY, p.h_s, p.a + p.b)

    assert turn.residual < 1e-9
    assert still - turn.load[:2].sum() == pytest.approx(608.91, abs=0.05)
    assert still - turn.load[:2].sum() == pytest.approx(made, rel=6e-4)


def test_straight_line_of_the_product() -> None:
    """The shipped load function takes the same load off the front axle once its CG height is the outside
    model's choice."""
    p = plain(1, stiff=100.0)
    turn = steady_turn(p, 20.0, 0.0, forward=2.0)
    calm = replace(turn, lateral_g=0.0)
    lowered = by_product(p, calm, 2.0 / GRAVITY)[:2].sum() - by_product(p, calm)[:2].sum()
    height = (p.m_s * sprung_height(p) + (p.m_uf + p.m_ur) * p.R_w) / p.m

    assert lowered == pytest.approx(-608.91 * height / p.h_s, rel=6e-4)
