"""The shipped chassis model dressed as somebody else's car, so that a published example can be put through
it whole."""

from collections.abc import Mapping

import numpy as np

from engine.model_loads import Motion, tyre_loads, weigh
from engine.model_values import INDEX, Array, Values, base_of
from engine.physics.springs import bar_stiffness
from engine.sheets import DEFAULT_CAR, shipped_cars
from engine.vehicle import Physics

FULL = np.ones((1, 1, 1))
"""A full tank: nothing burnt off what the sheet's shares were read at."""


def physics_with(**changes: object) -> Physics:
    """The demo car's physics (SI) with some replaced; the body neither pitches nor rolls in transition."""
    still = (0.0,) * 5
    calm = {"pitch_speed": still, "roll_speed": still, "tyre_rate_growth": 0.0}
    return shipped_cars()[DEFAULT_CAR].physics.model_copy(update={**calm, **changes})


def values_with(settings: Mapping[str, float]) -> Values:
    """The demo car's set-up (SI) with some settings replaced, no rear bar unless given."""
    rows = base_of(shipped_cars()[DEFAULT_CAR]).rows.copy()
    for key, value in {"rear_bar": 0.0, **settings}.items():
        rows[INDEX[key]] = value
    return Values(rows)


def bar_diameter(stiffness: float, length: float, arm: float, ratio: float, track: float) -> float:
    """Diameter of the anti-roll bar that has this roll stiffness, m."""
    return float((stiffness / bar_stiffness(1.0, length, arm, ratio, track)) ** 0.25)


def loads_in(p: Physics, v: Values, lateral: float, normal: float = 1.0, forward: float = 0.0) -> Array:
    """Loads LF RF LR RR of the shipped load function in a steady left turn without air, N."""
    one = np.ones((1, 1, 5))
    motion = Motion(
        lateral=one * lateral,
        normal=one * normal,
        forward=one * forward,
        speed=one * 20.0,
        turning=one * 0.0,
        twist=np.zeros(5),
    )
    made = tyre_loads(p, v, v, weigh(p, v, v, FULL), motion, np.zeros((2, 1, 1, 5)))
    return np.asarray(made.tyre[:, 0, 0, 2])


def moved(load: Array) -> Array:
    """Half the difference of right and left, front and rear."""
    return np.array([load[1] - load[0], load[3] - load[2]]) / 2
