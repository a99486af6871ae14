"""What lets a set of options through: the rows, the settings, the forbidden sets, and the bar."""

from dataclasses import dataclass, field

import numpy as np

from engine.search_scores import shortfalls
from engine.search_tables import FAR, Bools, Ints, Tables


class Capped(Exception):
    """The cap on options looked at was reached."""


@dataclass
class Meter:
    """Counts the options looked at; the same for the same problem on every machine."""

    cap: int
    nodes: int = 0

    def count(self, nodes: int) -> None:
        """Add; Capped when it is too much."""
        self.nodes += nodes
        if self.nodes > self.cap:
            raise Capped


@dataclass
class Bar:
    """What a plan has to reach to be of interest: at most this shortfall (grains per level), with equal
    shortfall at most these moves, with equal moves at most this cost. Infinite where anything will do."""

    short: tuple[float, ...]
    moves: float = np.inf
    cost: float = np.inf

    @property
    def level(self) -> int:
        """The first level that may fall short; earlier ones must be met in full."""
        return next((i for i, s in enumerate(self.short) if s), len(self.short))


@dataclass(frozen=True, eq=False)
class Leaves:
    """Whole sets [moves, n] of options that let themselves be seen, with their shortfall [levels, n]."""

    picks: Ints
    short: Ints


@dataclass(eq=False)
class Sieve:
    """Lets sets of exactly `moves` items through that can still be as good as `bar`, which may be lowered on
    the way."""

    tables: Tables
    moves: int
    bar: Bar
    forbidden: list[Ints]
    meter: Meter
    _for: tuple[tuple[float, ...], bool] | None = None
    _bounds: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    _rows: Ints = field(default_factory=lambda: np.zeros(0, np.int64))

    def sums(self, rows: Ints, picks: Ints) -> Ints:
        """Sums [rows, n] of rows over picks [d, n]."""
        total: Ints = np.ascontiguousarray(self.sums_of_each(rows, picks).T)
        return total

    def sums_of_each(self, rows: Ints, picks: Ints) -> Ints:
        """The same as [n, rows]: one option's pushes lie side by side, so they are fetched together."""
        push = self.tables.rows
        if len(rows) < push.shape[1]:
            push = push.take(rows, axis=1)
        return added(push, picks)

    def keeping(self, kids: Ints) -> Bools:
        """Which sets [d, n] keep every row."""
        return np.asarray((added(self.tables.rows, kids) >= self.bounds()).all(axis=1))

    def bounds(self) -> Ints:
        """Bounds of the rows: needs eased by what the bar allows to fall short, later levels open. With more
        moves than the bar's, as much on the last level is not enough."""
        now = (self.bar.short, self.moves > self.bar.moves)
        if self._for != now:
            self._for, self._bounds = now, self._eased()
            self._rows = np.flatnonzero(self._bounds > -self.tables.far)
        return self._bounds

    def bounded(self) -> tuple[Ints, Ints]:
        """The rows that have a bound, and the bounds of these, as a column."""
        bounds = self.bounds()
        return self._rows, bounds[self._rows, None]

    def _eased(self) -> Ints:
        t, level = self.tables, self.bar.level
        bound = t.bound.copy()
        if level < len(self.bar.short):
            bound[: len(t.row_level)][t.row_level > level] = -FAR
            strictly = level == len(self.bar.short) - 1 and self.moves > self.bar.moves
            allowed = min(self.bar.short[level] - strictly, FAR // t.grain)
            bound[: len(t.row_level)][t.row_level == level] -= int(allowed) * t.grain
        return np.minimum(np.maximum(bound, -t.far), t.far).astype(t.push.dtype)

    def dearest(self) -> float:
        """The most a plan may cost; infinite while it may still win by shortfall or by moves."""
        return np.inf if self.bar.moves != self.moves or any(self.bar.short) else self.bar.cost

    def sound(self, kids: Ints, left: int) -> Ints:
        """Of sets [d, n]: no setting twice, not forbidden, not above the bar in cost."""
        t, items = self.tables, self.tables.item.take(kids)
        keep = np.ones(kids.shape[1], np.bool_)
        for forbidden in self.forbidden:
            if len(forbidden) <= len(kids):
                keep &= ~holding(items, forbidden)
        for i in range(1, len(kids)):
            for earlier in items[:i]:
                keep &= t.options.apart.take(earlier * len(t.keys) + items[i])
        if (dearest := self.dearest()) < np.inf:
            keep &= t.reach.take(kids).sum(axis=0) + left * int(t.reach.min()) <= dearest
        return kids.compress(keep, axis=1)

    def done(self, kids: Ints) -> Leaves:
        """Of whole sets [moves, n] that are sound: not above the bar."""
        kids = self.sound(kids, 0)
        short = shortfalls(self.tables, kids)
        above, level = np.zeros(kids.shape[1], np.bool_), np.ones(kids.shape[1], np.bool_)
        for column, limit in zip(short, self.bar.short, strict=True):
            above |= level & (column > limit)
            level &= column == limit
        if self.moves > self.bar.moves:
            above |= level
        return Leaves(kids.compress(~above, axis=1), short.compress(~above, axis=1))


def holding(items: Ints, some: Ints) -> Bools:
    """Which sets of items [d, n] hold all of some items."""
    held: Bools = (items == some[0]).any(axis=0)
    for item in some[1:]:
        held &= (items == item).any(axis=0)
    return held


def added(push: Ints, picks: Ints) -> Ints:
    """Sums [n, rows] of pushes [O, rows] over picks [d, n]."""
    if not len(picks):
        return np.zeros((picks.shape[1], push.shape[1]), push.dtype)
    total: Ints = push.take(picks[0], axis=0)
    for pick in picks[1:]:
        total += push.take(pick, axis=0)
    return total
