"""The search for the fewest changes as pure data: an integer program that knows nothing of cars.

A plan gives whole clicks to a few items. With `delta = clicks @ effects` (channel units), a plan is *allowed*
when

* clicks lie within each item's range and within every `Limit`; at most `max_moves` items move; no two moved
  items touch the same setting; the moved set is no superset of a forbidden set;
* every want stays at or below its ceiling `target * (1 + tolerance)`: curing too much is not allowed;
* on each complained channel the wrong-way pushes together stay within `undo * |target|`;
* every hard band and every link row holds.

Doing nothing must be allowed: all ranges, bands and links contain 0, so whoever builds the problem widens a
band that the car is already outside of ("not worse than now"). Among allowed plans the best one is, in this
order,

1. least shortfall, level by level (level 0 first): the shortfall of a want is what its weighted sum lacks to
   the near end `target * (1 - tolerance)`, or what one of its parts lacks to `floor * target`, whichever is
   more; the sum over the wants of a level is counted in whole grains, rounded up;
2. fewest moved items;
3. least cost: the reach of the moved items, plus the worst side effect (largest `weight * |delta|` of any
   band, counted only towards a side that is bounded), plus the penalties of soft bands;
4. least movement (sum of `weight * |clicks|`); then the smallest tuple of (key, clicks) in key order.

All numbers are rounded once to `TICK` and the rest is whole-number arithmetic, so equal plans are truly equal
everywhere.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from engine.errors import EngineError

Array = NDArray[np.float64]
Kind = Literal["want", "undo", "band", "link", "limit", "cap"]
TICK = 1e-4
"""The grain all coefficients and bounds are rounded to, in the unit of the channel, cost or movement."""


class ProblemError(EngineError):
    """The problem is not well formed. `key` names the member, `value` what was there, `allowed` what may
    stand there."""

    def __init__(self, key: str, value: object, allowed: str) -> None:
        self.key, self.value, self.allowed = key, value, allowed
        super().__init__(f"{key} is {value!r}, allowed: {allowed}")


@dataclass(frozen=True, slots=True)
class Item:
    """One thing a plan may move: clicks from `low` (<= 0) to `high` (>= 0), 0 = as it is.

    `reach` is paid once when it moves, `weight` per click of movement. Items sharing one of `settings`
    exclude each other."""

    key: str
    low: int
    high: int
    reach: float = 1.0
    weight: float = 1.0
    settings: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Part:
    """One channel (column of `effects`) of a want and its weight in the sum."""

    channel: int
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Want:
    """A wanted change: the weighted sum of `parts` moves by `target` (signed, not 0), give or take
    `tolerance`.

    Each part must get at least `floor * target`; `undo` is the share of the target that wrong-way pushes may
    add up to on each part's channel. Lower `level` is cured first when not all can be."""

    key: str
    parts: tuple[Part, ...]
    target: float
    tolerance: float = 0.35
    floor: float = 0.25
    undo: float = 0.4
    level: int = 0


@dataclass(frozen=True, slots=True)
class Band:
    """How far a channel may change from now: `low <= 0 <= high`, either may be infinite.

    `weight` prices the change per channel unit in the worst side effect. With a `penalty` the band is soft:
    it excludes nothing, and each unit beyond it costs the penalty. `fixed`: never offered as a repair (a
    limit of the car)."""

    key: str
    channel: int
    low: float = -inf
    high: float = inf
    weight: float = 1.0
    penalty: float | None = None
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A linear limit on clicks: `low <= sum(factor * clicks[item]) <= high`; `terms` are (item index,
    factor)."""

    key: str
    terms: tuple[tuple[int, float], ...]
    low: float = -inf
    high: float = inf
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """A wish or rule that narrows ranges (a lock, stop-only, a step cap): `ranges` are (item index, low,
    high)."""

    key: str
    ranges: tuple[tuple[int, int, int], ...]
    fixed: bool = False


@dataclass(frozen=True, eq=False)
class Problem:
    """The whole integer program; see the module's docstring. `effects` is [items, channels], per +1 click.

    `grain` is the smallest shortfall worth a move (channel units). `wide_moves` is what "drop the cap on
    moves" means when looking for a clash. `forbidden` are sets of item keys whose supersets are not
    allowed."""

    items: tuple[Item, ...]
    effects: Array
    wants: tuple[Want, ...]
    bands: tuple[Band, ...] = ()
    links: tuple[LinkRow, ...] = ()
    limits: tuple[Limit, ...] = ()
    forbidden: tuple[frozenset[str], ...] = ()
    max_moves: int = 3
    wide_moves: int = 4
    grain: float = TICK

    def __post_init__(self) -> None:
        check(self)

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Place of every item."""
        return {item.key: i for i, item in enumerate(self.items)}

    @cached_property
    def _ranges(self) -> tuple[tuple[int, int], ...]:
        ranges = [(item.low, item.high) for item in self.items]
        for limit in self.limits:
            for index, low, high in limit.ranges:
                least, most = ranges[index]
                if low > least or high < most:
                    ranges[index] = (max(least, low), min(most, high))
        return tuple(ranges)

    @cached_property
    def rounded(self) -> Array:
        """`effects` in whole ticks."""
        return np.rint(self.effects / TICK) * TICK

    @cached_property
    def sides(self) -> tuple[NDArray[np.int64], Array, Array]:
        """Of the bands: channels, price of a change downwards and upwards, 0 where that
        side is not bounded."""
        table = [(b.weight * (b.low > -inf), b.weight * (b.high < inf)) for b in self.bands]
        down, up = np.array(table, np.float64).reshape(-1, 2).T
        return np.array([band.channel for band in self.bands], np.int64), down, up

    def ranges(self) -> tuple[tuple[int, int], ...]:
        """Clicks allowed per item: its own range within every limit."""
        return self._ranges

    def without(self, kind: Kind, key: str) -> "Problem":
        """The same problem with one member dropped."""
        if kind == "cap":
            return replace(self, max_moves=max(self.wide_moves, self.max_moves))
        if kind == "undo":
            wants = tuple(replace(w, undo=inf) if w.key == key else w for w in self.wants)
            return replace(self, wants=wants)
        if kind == "want":
            return replace(self, wants=tuple(w for w in self.wants if w.key != key))
        if kind == "band":
            return replace(self, bands=tuple(b for b in self.bands if b.key != key))
        if kind == "link":
            return replace(self, links=tuple(row for row in self.links if row.key != key))
        return replace(self, limits=tuple(limit for limit in self.limits if limit.key != key))


@dataclass(frozen=True, slots=True)
class Plan:
    """One answer: `clicks` are (item key, clicks) in key order, none of them 0.

    `shortfall` is per level (channel units, whole grains), `lacking` per want (key, exact); `delta` is the
    change per channel."""

    clicks: tuple[tuple[str, int], ...]
    shortfall: tuple[float, ...]
    lacking: tuple[tuple[str, float], ...]
    reach: float
    side: float
    penalty: float
    movement: float
    delta: tuple[float, ...]

    @property
    def keys(self) -> frozenset[str]:
        """The set of moved items."""
        return frozenset(key for key, _ in self.clicks)

    @property
    def cured(self) -> bool:
        """True when every want is met."""
        return not any(self.shortfall)

    @property
    def cost(self) -> float:
        """Reach plus worst side effect plus penalties."""
        return self.reach + self.side + self.penalty


@dataclass(frozen=True, slots=True)
class Solution:
    """Plans, best first, each with a set of items that is no superset of an earlier one's; never empty (doing
    nothing is a plan).

    `complete` False: the cap of `nodes` looked at was reached, so say "none found", not "none". Even when
    complete, what is proved is "none within `max_moves` changes". `likely`: log of the chance that the best
    plan cures, less what its changes cost; only where plans were weighed by their chances."""

    plans: tuple[Plan, ...]
    complete: bool
    nodes: int
    max_moves: int
    likely: float = 0.0

    @property
    def cured(self) -> bool:
        """True when the best plan meets every want."""
        return self.plans[0].cured


def ticks(value: float) -> int:
    """Whole ticks of a finite number, half to even; infinities become a bound no sum reaches."""
    return round(value / TICK) if abs(value) < 1e9 else (1 if value > 0 else -1) * 2**60


def check(problem: Problem) -> None:
    """Refuse a problem that is not well formed: ProblemError."""
    count, shape = len(problem.items), problem.effects.shape
    if len(shape) != 2 or shape[0] != count:
        raise ProblemError("effects", shape, f"one row for each of the {count} items")
    if not np.isfinite(problem.effects).all():
        raise ProblemError("effects", "not a number or infinite", "finite numbers")
    for name, keys in _families(problem):
        if len(set(keys)) != len(keys):
            raise ProblemError(name, keys, "each key once")
    for item, (low, high) in zip(problem.items, problem.ranges(), strict=True):
        if not low <= 0 <= high:
            raise ProblemError(item.key, (low, high), "a range that contains 0")
    for want in problem.wants:
        if ticks(want.target) == 0 or not want.parts or not 0 <= want.tolerance < 1:
            raise ProblemError(
                want.key, want, "a target that is not 0, at least one part, tolerance in [0, 1)"
            )
    rows: tuple[Band | LinkRow, ...] = (*problem.bands, *problem.links)
    for row in rows:
        if not row.low <= 0 <= row.high:
            raise ProblemError(row.key, (row.low, row.high), "a band that contains 0")
    if not all(problem.forbidden):
        raise ProblemError("forbidden", problem.forbidden, "sets of at least one item")
    if problem.max_moves < 0 or problem.grain < TICK:
        raise ProblemError(
            "max_moves, grain", (problem.max_moves, problem.grain), f"0 or more, {TICK} or more"
        )


def _families(problem: Problem) -> tuple[tuple[str, list[str]], ...]:
    return (
        ("items", [item.key for item in problem.items]),
        ("wants", [want.key for want in problem.wants]),
        ("bands", [band.key for band in problem.bands]),
        ("links", [row.key for row in problem.links]),
        ("limits", [limit.key for limit in problem.limits]),
    )
