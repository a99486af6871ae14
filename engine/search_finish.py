"""Completing many partial sets that lack one item.

The partial sets are sorted by the row that rules out most, so that for a few options at a time those that fit
them are one stretch; the next rows are held against the whole stretch, the rest against the survivors only.
"""

from collections.abc import Iterator

import numpy as np

from engine.search_sieve import Sieve
from engine.search_tables import Ints

GROUP = 8
"""Options held at once against the partial sets."""
DENSE = 7
"""Rows held against whole stretches."""
SAMPLE = 768


def finish(sieve: Sieve, picks: Ints) -> Iterator[Ints]:
    """All sets of one item more than picks [n, d] that pass every condition and the bar, in batches."""
    t = sieve.tables
    rows, dense = _arrange(sieve, picks)
    key = sieve.sums(rows[:1], picks)[0]
    order = np.argsort(key, kind="stable")
    picks, key = picks[order], key[order]
    spent, sums = t.reach[picks].sum(axis=1), sieve.sums(rows[:dense], picks)
    options = np.argsort(t.push[rows[0]], kind="stable")
    other = np.flatnonzero((t.push == -t.push[rows[0]]).all(axis=1))
    for begin in range(0, len(options), GROUP):
        group = options[begin : begin + GROUP]
        bound = sieve.bounds()
        push = t.push[rows[:, None], group]
        start = int(np.searchsorted(key, bound[rows[0]] - push[0].max()))
        stop = len(key)
        for row in other:
            stop = min(stop, int(np.searchsorted(key, -bound[row] - push[0].min(), side="right")))
        if start >= stop:
            continue
        sieve.meter.count(len(group) * (stop - start))
        ok = picks[start:stop, -1] < group[:, None]
        need = bound[rows, None] - push
        for r in range(dense):
            ok &= sums[r, start:stop] >= need[r][:, None]
        if (dearest := sieve.dearest()) < np.inf:
            ok &= spent[start:stop] <= (int(dearest) - t.reach[group])[:, None]
        which, parent = np.divmod(np.flatnonzero(ok), stop - start)
        if not len(parent):
            continue
        parent += start
        fine = (sieve.sums(rows[dense:], picks[parent]) >= need[dense:, which]).all(axis=0)
        kids = sieve.sound(np.column_stack([picks[parent[fine]], group[which[fine]]]), 0)
        if len(kids):
            yield kids


def _arrange(sieve: Sieve, picks: Ints) -> tuple[Ints, int]:
    """Rows with a bound, those that rule out most of what is left first, on a fixed sample; and how many of
    those are worth holding against everything."""
    t = sieve.tables
    bound = sieve.bounds()
    rows = np.flatnonzero(bound > -t.far)
    at = np.arange(SAMPLE)
    p, o = at * 7919 % len(picks), at * 104_729 % len(t.item)
    kept = sieve.sums(rows, picks[p]) + t.push[rows[:, None], o] >= bound[rows, None]
    alive = np.ones(SAMPLE, np.bool_)
    chosen: list[int] = []
    while len(chosen) < min(DENSE, len(rows)):
        r = int((kept & alive).sum(axis=1).argmin())
        if r in chosen:
            break
        chosen.append(r)
        alive &= kept[r]
    others = np.setdiff1d(np.arange(len(rows)), chosen)
    return rows[[*chosen, *others.tolist()]], len(chosen)
