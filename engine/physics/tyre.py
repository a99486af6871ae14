"""Tyre forces: peak against load, Magic Formula, combined slip.

Forces in N unless said, slip angles in rad."""

import numpy as np

from engine.physics.arrays import Array, Num


def peak_saturating(load: Num, grip: Num, load_limit: Num) -> Array:
    """Peak force: mu0 F/(1 + (F/Fc)^2); friction falls faster the heavier the load, Fc gives the most force.

    A smooth fit to measured peaks such as RCVD fig. 2.9 (quoted in Wikipedia, Tire load sensitivity)."""
    load = np.asarray(load)
    return np.asarray(grip * load / (1 + (load / load_limit) ** 2))


def peak_power(load: Num, grip: Num, reference: Num, power: Num) -> Array:
    """Peak force: mu F (F/F0)^(n-1), n about 0.7-0.9. Reference: Wikipedia, Tire load sensitivity."""
    load = np.asarray(load)
    return np.asarray(grip * load * (load / reference) ** (power - 1))


def magic(slip: Num, b: Num, c: Num, d: Num, e: Num) -> Array:
    """Magic Formula: D sin(C atan(B x - E (B x - atan B x))). Reference:
    Bakker, Nyborg, Pacejka, SAE 870421."""
    bx = np.asarray(b * np.asarray(slip))
    return np.asarray(d * np.sin(c * np.arctan(bx - e * (bx - np.arctan(bx)))))


def magic_lateral_1987(load_kn: Num, a: tuple[float, ...]) -> tuple[Array, Array, Array, Array]:
    """B, C, D, E of the 1987 side-force set a1..a8 (C 1.30), load in kN, slip in deg, D in N.

    D = a1 F^2 + a2 F; B C D = a3 sin(a4 atan(a5 F)); E = a6 F^2 + a7 F + a8. Reference: SAE 870421."""
    load = np.asarray(load_kn)
    a1, a2, a3, a4, a5, a6, a7, a8 = a
    d = a1 * load**2 + a2 * load
    bcd = a3 * np.sin(a4 * np.arctan(a5 * load))
    c = np.full_like(d, 1.30)
    return np.asarray(bcd / (c * d)), c, np.asarray(d), np.asarray(a6 * load**2 + a7 * load + a8)


def magic_normalised(slip: Num, b: Num = 0.714, c: Num = 1.40, e: Num = -0.20) -> Array:
    """Force over its peak against slip in units of peak force over stiffness: slope 1 at 0, so B C = 1.

    Reference: RCVD fig. 14.1, via chapter notes."""
    return magic(slip, b, c, 1.0, e)


def side_force_left(along: Num, peak: Num) -> Array:
    """Side force a tyre has left beside a force along: Fmax sqrt(1 - (Fx/Fmax)^2), 0 when none is left.

    Friction ellipse (RCVD ch. 2 sec. 5, via chapter notes)."""
    used = np.asarray(along) / peak
    return np.asarray(peak * np.sqrt(np.maximum(1 - used**2, 0.0)))


def clipped(along: Num, side: Num, most_along: Num, most_side: Num) -> tuple[Array, Array]:
    """Forces drawn back to the friction ellipse when they ask for more than there is."""
    asked = np.hypot(np.asarray(along) / most_along, np.asarray(side) / most_side)
    scale = 1 / np.maximum(asked, 1.0)
    return np.asarray(along * scale), np.asarray(side * scale)


def slip_ratio(speed: Num, radius: Num, spin: Num) -> Array:
    """Longitudinal slip, spin rad/s: spin r/V - 1; + = driving. Reference: RCVD ch. 2, via chapter notes."""
    return np.asarray(spin * np.asarray(radius) / speed - 1)
