"""What plans are compared by, and the best plans found so far."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from engine.problem import Plan, Problem, Want
from engine.search_tables import Bools, Ints, Tables

Score = tuple[tuple[int, ...], int, int, int, tuple[tuple[str, int], ...]]
"""Shortfall in grains per level, moves, cost in ticks squared, movement in ticks, (key, clicks) in key
order."""


@dataclass(eq=False)
class Best:
    """The best plans so far, one per set of items, none a superset of a better one; not empty.

    Plans must be offered in order of size: then a better subset of a set is always there before it, so what
    was dropped never has to come back."""

    tables: Tables
    plans: int
    scores: list[Score]
    sets: list[frozenset[str]] = field(init=False)

    def __post_init__(self) -> None:
        self.sets = [keys_of(score) for score in self.scores]

    def offer(self, picks: Ints, short: Ints) -> None:
        """Take what is good enough among whole sets [moves, n] of options with their shortfall
        [levels, n]."""
        t, moves = self.tables, len(picks)
        fresh = self._fresh(t.item.take(picks), short)
        if not fresh.all():
            picks, short = picks.compress(fresh, axis=1), short.compress(fresh, axis=1)
        if not picks.shape[1]:
            return
        places = np.sort(t.place.take(picks), axis=0)
        cost, movement = costs(t, places), t.options.movement.take(places).sum(axis=0)
        taken: set[tuple[int, ...]] = set()
        for i in np.lexsort((*places[::-1], movement, cost, *short[::-1])).tolist():
            own = (tuple(short[:, i].tolist()), moves, int(cost[i]), int(movement[i]))
            if len(taken) == self.plans or own > self.scores[-1][:4]:
                break
            items = tuple(t.options.item[places[:, i]].tolist())
            if items not in taken and self.add(score_of(t, short[:, i], places[:, i], *own[2:])):
                taken.add(items)

    def _fresh(self, items: Ints, short: Ints) -> Bools:
        """Which of some plans (items [moves, n], shortfall [levels, n]) hold no smaller set that does as
        well."""
        fresh = np.ones(items.shape[1], np.bool_)
        for score, keys in zip(self.scores, self.sets, strict=True):
            if len(keys) < len(items):
                inside = ~less(short, score[0])
                for key in keys:
                    inside &= (items == self.tables.keys.index(key)).any(axis=0)
                fresh &= ~inside
        return fresh

    def add(self, score: Score) -> bool:
        """Take one plan if it is good enough."""
        keys = keys_of(score)
        for other, others in zip(self.scores, self.sets, strict=True):
            if others <= keys and other <= score:
                return False
        kept = [other for other, others in zip(self.scores, self.sets, strict=True) if others != keys]
        self.scores = sorted([*kept, score])[: self.plans]
        self.sets = [keys_of(other) for other in self.scores]
        return score in self.scores


def less(short: Ints, other: tuple[float, ...]) -> Bools:
    """Which shortfalls [levels, n] are less than another, the first level that differs deciding."""
    less, level = np.zeros(short.shape[1], np.bool_), np.ones(short.shape[1], np.bool_)
    for column, limit in zip(short, other, strict=True):
        less |= level & (column < limit)
        level &= column == limit
    return less


def keys_of(score: Score) -> frozenset[str]:
    """The set of items a score moves."""
    return frozenset(key for key, _ in score[4])


def nothing(t: Tables) -> Score:
    """The score of doing nothing."""
    short = shortfalls(t, np.zeros((0, 1), np.int64))[:, 0]
    return (tuple(short.tolist()), 0, 0, 0, ())


def shortfalls(t: Tables, picks: Ints) -> Ints:
    """Shortfall [levels, n] in whole grains of picks [d, n]."""
    pushed = np.zeros((picks.shape[1], t.needs), np.int64)
    for pick in picks:
        pushed += t.need_push.take(pick, axis=0)
    return shortfalls_of(t, pushed)


def shortfalls_of(t: Tables, pushed: Ints) -> Ints:
    """Shortfall [levels, n] in whole grains where the need rows are pushed so far [n, N]."""
    if not t.needs:
        return np.zeros((t.levels, len(pushed)), np.int64)
    lack = t.bound[: t.needs] - pushed
    worst = np.maximum(np.maximum.reduceat(lack, t.want_starts, axis=1), 0)
    total = np.add.reduceat(worst, t.level_starts, axis=1) if t.levels < len(t.wants) else worst
    return np.ascontiguousarray(-(-total.T // t.grain))


def score_of(t: Tables, short: Ints, places: Ints, cost: int, movement: int) -> Score:
    """The score of one set, given by its places in rising order."""
    items, clicks = t.options.item[places].tolist(), t.options.clicks[places].tolist()
    moved = tuple(zip((t.keys[i] for i in items), clicks, strict=True))
    return tuple(short.tolist()), len(places), cost, movement, moved


def costs(t: Tables, places: Ints) -> Ints:
    """Cost [n] of whole sets [moves, n] of options, given by their places, in ticks squared: reach,
    worst side effect, penalties."""
    reach: Ints = t.costs.take(places).sum(axis=0)
    if not len(t.bands):
        return reach
    change = np.zeros((places.shape[1], t.options.changes.shape[1]), np.int64)
    for place in places:
        change += t.options.changes.take(place, axis=0)
    delta = change.take(t.bands, axis=1)
    side = np.maximum(delta * t.side_high, delta * -t.side_low).max(axis=1)
    soft, low, high, penalty = t.soft
    if len(soft):
        over = np.maximum(np.maximum(delta[:, soft] - high, low - delta[:, soft]), 0)
        reach = reach + over @ penalty
    total: Ints = reach + np.maximum(side, 0)
    return total


def plan_of(problem: Problem, score: Score) -> Plan:
    """A score as a plan, its figures computed afresh from the problem."""
    index = [problem.index[key] for key, _ in score[4]]
    moved = [(problem.items[i], count) for i, (_, count) in zip(index, score[4], strict=True)]
    delta = np.array([count for _, count in moved], np.float64) @ problem.rounded[index]
    changes = delta.tolist()
    at, down, up = problem.sides
    here = delta[at]
    side = float(np.maximum(here * up, -here * down).max(initial=0.0))
    soft = [(b, changes[b.channel], b.penalty) for b in problem.bands if b.penalty is not None]
    penalty = sum(price * max(d - b.high, b.low - d, 0.0) for b, d, price in soft)
    return Plan(
        clicks=score[4],
        shortfall=tuple(round(s * problem.grain, 6) for s in score[0]),
        lacking=tuple((want.key, _lack(want, changes)) for want in problem.wants),
        reach=round(sum(item.reach for item, _ in moved), 6),
        side=round(side, 6) + 0.0,
        penalty=round(penalty, 6),
        movement=round(sum(item.weight * abs(count) for item, count in moved), 6),
        delta=tuple(np.round(delta, 6).tolist()),
    )


def _lack(want: Want, delta: Sequence[float]) -> float:
    """What a want lacks, in channel units."""
    sign = 1 if want.target > 0 else -1
    size = abs(want.target)
    total = sign * sum(part.weight * delta[part.channel] for part in want.parts)
    parts = [want.floor * size - sign * delta[part.channel] for part in want.parts]
    return round(max(size * (1 - want.tolerance) - total, *parts, 0.0), 4)
