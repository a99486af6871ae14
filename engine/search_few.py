"""The best of all sets of few options at once: where they are not many, holding every row against all of them
is sooner done than walking from set to set."""

from collections.abc import Iterator
from math import comb

import numpy as np

from engine.search_scores import Score, costs, less, nothing, score_of, shortfalls_of
from engine.search_sieve import Bar, Meter, Sieve, added, holding
from engine.search_tables import Ints, Tables

MANY = 8_000
"""Up to so many sets are looked at together."""
BLOCK = 256
"""Sets whose cost is worked out at once; those of least shortfall first."""


def how_few(t: Tables, sizes: range) -> tuple[int, int]:
    """The most options of a set, of `sizes`, with which all sets are not too many; and how many these are."""
    options, most, count = len(t.options.item), 0, 0
    for moves in sizes:
        if count + comb(options, moves) > MANY:
            break
        most, count = moves, count + comb(options, moves)
    return most, count


def best_of_few(t: Tables, most: int, plans: int, forbidden: list[Ints]) -> list[Score]:
    """The best `plans` of all sets of at most `most` options, doing nothing among them, best first; none a
    superset of a better one."""
    found: list[Score] = []
    held: list[Ints] = []
    for sets, short, size in _blocks(t, *_allowed(t, most, plans, forbidden)):
        cost, movement = costs(t, sets), t.options.movement.take(sets).sum(axis=0)
        order = np.lexsort((*sets[::-1], movement, cost, size, *short[::-1]))
        items = _items(t, sets.take(order, axis=1))
        free = np.ones(len(order), np.bool_)
        for some in held:
            free &= ~holding(items, some)
        while len(left := np.flatnonzero(free)):
            i = int(order[left[0]])
            found.append(score_of(t, short[:, i], sets[: size[i], i], int(cost[i]), int(movement[i])))
            if len(found) == plans:
                return found
            held.append(items[: size[i], left[0]])
            free &= ~holding(items, held[-1])
    return [*found, nothing(t)]


def _items(t: Tables, sets: Ints) -> Ints:
    """Items of sets of places; none (-1) at the place that fills up."""
    return np.append(t.options.item, -1).take(sets)


def _allowed(t: Tables, most: int, plans: int, forbidden: list[Ints]) -> tuple[Ints, Ints]:
    """The sets [most, n] that keep every row and may still be among the best, with their shortfall; lone
    options first, because what they reach is the bar for the others."""
    bar = Bar(nothing(t)[0], 0, 0)
    singles, short = _below(t, t.options.sets(1), bar, forbidden)
    items = t.options.item.take(singles[0])
    best = {items[i]: i for i in np.lexsort(short[::-1])[::-1].tolist()}
    if len(best) >= plans:
        worst = sorted(tuple(short[:, i].tolist()) for i in best.values())[plans - 1]
        bar = Bar(worst, 1, 0)
    filled = np.full((most, singles.shape[1]), len(t.options.item), np.int64)
    filled[0] = singles
    if most == 1 or not any(bar.short):
        return filled, short
    others, lacking = _below(t, t.options.sets(most)[:, len(t.options.item) :], bar, forbidden)
    return np.concatenate([filled, others], axis=1), np.concatenate([short, lacking], axis=1)


def _below(t: Tables, sets: Ints, bar: Bar, forbidden: list[Ints]) -> tuple[Ints, Ints]:
    """Of sets of more options than the bar has, those that keep every row and lack less, with their
    shortfall."""
    if forbidden:
        items = _items(t, sets)
        sets = sets.compress(~np.any([holding(items, some) for some in forbidden], axis=0), axis=1)
    bounds = Sieve(t, int(bar.moves) + 1, bar, [], Meter(0)).bounds()
    needed = added(t.padded_needs, sets) >= bounds[: len(t.row_level)]
    sets = sets.compress(needed.all(axis=1), axis=1)
    pushed = added(t.padded, sets)
    keep = np.flatnonzero((pushed >= bounds).all(axis=1))
    sets, short = sets.take(keep, axis=1), shortfalls_of(t, pushed[keep, : t.needs])
    better = less(short, bar.short)
    return sets.compress(better, axis=1), short.compress(better, axis=1)


def _blocks(t: Tables, sets: Ints, short: Ints) -> Iterator[tuple[Ints, Ints, Ints]]:
    """Sets, shortfalls and sizes in rising order of shortfall and size, cut where one of these changes."""
    size = np.count_nonzero(sets < len(t.options.item), axis=0)
    if len(size) <= BLOCK:
        yield sets, short, size
        return
    order = np.lexsort((size, *short[::-1]))
    sets, short, size = sets.take(order, axis=1), short.take(order, axis=1), size.take(order)
    changes = (short[:, 1:] != short[:, :-1]).any(axis=0) | (size[1:] != size[:-1])
    borders = np.append(np.flatnonzero(changes) + 1, len(size))
    begin = 0
    while begin < len(size):
        end = int(borders[min(int(borders.searchsorted(begin + BLOCK)), len(borders) - 1)])
        yield sets[:, begin:end], short[:, begin:end], size[begin:end]
        begin = end
