"""Tyre curve and understeer gradient against commonroad-vehicle-models 3.0.2 (BSD-3): its lateral Magic
Formula and its single-track car, both run here."""

import numpy as np
import pytest
from vehiclemodels.utils.tire_model import formula_lateral
from vehiclemodels.vehicle_dynamics_st import vehicle_dynamics_st
from vehiclemodels.vehicle_parameters import setup_vehicle_parameters

from engine.physics import handling, transfer, tyre

GRAVITY = 9.81
SLIPS = np.array([0.02, 0.05, 0.10, 0.20])


@pytest.mark.parametrize("load", [2000.0, 4000.0, 6000.0])
def test_lateral_magic_formula(load: float) -> None:
    """Our Magic Formula with the package's coefficients is the package's side force, to rounding. Its frozen
    values at 4000 N: 1654.784, 3260.484, 4092.169, 4159.960 N; 2000 and 6000 N exactly half and one and a
    half times."""
    t = setup_vehicle_parameters(vehicle_id=2).tire
    t.p_hy1 = t.p_hy3 = t.p_vy1 = t.p_vy3 = 0.0
    d, c = t.p_dy1 * load, t.p_cy1

    ours = tyre.magic(-SLIPS, t.p_ky1 * load / (c * d), c, d, t.p_ey1)

    assert ours == pytest.approx([formula_lateral(-a, 0.0, load, t)[0] for a in SLIPS], rel=1e-12)
    assert ours == pytest.approx(np.array([1654.784, 3260.484, 4092.169, 4159.960]) * load / 4000, abs=7.5e-4)


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.parametrize("forward", [-2.0, 0.0, 2.0])
def test_understeer_gradient_of_the_single_track_car(number: int, forward: float) -> None:
    """Steer for a turn of the package's linear car, its axle stiffness going with load: l/R + K Ay with our
    K. Braking makes it loose, driving tight, coasting neutral (its stiffness per load is the same at both
    ends)."""
    p = setup_vehicle_parameters(vehicle_id=number)
    wheelbase, weight, speed, steer = p.a + p.b, p.m * GRAVITY, 25.0, 0.02
    yaw, _ = steady_single_track(p, speed, steer, forward)
    still = np.array([weight * p.b, weight * p.a]) / wheelbase
    moved = transfer.longitudinal(weight, forward / GRAVITY, p.h_s, wheelbase)
    stiff = -p.tire.p_ky1 * (still + np.array([-1.0, 1.0]) * moved)

    gradient = handling.understeer_gradient(still[0], still[1], stiff[0], stiff[1])

    assert np.sign(np.round(gradient, 9)) == np.sign(forward)
    made = handling.steer(speed / yaw, speed * yaw / GRAVITY, wheelbase, gradient)
    assert made == pytest.approx(steer, rel=1e-9)


def steady_single_track(p: object, speed: float, steer: float, forward: float) -> tuple[float, float]:
    """Yaw rate and slip angle at which the linear car's yaw and slip rates vanish."""

    def rates(yaw: float, slip: float) -> list[float]:
        state = [0.0, 0.0, steer, speed, 0.0, yaw, slip]
        return list(vehicle_dynamics_st(state, [0.0, forward], p)[5:7])

    rest = np.array(rates(0.0, 0.0))
    slopes = np.stack((np.array(rates(1.0, 0.0)) - rest, np.array(rates(0.0, 1.0)) - rest), axis=1)
    yaw, slip = np.linalg.solve(slopes, -rest)
    return float(yaw), float(slip)
