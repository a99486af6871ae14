"""Springs, bars and tyres: rates at the wheel and roll stiffness.

Rates in N/m, stiffness in N m/rad, lengths in m."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Num

STEEL_SHEAR = 79.3e9
"""Shear modulus of spring steel, Pa (11.5e6 psi; handbook value, from memory)."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two supports side by side, as heave z (down) and roll p (to the right) see them:
    force = heave z + couple p,  moment = couple z + roll p. Units N/m, N/rad, N m/rad."""

    heave: Array
    couple: Array
    roll: Array

    def roll_free(self) -> Array:
        """Roll stiffness while free to heave: roll - couple^2/heave (RCVD p. 590, via chapter notes)."""
        return np.asarray(self.roll - self.couple**2 / self.heave)


def wheel_rate(spring: Num, ratio: Num, angle: Num = 0.0) -> Array:
    """Rate at the wheel: k (spring travel / wheel travel)^2 cos^2(spring angle). Reference: RCVD ch.

    16, via chapter notes."""
    return np.asarray(spring * np.asarray(ratio) ** 2 * np.cos(angle) ** 2)


def spring_rate(wheel: Num, ratio: Num) -> Array:
    """Spring rate for a wheel rate: kw / ratio^2."""
    return np.asarray(wheel / np.asarray(ratio) ** 2)


def in_series(a: Num, b: Num) -> Array:
    """Two rates one upon the other: a b/(a + b); suspension on tyre gives the ride rate."""
    return np.asarray(a * b / (a + b))


def wheel_rate_under(ride: Num, tyre: Num) -> Array:
    """Wheel rate that with this tyre gives this ride rate: kr kt/(kt - kr). Reference: RCVD ch. 16 sec.

    10, via notes."""
    return np.asarray(ride * tyre / (tyre - ride))


def rate_for_frequency(mass: Num, frequency: Num) -> Array:
    """Rate that makes `mass` bounce at `frequency` Hz: 4 pi^2 f^2 m. Reference:
    Giaraffa, Springs & Dampers, part two."""
    return np.asarray(4 * np.pi**2 * np.asarray(frequency) ** 2 * mass)


def pair(left: Num, right: Num, base: Num, bar: Num = 0.0) -> Pair:
    """Two rates at half of `base` left and right of the middle, and a bar that only resists roll."""
    half = np.asarray(base) / 2
    return Pair(
        np.asarray(left + right),
        np.asarray((right - left) * half),
        np.asarray((left + right) * half**2 + bar),
    )


def pair_in_series(upper: Pair, lower: Pair) -> Pair:
    """One pair upon another (springs on tyres):
    flexibilities add, K = (Ku^-1 + Kl^-1)^-1 of the 2x2 matrices."""
    up = upper.heave * upper.roll - upper.couple**2
    low = lower.heave * lower.roll - lower.couple**2
    heave = upper.roll / up + lower.roll / low
    couple = -upper.couple / up - lower.couple / low
    roll = upper.heave / up + lower.heave / low
    whole = heave * roll - couple**2
    return Pair(np.asarray(roll / whole), np.asarray(-couple / whole), np.asarray(heave / whole))


def torsion_rate(diameter: Num, length: Num, arm: Num, shear: float = STEEL_SHEAR) -> Array:
    """Force per travel at the end of a torsion bar's arm, N/m: pi G d^4/(32 L arm^2).

    Reference: torsion of a round bar; RCVD pp. 761-762, via chapter notes."""
    return np.asarray(np.pi * shear * np.asarray(diameter) ** 4 / (32 * length * np.asarray(arm) ** 2))


def bar_stiffness(
    diameter: Num, length: Num, arm: Num, ratio: Num, track: Num, shear: float = STEEL_SHEAR
) -> Array:
    """Roll stiffness of an anti-roll bar, N m/rad: pi G d^4/(32 L) (ratio t/arm)^2.

    Roll p moves the wheels by t p/2 each way and the arm ends by `ratio` of it, so the bar twists by ratio t
    p/arm. Reference: K_B = K_theta I_B^2 t^2/L_B^2, RCVD p. 600, via chapter notes."""
    return np.asarray(torsion_rate(diameter, length, arm, shear) * (ratio * np.asarray(track)) ** 2)
