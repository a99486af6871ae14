"""Air in a tyre: absolute pressure follows absolute temperature at constant volume.

Pressures Pa, temperatures K."""

import numpy as np

from engine.physics.arrays import Array, Num

ATMOSPHERE = 101325.0
"""Standard atmosphere, Pa (ISO 2533)."""


def hot_absolute(cold: Num, cold_temperature: Num, hot_temperature: Num) -> Array:
    """Absolute pressure after warming: p T2/T1 (Gay-Lussac)."""
    return np.asarray(cold * np.asarray(hot_temperature) / cold_temperature)


def hot_gauge(
    cold: Num, cold_temperature: Num, hot_temperature: Num, atmosphere: float = ATMOSPHERE
) -> Array:
    """Gauge pressure after warming: (p + pa) T2/T1 - pa. Scaling the gauge pressure itself is wrong."""
    return hot_absolute(cold + atmosphere, cold_temperature, hot_temperature) - atmosphere


def cold_gauge(
    hot: Num, cold_temperature: Num, hot_temperature: Num, atmosphere: float = ATMOSPHERE
) -> Array:
    """Gauge pressure to set cold for a gauge pressure wanted hot."""
    return hot_gauge(hot, hot_temperature, cold_temperature, atmosphere)
