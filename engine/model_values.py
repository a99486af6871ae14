"""Set-ups as arrays: sheet values → SI rows by setting key, and the car seen in a mirror for right-hand
corners."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.car import Car
from engine.catalogue import KEYS
from engine.memo import Memo
from engine.units import UNITS

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
INDEX = {key: i for i, key in enumerate(KEYS)}


@dataclass(frozen=True, slots=True)
class Values:
    """SI values (keys, n, 1, 1) of n set-ups. `mirrored`: left and right have changed places, for all of them
    or for each (n, 1, 1)."""

    rows: Array
    mirrored: bool | Bools = False

    def own(self, plain: Array | float, turned: Array | float) -> Array | float:
        """What holds for a car as it is, or for one in the mirror."""
        if isinstance(self.mirrored, bool):
            return turned if self.mirrored else plain
        return np.where(self.mirrored, turned, plain)

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


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A car's settings: row of each, factor and offset to SI; and the rows [keys, 1] of what it does not
    list."""

    at: list[int]
    factor: Array
    offset: Array
    fixed: Array


_SHEETS: Memo[_Sheet] = Memo(64)
_BASES: Memo[Values] = Memo(64)


def _sheet(car: Car) -> _Sheet:
    units = [UNITS[s.unit] for s in car.settings]
    factor, offset = np.array([u.factor for u in units]), np.array([u.offset for u in units])
    fixed = np.array([car.physics.fixed[k] for k in KEYS])[:, None]
    return _Sheet([INDEX[s.key] for s in car.settings], factor, offset, fixed)


def values_of(car: Car, setups: Array) -> Values:
    """`setups` (n, settings; sheet units and order) in SI. What the car does not list takes the
    archetype's fixed value."""
    sheet = _SHEETS.get((car,), None, lambda: _sheet(car))
    rows = np.empty((len(KEYS), len(setups)))
    rows[:] = sheet.fixed
    rows[sheet.at] = (setups * sheet.factor + sheet.offset).T
    return Values(rows[:, :, None, None])


def base_of(car: Car) -> Values:
    """The sheet's own set-up, n = 1; read-only."""
    return _BASES.get((car,), None, lambda: _base(car))


def _base(car: Car) -> Values:
    made = values_of(car, np.array([[s.base for s in car.settings]]))
    made.rows.flags.writeable = False
    return made


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


def side_by_side(v: Values, right: Sequence[bool]) -> Values:
    """The same set-ups once for each kind of corner, one kind after the other; in the mirror for those to the
    right."""
    if len(right) == 1:
        return mirror(v) if right[0] else v
    turned = mirror(v) if any(right) else v
    rows = np.concatenate([(turned if each else v).rows for each in right], axis=1)
    if all(right) or not any(right):
        return Values(rows, right[0])
    return Values(rows, np.repeat(np.array(right), v.rows.shape[1])[:, None, None])
