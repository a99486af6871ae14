"""Load transfer along and across the car. Weights in one unit of force, lengths in one unit of length."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from engine.physics.arrays import Array, Num

Gravity = Literal["shift", "resisted", "none"]
"""What the sideways shift of the rolled CG does. Textbooks differ:

`shift`: the shifted weight adds to the moment and reaches the tyres (Barton & Fieldhouse 2018 p. 174);
`resisted`: it adds to roll, but each axle's part of it is taken off its stiffness again, so that the
transfers sum to W Ay h (RCVD ch. 18, K' = K - share W h2, via chapter notes); `none`: no gravity term (RCVD
ch. 16 simple form)."""


@dataclass(frozen=True, slots=True)
class Axle:
    """One end of the car as roll sees it."""

    track: Num
    roll_centre: Num  # height over the ground
    share: Num  # of the sprung weight
    stiffness: Num  # springs and bar in roll, N m/rad
    tyres: Num = np.inf  # tyres in roll, N m/rad; infinite = rigid
    unsprung: Num = 0.0  # weight
    unsprung_height: Num = 0.0


@dataclass(frozen=True, slots=True)
class Rolled:
    """Steady roll: load moved from left to right tyre at each end, and body roll to the right in rad."""

    front: Array
    rear: Array
    roll: Array


def longitudinal(weight: Num, forward_g: Num, height: Num, wheelbase: Num) -> Array:
    """Load moved from the front to the rear axle: W ax h/l (+ when speeding up). Reference: Gillespie,
    Fundamentals of Vehicle Dynamics (1992), ch. 1."""
    return np.asarray(weight * forward_g * height / wheelbase)


def lateral(weight: Num, lateral_g: Num, height: Num, track: Num) -> Array:
    """Load moved from inside to outside: W Ay h/t. Reference: RCVD pp. 678-679, via chapter notes. With a
    height of a roll centre it is the geometric part, with an axle's own height the unsprung part."""
    return np.asarray(weight * lateral_g * height / track)


def in_series(suspension: Num, tyres: Num) -> Array:
    """Roll stiffness of suspension and tyres in series: K Kt/(K + Kt). Reference: RCVD pp.

    592-600, via chapter notes."""
    return np.asarray(suspension / (1 + np.asarray(suspension) / tyres))


def geometric_moment(axle: Axle, sprung_weight: Num, lateral_g: Num) -> Array:
    """Moment on the tyres that does not roll the body on its springs: roll centre and unsprung weight, N m.

    Reference: Barton & Fieldhouse (2018) p. 174."""
    sprung = sprung_weight * axle.share * axle.roll_centre
    return np.asarray((sprung + axle.unsprung * axle.unsprung_height) * lateral_g)


def roll_arm(cg_height: Num, front: Axle, rear: Axle) -> Array:
    """Height of the sprung CG over the roll axis at the CG: h - (share_f z_f + share_r z_r)."""
    return np.asarray(cg_height - front.share * front.roll_centre - rear.share * rear.roll_centre)


def roll(
    front: Axle,
    rear: Axle,
    sprung_weight: Num,
    arm: Num,
    lateral_g: Num,
    normal_g: Num = 1.0,
    gravity: Gravity = "shift",
) -> Rolled:
    """Transfers of a car in a steady turn, body and two axles rolling. `normal_g` scales weight across a
    banked track.

    Axle i:    E_i = Ks_i (phi - psi_i),  psi_i = (E_i + G_i)/Kt_i,  transfer_i = (E_i + G_i)/t_i
    body:      E_f + E_r = W arm (Ay + An phi)
    with G_i the geometric moment, psi_i the axle's roll on its tyres. Reference: RCVD ch. 16 and 18 via
    chapter notes (rigid tyres); the axle roll is the same balance with one more angle, checked against a
    multi-body car in tests/test_commonroad.py."""
    moved = [geometric_moment(axle, sprung_weight, lateral_g) for axle in (front, rear)]
    stiff = [in_series(axle.stiffness, axle.tyres) for axle in (front, rear)]
    tilt = [k * g / axle.tyres for k, g, axle in zip(stiff, moved, (front, rear), strict=True)]
    weight_arm = np.asarray(sprung_weight * normal_g * arm)
    lost = weight_arm if gravity != "none" else np.zeros_like(weight_arm)
    phi = (sprung_weight * lateral_g * arm + tilt[0] + tilt[1]) / (stiff[0] + stiff[1] - lost)
    back = lost if gravity == "resisted" else np.zeros_like(weight_arm)
    made = [
        (k * phi - t - axle.share * back * phi + g) / axle.track
        for k, t, g, axle in zip(stiff, tilt, moved, (front, rear), strict=True)
    ]
    return Rolled(np.asarray(made[0]), np.asarray(made[1]), np.asarray(phi))


def front_share(rolled: Rolled) -> Array:
    """Front share of the lateral transfer (front lateral load transfer distribution)."""
    return np.asarray(rolled.front / (rolled.front + rolled.rear))
