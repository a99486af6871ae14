"""The walk over sets of options: every set that could still be wanted, in chunks.

A set grows by options that come later in the order of the tables, so each set is met once. While more than
one item is lacking, a set is kept if every row can still be reached by what comes later. Where many sets lack
their last item, it is found by `engine.search_finish`.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from engine.search_finish import finish
from engine.search_scores import shortfalls
from engine.search_sieve import Leaves, Sieve, added
from engine.search_tables import Bools, Ints

FIRST = 48
"""Partial sets completed first: the most promising, because what they give lowers the bar for the rest."""
FEW = 240
"""Up to so many partial sets are completed at once."""
DENSE = 8
"""Rows held against all sets; the needs come first."""
CELLS = 200_000
"""Up to so many sums all rows are held against all sets."""
SAMPLE = 1024
"""Partial sets the first are taken from."""
CHUNK = 512
"""Partial sets extended at once."""


def walk(sieve: Sieve) -> Iterator[Leaves]:
    """Sets of `moves` options that pass every condition and the bar, in batches."""
    for batch in _below(sieve, np.zeros((0, 1), np.int64)):
        if batch.picks.shape[1]:
            yield batch


def _below(sieve: Sieve, picks: Ints) -> Iterator[Leaves]:
    if len(picks) == sieve.moves - 1:
        yield from _complete(sieve, picks)
        return
    for begin in range(0, picks.shape[1], CHUNK):
        kids = _extend(sieve, picks[:, begin : begin + CHUNK])
        if kids.shape[1]:
            yield from _below(sieve, kids)


def _complete(sieve: Sieve, picks: Ints) -> Iterator[Leaves]:
    """All sets of one item more than picks [d, n]; the most promising picks first."""
    if picks.shape[1] <= FEW:
        yield _last(sieve, picks)
        return
    some = np.arange(0, picks.shape[1], 1 + picks.shape[1] // SAMPLE)
    lack = shortfalls(sieve.tables, picks[:, some]).sum(axis=0)
    first = some[np.argsort(lack, kind="stable")[:FIRST]]
    yield _last(sieve, picks[:, first])
    rest = np.ones(picks.shape[1], np.bool_)
    rest[first] = False
    picks = _hopeful(sieve, sieve.sound(picks[:, rest], 1))
    if 0 < picks.shape[1] <= FEW:
        yield _last(sieve, picks)
    elif picks.shape[1]:
        yield from finish(sieve, picks)


def _hopeful(sieve: Sieve, picks: Ints) -> Ints:
    """Of sets [d, n] that lack one item: those it may still complete, as the bar is now."""
    t = sieve.tables
    most = added(t.rows, picks) + t.afters.take(picks[-1] + 1, axis=0)
    return picks.compress((most >= sieve.bounds()).all(axis=1), axis=1)


def _extend(sieve: Sieve, picks: Ints) -> Ints:
    """Sets of one item more, of those that `left` further items may still complete."""
    t, left = sieve.tables, sieve.moves - len(picks) - 1
    ok, start = _later(sieve, picks)
    rows, bound = sieve.bounded()
    potential = t.push[rows, start:] + left * t.after[rows, start + 1 :]
    short = bound - sieve.sums(rows, picks)
    if len(rows) * ok.size <= CELLS:
        ok &= _reached(potential, short)
    else:
        for r in _worth_it(potential, short):
            ok &= potential[r] >= short[r][:, None]
    parent, option = _pairs(ok)
    return sieve.sound(np.concatenate([picks.take(parent, axis=1), option[None, :] + start]), left)


def _last(sieve: Sieve, picks: Ints) -> Leaves:
    """Whole sets of one item more; where they are many, the needs are held against all of them, the other
    rows against the survivors."""
    t = sieve.tables
    ok, start = _later(sieve, picks)
    rows, bound = sieve.bounded()
    every = len(rows) * ok.size <= CELLS
    if not every:
        rows, bound = rows[:DENSE], bound[:DENSE]
    ok &= _reached(t.push[rows, start:], bound - sieve.sums(rows, picks))
    parent, option = _pairs(ok)
    kids = np.concatenate([picks.take(parent, axis=1), option[None, :] + start])
    return sieve.done(kids if every else kids.compress(sieve.keeping(kids), axis=1))


def _reached(most: Ints, short: Ints) -> Bools:
    """Where `most` [rows, O] is not below `short` [rows, n] on any row, as [n, O]."""
    return np.asarray((most[:, None, :] >= short[:, :, None]).all(axis=0))


def _later(sieve: Sieve, picks: Ints) -> tuple[Bools, int]:
    """Which options [n, options from the returned place on] come later than each pick."""
    count = len(sieve.tables.place)
    first = picks[-1] + 1 if len(picks) else np.zeros(picks.shape[1], np.int64)
    start = int(first.min())
    sieve.meter.count(picks.shape[1] * (count - start))
    return np.arange(start, count) >= first[:, None], start


def _pairs(ok: Bools) -> tuple[Ints, Ints]:
    """Row and column of what is True, row by row (much faster than `nonzero`)."""
    parent, column = np.divmod(np.flatnonzero(ok), max(ok.shape[1], 1))
    return parent, column


def _worth_it(potential: Ints, short: Ints) -> list[int]:
    """Rows that rule out more than a fiftieth, on a sample; leaving out the others costs no plan, only time
    later."""
    some, few = potential[:, :: 1 + potential.shape[1] // 30], short[:, :: 1 + short.shape[1] // 30]
    kept: NDArray[np.float64] = (some[:, None, :] >= few[:, :, None]).mean(axis=(1, 2))
    return [r for r in np.argsort(kept, kind="stable").tolist() if kept[r] < 0.98]
