"""Linear steady-state handling of a bicycle model.

Axle loads in N, axle cornering stiffness in N/rad, speeds in m/s."""

import numpy as np

from engine.physics.arrays import Array, Num


def understeer_gradient(front: Num, rear: Num, stiffness_front: Num, stiffness_rear: Num) -> Array:
    """Understeer gradient, rad per g: Wf/Cf - Wr/Cr, + = tight. Reference: Gillespie ch. 6; Wong, Theory of
    Ground Vehicles, ch. 5. Stiffness is per axle (twice one tyre's)."""
    return np.asarray(front / stiffness_front - rear / stiffness_rear)


def characteristic_speed(gradient: Num, wheelbase: Num, gravity: float) -> Array:
    """Speed at which a tight car needs twice the Ackermann steer, m/s: sqrt(g l/K), K in rad per g;
    NaN if K <= 0."""
    k = np.where(np.asarray(gradient) > 0, gradient, np.nan)
    return np.asarray(np.sqrt(gravity * wheelbase / k))


def critical_speed(gradient: Num, wheelbase: Num, gravity: float) -> Array:
    """Speed at which a loose car goes unstable, m/s: sqrt(-g l/K); NaN if K >= 0."""
    return characteristic_speed(-np.asarray(gradient), wheelbase, gravity)


def steer(radius: Num, lateral_g: Num, wheelbase: Num, gradient: Num) -> Array:
    """Steer of the front wheels, rad: l/R + K Ay. Reference: Gillespie ch. 6."""
    return np.asarray(np.asarray(wheelbase) / radius + gradient * lateral_g)


def static_margin(front_to_cg: Num, cg_to_rear: Num, stiffness_front: Num, stiffness_rear: Num) -> Array:
    """Neutral steer point behind the CG over the wheelbase: (b Cr - a Cf)/(l (Cf + Cr)). Reference: RCVD ch.

    5, via notes."""
    moment = cg_to_rear * stiffness_rear - front_to_cg * stiffness_front
    return np.asarray(moment / ((front_to_cg + cg_to_rear) * (stiffness_front + stiffness_rear)))
