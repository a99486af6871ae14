"""Motion in a turn, flat or banked.

Speeds m/s, radii m, banking rad (+ = leaning into the turn), gravity m/s2."""

import numpy as np

from engine.physics.arrays import Array, Num


def pull_g(speed: Num, radius: Num, gravity: float) -> Array:
    """Level acceleration towards the turn's centre, g: V^2/(R g)."""
    return np.asarray(np.asarray(speed) ** 2 / (radius * gravity))


def in_plane(pull: Num, banking: Num) -> tuple[Array, Array]:
    """Lateral and normal acceleration in the track's plane, g: A cos b - sin b and A sin b + cos b.

    Reference: RCVD ch. 18 sec. 8, via chapter notes."""
    sine, cosine = np.sin(banking), np.cos(banking)
    return np.asarray(pull * cosine - sine), np.asarray(pull * sine + cosine)


def friction_needed(pull: Num, banking: Num = 0.0) -> Array:
    """Side friction the tyres need: tan(atan A - b). Negative when the car would slide down the bank."""
    return np.asarray(np.tan(np.arctan(pull) - banking))


def speed_at(friction: Num, radius: Num, banking: Num, gravity: float) -> Array:
    """Speed at which the tyres need this friction: sqrt(R g tan(b + atan mu)); mu 0 = the bank's own speed.

    Reference: tan(b + atan mu) = (tan b + mu)/(1 - mu tan b), NCERT Physics XI ch. 5."""
    return np.asarray(np.sqrt(radius * gravity * np.tan(banking + np.arctan(friction))))
