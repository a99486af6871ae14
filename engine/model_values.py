"""Set-ups as arrays: sheet values → SI columns by setting key, and the car seen in a mirror for right-hand corners."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from engine.car import Car
from engine.units import UNITS

Array = NDArray[np.float64]
Values = Mapping[str, Array]
"""Setting key → SI value, each of shape (n, 1, 1) so that it broadcasts over (stage, phase)."""

LEFT_RIGHT = (("_lf", "_rf"), ("_lr", "_rr"))


def values_of(car: Car, setups: Array) -> Values:
    """SI columns of `setups` (n, settings; sheet units and order). Settings the car does not list take the archetype's value."""
    made: dict[str, Array] = {k: np.full((1, 1, 1), v) for k, v in car.physics.fixed.items()}
    for column, setting in enumerate(car.settings):
        unit = UNITS[setting.unit]
        made[setting.key] = (setups[:, column] * unit.factor + unit.offset).reshape(-1, 1, 1)
    return made


def mirrored(values: Values) -> Values:
    """The same set-ups for a right-hand corner: left and right change places, so that the model always turns left."""
    made = dict(values)
    for key in values:
        for left, right in LEFT_RIGHT:
            if key.endswith(left):
                other = key.removesuffix(left) + right
                if other in values:
                    made[key], made[other] = values[other], values[key]
    made["camber_lf"], made["camber_rf"] = -values["camber_rf"], -values["camber_lf"]
    made["cross_weight"] = 1.0 - values["cross_weight"]
    made["left_weight"] = 1.0 - values["left_weight"]
    made["stagger"] = -values["stagger"]
    made["steering_offset"] = -values["steering_offset"]
    made["mirror"] = np.full((1, 1, 1), -1.0)
    return made
