"""The walk over sets of options: every set that could still be wanted, in chunks.

A set grows by options that come later in the order of the tables, so each set is met once. While more than
one item is lacking, a set is kept if every row can still be reached by what comes later. The last item is
found by `engine.search_finish`.
"""

from collections.abc import Iterator

import numpy as np

from engine.search_finish import finish
from engine.search_scores import shortfalls
from engine.search_sieve import Sieve
from engine.search_tables import Ints

FIRST = 48
"""Partial sets completed first: the most promising, because what they give lowers the bar for the rest."""
CHUNK = 512
"""Partial sets extended at once."""


def walk(sieve: Sieve) -> Iterator[Ints]:
    """Sets [n, moves] of options that pass every condition and the bar, in batches."""
    for batch in _below(sieve, np.zeros((1, 0), np.int64), sieve.moves):
        if len(batch):
            yield batch


def _below(sieve: Sieve, picks: Ints, left: int) -> Iterator[Ints]:
    if left == 1:
        yield from _complete(sieve, picks)
        return
    for begin in range(0, len(picks), CHUNK):
        kids = _extend(sieve, picks[begin : begin + CHUNK], left)
        if len(kids):
            yield from _below(sieve, kids, left - 1)


def _complete(sieve: Sieve, picks: Ints) -> Iterator[Ints]:
    """All sets of one item more than picks [n, d]; the most promising picks first."""
    if len(picks) <= FIRST:
        yield _extend(sieve, picks, 1)
        return
    lack = shortfalls(sieve.tables, picks).sum(axis=0)
    first = np.sort(np.argpartition(lack * len(picks) + np.arange(len(picks)), FIRST)[:FIRST])
    yield _extend(sieve, picks[first], 1)
    rest = sieve.sound(np.delete(picks, first, axis=0), 1)
    if len(rest):
        yield from finish(sieve, rest)


def _extend(sieve: Sieve, picks: Ints, left: int) -> Ints:
    """Sets of one item more, of those that `left` - 1 further items may still complete."""
    t = sieve.tables
    first = picks[:, -1] + 1 if picks.shape[1] else np.zeros(len(picks), np.int64)
    start, count = int(first.min()), len(t.item) - int(first.min())
    sieve.meter.count(len(picks) * count)
    ok = np.arange(start, len(t.item)) >= first[:, None]
    bound = sieve.bounds()
    rows = np.flatnonzero(bound > -t.far)
    potential = t.push[rows, start:]
    if left > 1:
        potential = potential + (left - 1) * t.after[rows, start + 1 :]
    short = bound[rows, None] - sieve.sums(rows, picks)
    for r in np.flatnonzero(short.max(axis=1) > potential.min(axis=1, initial=0)):
        ok &= potential[r] >= short[r][:, None]
    parent, option = np.divmod(np.flatnonzero(ok), max(count, 1))
    return sieve.sound(np.column_stack([picks[parent], option + start]), left - 1)
