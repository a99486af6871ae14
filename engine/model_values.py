"""Set-ups as arrays: sheet values → SI rows by setting key, and the car seen in a mirror for right-hand
corners."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.car import Car
from engine.catalogue import KEYS
from engine.units import UNITS

Array = NDArray[np.float64]
INDEX = {key: i for i, key in enumerate(KEYS)}


@dataclass(frozen=True, slots=True)
class Values:
    """SI values (keys, n, 1, 1) of n set-ups. `mirrored`: left and right have changed places."""

    rows: Array
    mirrored: bool = False

    def one(self, key: str) -> Array:
        """One setting, (n, 1, 1)."""
        return np.asarray(self.rows[INDEX[key]])

    def four(self, kind: str) -> Array:
        """A setting of the four corners, (4, n, 1, 1): LF RF LR RR."""
        at = INDEX[f"{kind}_lf"]
        return self.rows[at : at + 4]

    def two(self, key: str) -> Array:
        """A setting and the next in the catalogue, (2, n, 1, 1): left and right, or front and rear."""
        at = INDEX[key]
        return self.rows[at : at + 2]


def values_of(car: Car, setups: Array) -> Values:
    """`setups` (n, settings; sheet units and order) in SI. What the car does not list takes the
    archetype's fixed value."""
    fixed = car.physics.fixed
    rows = np.empty((len(KEYS), len(setups)))
    rows[:] = np.array([fixed[k] for k in KEYS])[:, None]
    units = [UNITS[s.unit] for s in car.settings]
    factor, offset = np.array([u.factor for u in units]), np.array([u.offset for u in units])
    rows[[INDEX[s.key] for s in car.settings]] = (setups * factor + offset).T
    return Values(rows[:, :, None, None])


def base_of(car: Car) -> Values:
    """The sheet's own set-up, n = 1."""
    return values_of(car, np.array([[s.base for s in car.settings]]))


def _swap() -> list[int]:
    other = {"_lf": "_rf", "_rf": "_lf", "_lr": "_rr", "_rr": "_lr"}
    return [INDEX[k[:-3] + other[k[-3:]]] if k[-3:] in other else i for i, k in enumerate(KEYS)]


SWAP = _swap()
TURNED = ("cross_weight", "left_weight", "stagger", "steering_offset")
SIGN = np.array([-1.0 if k in TURNED else 1.0 for k in KEYS])
SHIFT = np.array([1.0 if k in ("cross_weight", "left_weight") else 0.0 for k in KEYS])


def mirror(v: Values) -> Values:
    """The same set-ups for a right-hand corner, so that the model always turns left. The track bar keeps
    its ends: left is the axle end, wherever the corner goes."""
    rows = v.rows[SWAP] * SIGN[:, None, None, None] + SHIFT[:, None, None, None]
    return Values(rows, not v.mirrored)
