"""Completing many partial sets that lack one item.

The partial sets are sorted by the row that rules out most, so that for a few options at a time those that fit
them are one stretch; the next rows are held against the whole stretch, the rest against the survivors only.
"""

from collections.abc import Iterator

import numpy as np

from engine.search_sieve import Leaves, Sieve
from engine.search_tables import Ints

CELLS = 120_000
"""Pairs of partial set and option held at once against a row."""
DENSE = 7
"""Rows held against whole stretches."""
SAMPLE = 512
BLOCK = 8
"""Rows held against the survivors at once."""
BATCH = 128
"""Finds handed on at once."""


def finish(sieve: Sieve, picks: Ints) -> Iterator[Leaves]:
    """All sets of one item more than picks [d, n] that pass every condition and the bar, in batches."""
    found: list[Ints] = []
    for kids in _fitting(sieve, picks):
        found.append(kids)
        if sum(k.shape[1] for k in found) >= BATCH:
            yield sieve.done(np.concatenate(found, axis=1))
            found = []
    if found:
        yield sieve.done(np.concatenate(found, axis=1))


def _fitting(sieve: Sieve, picks: Ints) -> Iterator[Ints]:
    """Sets of one item more that keep every row, a group of options at a time."""
    t = sieve.tables
    rows, dense = _arrange(sieve, picks)
    picks, key = _sorted(picks, sieve.sums(rows[:1], picks)[0])
    last, spent = picks[-1].astype(np.int32), t.reach[picks].sum(axis=0)
    sums = sieve.sums(rows[:dense], picks)
    options = np.argsort(t.push[rows[0]], kind="stable")
    opposite = np.flatnonzero((t.push == -t.push[rows[0]]).all(axis=1))
    all_push = t.push[rows[:, None], options]
    begin = 0
    while begin < len(options):
        bound = sieve.bounds()
        highest = min((-int(bound[row]) for row in opposite), default=t.far)
        end, start, stop = _stretch(key, all_push[0], begin, int(bound[rows[0]]), highest)
        group, push = options[begin:end], all_push[:, begin:end]
        begin = end
        sieve.meter.count(len(group) * (stop - start))
        ok = last[start:stop] < group.astype(np.int32)[:, None]
        need = bound[rows, None] - push
        for r in range(dense):
            ok &= sums[r, start:stop] >= need[r][:, None]
        if (dearest := sieve.dearest()) < np.inf:
            ok &= spent[start:stop] <= (int(dearest) - t.reach[group])[:, None]
        which, parent = np.divmod(np.flatnonzero(ok), max(stop - start, 1))
        parent += start
        for some in (slice(dense, dense + BLOCK), slice(dense + BLOCK, None)):
            if len(parent):
                lacking = np.ascontiguousarray(need[some].T).take(which, axis=0)
                fine = (sieve.sums_of_each(rows[some], picks[:, parent]) >= lacking).all(axis=1)
                parent, which = parent[fine], which[fine]
        if len(parent):
            yield np.concatenate([picks[:, parent], group[which][None, :]])


def _stretch(key: Ints, push: Ints, begin: int, low: int, high: int) -> tuple[int, int, int]:
    """The end of a group of options (rising push) and the stretch of keys with `low <= key + push <= high`
    for any of
    them, as large as `CELLS` allows."""
    starts = key.searchsorted(low - push[begin:].astype(np.int64))
    stop = int(key.searchsorted(high - int(push[begin]), side="right"))
    cells = np.arange(1, len(starts) + 1) * np.maximum(stop - starts, 0)
    end = begin + max(int(np.count_nonzero(cells <= CELLS)), 1)
    start = int(starts[end - begin - 1])
    return end, start, max(stop, start)


def _sorted(picks: Ints, key: Ints) -> tuple[Ints, Ints]:
    """Picks and keys in rising order of the key, equal keys in the order they came."""
    if key.dtype != np.int32:
        order = np.argsort(key, kind="stable")
        return picks[:, order], key[order]
    packed = np.sort((key.astype(np.int64) << 32) + np.arange(len(key)))
    return picks[:, packed & (2**32 - 1)], packed >> 32


def _arrange(sieve: Sieve, picks: Ints) -> tuple[Ints, int]:
    """Rows with a bound, those that rule out most of what is left first, on a fixed sample; and how many of
    those are worth holding against everything."""
    t = sieve.tables
    bound = sieve.bounds()
    rows = np.flatnonzero(bound > -t.far)
    at = np.arange(SAMPLE)
    p, o = at * 7919 % picks.shape[1], at * 104_729 % len(t.place)
    kept = sieve.sums(rows, picks[:, p]) + t.push[rows[:, None], o] >= bound[rows, None]
    alive = np.ones(SAMPLE, np.bool_)
    chosen: list[int] = []
    while len(chosen) < min(DENSE, len(rows)):
        r = int(np.count_nonzero(kept & alive, axis=1).argmin())
        if r in chosen:
            break
        chosen.append(r)
        alive &= kept[r]
    others = [r for r in np.count_nonzero(kept, axis=1).argsort(kind="stable").tolist() if r not in chosen]
    return rows[[*chosen, *others]], len(chosen)
