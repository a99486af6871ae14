"""The options of a problem: one per item and click, with what each does. They belong to a car at a set-up, so
they are laid out once for all that is asked of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.memo import Memo
from engine.problem import TICK, Array, Item, LinkRow, Problem, ticks

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
WHOLE = round(1 / TICK)
HALF = WHOLE // 2


@dataclass(frozen=True, eq=False)
class Options:
    """O options of I movable items, in order of key, then clicks; C channels. Ticks."""

    keys: tuple[str, ...]  # [I]
    effects: Ints  # [items of the problem, C] per click
    source: Ints  # [O] index of the item in the problem
    item: Ints  # [O] index of the item in `keys`
    clicks: Ints  # [O]
    each: Ints  # [C, O] change of each channel
    starts: Ints  # [I] first option of each item
    apart: Bools  # [I * I] items that may stand together, looked up by `one * I + other`
    movement: Ints  # [O + 1], the last 0

    @cached_property
    def changes(self) -> Ints:
        """`each` with one option's changes side by side [O + 1, C], the last 0."""
        rows = np.zeros((self.each.shape[1] + 1, len(self.each)), np.int64)
        rows[:-1] = self.each.T
        return rows

    def sets(self, most: int) -> Ints:
        """All sets of 1 to `most` options that may stand together [most, n], in rising order of places; the
        place after the last fills up those of fewer."""
        known = self._sets
        while len(known) < most:
            known.append(self._longer(known[-1]) if known else np.arange(len(self.item))[None])
        whole = np.full((most, sum(sets.shape[1] for sets in known[:most])), len(self.item), np.int64)
        begin = 0
        for sets in known[:most]:
            whole[: len(sets), begin : begin + sets.shape[1]] = sets
            begin += sets.shape[1]
        return whole

    @cached_property
    def _sets(self) -> list[Ints]:
        """Sets of 1, 2, ... options, as far as they were asked for."""
        return []

    def _longer(self, sets: Ints) -> Ints:
        """Sets [d, n] with one option more each, in all ways."""
        apart = self.apart.reshape(len(self.keys), -1)[:, self.item]
        ok = np.arange(len(self.item)) > sets[-1][:, None]
        for places in sets:
            ok &= apart[self.item[places]]
        parent, option = np.divmod(np.flatnonzero(ok), max(len(self.item), 1))
        return np.concatenate([sets[:, parent], option[None]])

    def weighed(self, weights: Ints) -> Ints:
        """Weighted sums of channels [sums, C] of each option [sums, O], rounded once per click (half up)."""
        sums: Ints = ((weights @ self.effects.T + HALF) // WHOLE)[:, self.source] * self.clicks
        return sums

    def linked(self, links: Sequence[LinkRow]) -> Ints:
        """Sum of each link row [links, O]."""
        factors = np.zeros((len(links), len(self.effects)), np.int64)
        for i, row in enumerate(links):
            for index, factor in row.terms:
                factors[i, index] += ticks(factor)
        sums: Ints = factors[:, self.source] * self.clicks
        return sums


_OPTIONS: Memo[Options] = Memo(64)


def options_of(problem: Problem) -> Options:
    """The options of a problem; items that cannot move have none."""
    items, ranges = problem.items, problem.ranges()
    known = (ranges, tuple((item.key, item.weight, item.settings) for item in items))
    return _OPTIONS.get((problem.effects,), known, lambda: _laid(items, problem.effects, ranges))


def whole(values: Sequence[float] | Sequence[tuple[float, ...]]) -> Ints:
    """`ticks` of many numbers at once; infinities become a bound no sum reaches."""
    scaled = np.array(values, np.float64) / TICK
    return np.rint(np.minimum(np.maximum(scaled, -(2.0**60)), 2.0**60)).astype(np.int64)


def _laid(items: tuple[Item, ...], effects: Array, ranges: tuple[tuple[int, int], ...]) -> Options:
    movable = [i for i, (low, high) in enumerate(ranges) if low < high]
    order = sorted(movable, key=lambda i: items[i].key)
    low, high = np.array([ranges[i] for i in order], np.int64).reshape(-1, 2).T
    counts = high - low
    item = np.repeat(np.arange(len(order)), counts)
    clicks = np.arange(len(item)) - np.repeat(np.cumsum(counts) - counts - low, counts)
    clicks += clicks >= 0
    source = np.array(order, np.int64)[item]
    per_click = np.rint(effects / TICK).astype(np.int64)
    used = [items[i] for i in order]
    return Options(
        keys=tuple(one.key for one in used),
        effects=per_click,
        source=source,
        item=item,
        clicks=clicks,
        each=per_click[source].T * clicks,
        starts=np.cumsum(counts) - counts,
        apart=_apart(used).ravel(),
        movement=np.append(whole([one.weight for one in used])[item] * abs(clicks), 0),
    )


def _apart(items: Sequence[Item]) -> Bools:
    """Which items [I, I] may stand together: not the same one, no setting in common."""
    names: dict[str, int] = {}
    pairs = [(i, names.setdefault(s, len(names))) for i, item in enumerate(items) for s in item.settings]
    touches = np.zeros((len(items), len(names)), np.float32)
    if pairs:
        touches[tuple(zip(*pairs, strict=True))] = 1.0
    together: Bools = touches @ touches.T == 0
    np.fill_diagonal(together, False)
    return together
