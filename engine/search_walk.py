"""The walk over sets of options: every set that could still be wanted, most promising first, in chunks.

Options are taken in falling order of their gain in a `Weighing`, so the options that can still follow a
partial set are a stretch of that order. A chunk of partial sets is held against all of that stretch at once,
row by row.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from engine.search_bounds import Weighing
from engine.search_tables import FAR, Bools, Ints, Tables

CHUNKS = (48, 384)
"""Partial sets per chunk: the first is small, because what it finds lowers the bar for the rest."""
DENSE = 10
"""Rows held against whole chunks before the survivors are listed."""


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


class Walk:
    """One walk over sets of exactly `moves` items."""

    def __init__(
        self, tables: Tables, weighing: Weighing, moves: int, bar: Bar, forbidden: list[Ints], meter: Meter
    ) -> None:
        t = tables
        self.tables, self.weighing, self.moves = tables, weighing, moves
        self.bar, self.forbidden, self.meter = bar, forbidden, meter
        self.order = np.argsort(-weighing.gain, kind="stable")
        self.gain = weighing.gain[self.order]
        self.item, self.reach = t.item[self.order], t.reach[self.order]
        self.push = t.push[:, self.order]
        self.apart = t.apart[np.ix_(self.order, self.order)]
        self.ahead = _ahead(t, self.push, self.item, moves)
        self.potential = [self.push + rest[:, 1:] for rest in self.ahead]
        best = _ahead(t, self.gain[None, :], self.item, moves)
        self.potential_gain = [self.gain + rest[0, 1:] for rest in best]
        self.cheapest = int(t.reach.min()) if len(t.reach) else 0
        self.rows = _sharpest(self.push, t.bound)

    def leaves(self) -> Iterator[Ints]:
        """Sets [n, moves] of options (indices of the tables) that pass every condition and the bar."""
        yield from self._below(
            np.zeros((1, 0), np.int64), np.zeros((len(self.push), 1), np.int64), np.zeros(1, np.int64)
        )

    def _below(self, picks: Ints, sums: Ints, gains: Ints) -> Iterator[Ints]:
        left = self.moves - picks.shape[1]
        if left == 0:
            yield self.order[picks]
            return
        begin, size = 0, CHUNKS[0] if left == 1 else CHUNKS[1]
        while begin < len(picks):
            part = slice(begin, begin + size)
            yield from self._expand(picks[part], sums[:, part], gains[part], left)
            begin, size = begin + size, CHUNKS[1]

    def _expand(self, picks: Ints, sums: Ints, gains: Ints, left: int) -> Iterator[Ints]:
        """All sets of one item more below a chunk of partial sets [f, d]; sums [R, f]."""
        first = picks[:, -1] + 1 if picks.shape[1] else np.zeros(len(picks), np.int64)
        floor = self._floor()
        last = np.searchsorted(-self.potential_gain[left - 1], gains - floor, side="right")
        start, stop = int(first.min()), int(last.max())
        if start >= stop:
            return
        self.meter.count(len(picks) * (stop - start))
        here = np.arange(start, stop)
        ok = (here >= first[:, None]) & (here < last[:, None])
        for i in range(picks.shape[1]):
            ok &= self.apart[picks[:, i], start:stop]
        if self.bar.moves == self.moves and not any(self.bar.short):
            spent = self.reach[picks].sum(axis=1)
            ok &= self.reach[start:stop] <= (self.bar.cost - (left - 1) * self.cheapest - spent)[:, None]
        parent, option = self._thin(ok, sums, start, stop, left - 1)
        if not len(parent):
            return
        total = sums[:, parent] + self.push[:, option]
        kids = np.column_stack([picks[parent], option])
        keep = self._beats(total, option, left - 1) & self._not_forbidden(kids)
        if keep.any():
            kids, total, gained = kids[keep], total[:, keep], (gains[parent] + self.gain[option])[keep]
            if left > 1:
                order = self._promise(total)
                kids, total, gained = kids[order], total[:, order], gained[order]
            yield from self._below(kids, total, gained)

    def _floor(self) -> int:
        """The least sum of gains a plan that reaches the bar can have."""
        w = self.weighing
        if w.slack == 0:
            return w.bound
        allowed = self.bar.short[w.level]
        if any(self.bar.short[: w.level]) or allowed == np.inf:
            return -FAR
        return w.bound - w.slack * int(allowed) * self.tables.grain

    def _bounds(self) -> Ints:
        """Bounds of the rows: needs eased by what the bar allows to fall short, later levels open."""
        t, level = self.tables, self.bar.level
        bound = t.bound.copy()
        bound[: t.needs][t.row_level > level] = -FAR
        if level < len(self.bar.short):
            allowed = self.bar.short[level]
            eased = np.flatnonzero(t.row_level == level)
            bound[eased] = -FAR if allowed == np.inf else bound[eased] - int(allowed) * t.grain
        return bound

    def _thin(self, ok: Bools, sums: Ints, start: int, stop: int, left: int) -> tuple[Ints, Ints]:
        """List the pairs (parent, option) that no row rules out."""
        bound = self._bounds()
        rows = self.rows[bound[self.rows] > -FAR]
        short = bound[:, None] - sums
        potential = self.potential[left]
        for r in rows[:DENSE]:
            ok &= potential[r, start:stop] >= short[r][:, None]
        parent, option = np.nonzero(ok)
        option = option + start
        for at in range(DENSE, len(rows), DENSE):
            if not len(parent):
                break
            some = rows[at : at + DENSE]
            fine = (potential[some][:, option] >= short[some][:, parent]).all(axis=0)
            parent, option = parent[fine], option[fine]
        return parent, option

    def _beats(self, total: Ints, option: Ints, left: int) -> Bools:
        """Which sets could still be as good as the bar."""
        t, bar = self.tables, self.bar
        most = total[: t.needs] + self.ahead[left][: t.needs, option + 1]
        above = np.zeros(len(option), np.bool_)
        level = np.ones(len(option), np.bool_)
        for column, limit in zip(shortfalls(t, most), bar.short, strict=True):
            above |= level & (column > limit)
            level &= column == limit
        if self.moves > bar.moves:
            above |= level
        return ~above

    def _promise(self, total: Ints) -> Ints:
        """Order of partial sets: least shortfall as they stand first."""
        order: Ints = np.lexsort(shortfalls(self.tables, total[: self.tables.needs])[::-1])
        return order

    def _not_forbidden(self, kids: Ints) -> Bools:
        items = self.item[kids]
        keep = np.ones(len(kids), np.bool_)
        for forbidden in self.forbidden:
            if len(forbidden) <= kids.shape[1]:
                keep &= np.isin(items, forbidden).sum(axis=1) < len(forbidden)
        return keep


def shortfalls(t: Tables, needs: Ints) -> Ints:
    """Shortfall [levels, n] in whole grains, from the sums of the need rows [N, n]."""
    if not t.needs:
        return np.zeros((0, needs.shape[1]), np.int64)
    lack = np.maximum(t.bound[: t.needs, None] - needs, 0)
    levels: Ints = np.add.reduceat(np.maximum.reduceat(lack, t.want_starts), t.level_starts)
    return -(-levels // t.grain)


def _ahead(t: Tables, push: Ints, item: Ints, moves: int) -> list[Ints]:
    """For m = 0 .. moves: the most [R, O + 1] that m items from each place on can add to each row."""
    after = np.zeros((len(push), push.shape[1] + 1), np.int64)
    after[:, :-1] = np.maximum.accumulate(np.maximum(push, 0)[:, ::-1], axis=1)[:, ::-1]

    return [m * after for m in range(moves + 1)]


def _sharpest(push: Ints, bound: Ints) -> Ints:
    """Rows in the order of how many pairs of options break them."""
    count = push.shape[1]
    if not count:
        return np.arange(len(push))
    a = np.arange(400) * 7919 % count
    b = np.arange(400) * 104_729 // 3 % count
    broken = (push[:, a] + push[:, b] < bound[:, None]).sum(axis=1)
    return np.argsort(-broken, kind="stable")
