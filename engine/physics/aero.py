"""Air forces. Areas (coefficient x area) m2, density kg/m3, speeds m/s, powers W."""

import numpy as np

from engine.physics.arrays import Array, Num


def force(area: Num, speed: Num, density: float) -> Array:
    """Air force: rho V^2 CA/2."""
    return np.asarray(0.5 * density * np.asarray(speed) ** 2 * area)


def front_load_lost(drag: Num, height: Num, wheelbase: Num) -> Array:
    """Load that drag acting at `height` takes from the front axle and puts on the rear: D h/l. RCVD pp.

    503-510, via notes."""
    return np.asarray(drag * np.asarray(height) / wheelbase)


def downforce_for(weight: Num, lateral_g: Num, grip: Num) -> Array:
    """Downforce with which tyres of friction `grip` hold `lateral_g`: W (Ay/mu - 1). RCVD p.

    521, via chapter notes."""
    return np.asarray(weight * (np.asarray(lateral_g) / grip - 1))


def drag_power(drag: Num, speed: Num) -> Array:
    """Power that drag takes: D V."""
    return np.asarray(drag * np.asarray(speed))


def speed_after(start: Num, power: Num, drag_area: Num, mass: Num, distance: Num, density: float) -> Array:
    """Speed after `distance` at constant power against drag, level ground, m/s.

    u^3 = P/k - (P/k - u0^3) exp(-3 k s/m), k = rho CdA/2: the solution of m u^2 du/ds = P - k u^3."""
    k = 0.5 * density * np.asarray(drag_area)
    settled = power / k
    return np.asarray(
        np.cbrt(settled - (settled - np.asarray(start) ** 3) * np.exp(-3 * k * distance / mass))
    )
