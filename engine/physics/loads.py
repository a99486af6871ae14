"""Static loads of the four tyres, and where the centre of gravity lies."""

import numpy as np

from engine.physics.arrays import Array, Num


def corners(weight: Num, nose: Num, left: Num, cross: Num) -> Array:
    """Static loads LF RF LR RR (first axis 4), in the unit of `weight`; the rest are shares of the whole.

    LF = (nose + left - cross)/2 W; RF, LR and RR follow from nose W, left W and W.
    Reference: cross = (RF + LR)/W solved for the four corners (moment balance leaves exactly this one
    freedom)."""
    lf = (nose + left - cross) / 2 * weight
    rf, lr = nose * weight - lf, left * weight - lf
    rr = np.asarray(weight - lf - rf - lr)
    made = np.empty((4, *rr.shape))
    made[0], made[1], made[2], made[3] = lf, rf, lr, rr
    return made


def shares(corner: Array) -> tuple[Array, Array, Array]:
    """Nose, left and cross (RF + LR) shares of four loads LF RF LR RR (first axis 4)."""
    total = corner.sum(axis=0)
    lf, rf, lr = corner[0], corner[1], corner[2]
    return (lf + rf) / total, (lf + lr) / total, (rf + lr) / total


def axles(weight: Num, front_to_cg: Num, wheelbase: Num) -> tuple[Array, Array]:
    """Front and rear axle load: Wf = W b/l, Wr = W a/l. Reference: Jazar, Vehicle Dynamics (2008), sec.

    2.1."""
    share = np.asarray(front_to_cg) / wheelbase
    return np.asarray(weight * (1 - share)), np.asarray(weight * share)


def cg_behind_front(front: Num, rear: Num, wheelbase: Num) -> Array:
    """Distance of the CG behind the front axle from the two axle loads: a = l Wr/W. Reference: Jazar sec.

    2.1."""
    return np.asarray(wheelbase * rear / (front + rear))


def cg_to_right(corner: Array, track_front: Num, track_rear: Num) -> Array:
    """Distance of the CG right of the centreline from four scales LF RF LR RR, unequal tracks.

    y = [(RF - LF) tf + (RR - LR) tr] / (2 W). Reference: RCVD pp. 667-668, via chapter notes."""
    right_f, right_r = corner[1] - corner[0], corner[3] - corner[2]
    return np.asarray((right_f * track_front + right_r * track_rear) / (2 * corner.sum(axis=0)))


def cg_height(level: Num, raised: Num, weight: Num, wheelbase: Num, tilt: Num, loaded_radius: Num) -> Array:
    """CG height from the front axle load level and with the rear axle raised by `tilt` rad.

    h = r + (Wf_raised - Wf_level) l / (W tan tilt). Reference: RCVD pp. 668-671, via chapter notes."""
    return np.asarray(loaded_radius + (raised - level) * wheelbase / (weight * np.tan(tilt)))
