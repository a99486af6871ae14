"""Rollouts of an axle's two tyres against the turn. Lengths m;

stagger = outside (right) minus inside rollout."""

import numpy as np

from engine.physics.arrays import Array, Num


def free_radius(inside: Num, outside: Num, track: Num) -> Array:
    """Radius, to the inner tyre, that an axle of two unequal tyres rolls by itself: t d/(D - d).

    `inside`, `outside` are both rollouts or both diameters. Reference: similar triangles (cone)."""
    return np.asarray(track * np.asarray(inside) / (outside - np.asarray(inside)))


def for_radius(radius: Num, track: Num, rollout: Num) -> Array:
    """Stagger that rolls freely round a turn of `radius` to the middle of the axle:
    rollout t/R (mean rollout)."""
    return np.asarray(np.asarray(rollout) * track / radius)


def slip_apart(stagger: Num, rollout: Num, track: Num, radius: Num) -> Array:
    """Slip of the outside over the inside tyre on a locked axle: S/rollout - t/R; + = outside tyre drives.

    One spin for both tyres; the outside ground speed is greater by t/R."""
    return np.asarray(stagger / np.asarray(rollout) - track / np.asarray(radius))


def speed_apart(radius: Num, track: Num) -> Array:
    """Outside wheel speed over the inside one, less 1; turn radius to the middle: t/(R - t/2)."""
    return np.asarray(np.asarray(track) / (radius - np.asarray(track) / 2))
