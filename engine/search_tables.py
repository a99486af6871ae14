"""A problem laid out for the search: whole numbers, one row per condition, one option per item and click.

Every condition is written as "the options' pushes add up to at least a bound": first the *need* rows (each
want's sum made positive, then its parts), then sums of several wants of a level (what these lack together is
no more than the level does), then ceilings, wrong-way pushes, hard bands and link rows. A row
that no choice of options could break is left out.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from engine.problem import Problem, Want, ticks
from engine.search_options import WHOLE, Bools, Ints, Options, options_of, whole

MOST_SUMMED = 5
"""Wants of a level whose sums are rows; more would make too many."""
FAR = 2**50
"""Further than any sum of pushes; stands for "no bound"."""


@dataclass(frozen=True, eq=False)
class Tables:
    """Arrays of one problem: O options, R rows of which the first N are needs, W wants in order of level, B
    bands. Options that push the needs furthest come first."""

    options: Options
    costs: Ints  # [O + 1] cost of moving the option at each place of `options`, ticks squared; then 0
    plain: Ints  # [R, O] pushes of the option at each place
    bound: Ints  # [R]
    needs: int  # N
    wants: tuple[tuple[int, slice], ...]  # [W] index of the level, need rows
    levels: int
    row_level: Ints  # index of the level of each need row and of each sum of wants, which follow them
    bands: Ints  # [B] channel of each band
    side_low: Ints  # [B] price of a change downwards, 0 where that side is not bounded
    side_high: Ints  # [B]
    soft: tuple[Ints, Ints, Ints, Ints]  # which bands are soft, their low, high, penalty per tick beyond
    grain: int

    @property
    def keys(self) -> tuple[str, ...]:
        """The items [I]."""
        return self.options.keys

    @cached_property
    def place(self) -> Ints:
        """The place of each option [O] in the order of the search."""
        first = self.want_starts
        share = self.plain[first].astype(np.int64) * 1000 // np.maximum(self.bound[first], 1)[:, None]
        return np.argsort(-share.sum(axis=0), kind="stable")

    @cached_property
    def push(self) -> Ints:
        """Pushes of each option [R, O]."""
        return self.plain.take(self.place, axis=1)

    @cached_property
    def padded(self) -> Ints:
        """`plain` with one place's pushes side by side, and a place more that pushes nothing [O + 1, R]."""
        rows = np.zeros((self.plain.shape[1] + 1, len(self.plain)), self.plain.dtype)
        rows[:-1] = self.plain.T
        return rows

    @cached_property
    def padded_needs(self) -> Ints:
        """The need rows of `padded`, and the sums of wants."""
        return np.ascontiguousarray(self.padded[:, : len(self.row_level)])

    @cached_property
    def item(self) -> Ints:
        """The item of each option [O]."""
        return self.options.item.take(self.place)

    @cached_property
    def clicks(self) -> Ints:
        """Clicks of each option [O]."""
        return self.options.clicks.take(self.place)

    @cached_property
    def reach(self) -> Ints:
        """Cost of moving [O], ticks squared."""
        return self.costs.take(self.place)

    @cached_property
    def rows(self) -> Ints:
        """`push` with one option's pushes side by side [O, R]."""
        return np.ascontiguousarray(self.push.T)

    @cached_property
    def after(self) -> Ints:
        """The most one option from each place on can add to a row, at least 0 [R, O + 1]."""
        after = np.zeros((len(self.push), self.push.shape[1] + 1), self.push.dtype)
        after[:, :-1] = np.maximum.accumulate(np.maximum(self.push, 0)[:, ::-1], axis=1)[:, ::-1]
        return after

    @cached_property
    def afters(self) -> Ints:
        """`after` with what is after one option side by side [O + 1, R]."""
        return np.ascontiguousarray(self.after.T)

    @cached_property
    def need_push(self) -> Ints:
        """The need rows of `rows` [O, N]."""
        return np.ascontiguousarray(self.rows[:, : self.needs])

    @cached_property
    def want_starts(self) -> list[int]:
        """The first need row of each want."""
        return [rows.start for _, rows in self.wants]

    @cached_property
    def level_starts(self) -> list[int]:
        """The first want of each level."""
        levels = [level for level, _ in self.wants]
        return [levels.index(level) for level in range(self.levels)]

    @property
    def far(self) -> int:
        """A bound further off than this is no bound; sums stay well below it."""
        return FAR if self.plain.dtype == np.int64 else 2**30


def lay_out(problem: Problem) -> Tables:
    """Tables of a problem; items that cannot move are left out."""
    options = options_of(problem)
    wants = sorted(problem.wants, key=lambda want: want.level)
    needs, firsts = _needs(wants, options)
    bounds = whole([*_least(wants), *_others_least(problem, wants), *(b.weight for b in problem.bands)])
    end = len(bounds) - len(problem.bands)
    need, rest, side = bounds[: len(needs)], bounds[len(needs) : end], bounds[end:]
    rows = _others(problem, options, needs, firsts)
    binding = np.flatnonzero(_least_of(rows, options.starts, problem.max_moves) < rest)
    levels = sorted({want.level for want in wants})
    level = [levels.index(want.level) for want in wants]
    sizes = [1 + len(want.parts) for want in wants]
    several = _several(level)
    summed = np.zeros((len(several), len(needs)), np.int64)
    for i, some in enumerate(several):
        summed[i, [firsts[want] for want in some]] = 1
    push = np.concatenate([needs, summed @ needs, rows[binding]])
    return Tables(
        options=options,
        costs=np.append(whole([item.reach for item in problem.items])[options.source] * WHOLE, 0),
        plain=_narrow(push, problem.max_moves),
        bound=np.concatenate([need, summed @ need, rest[binding]]),
        needs=len(needs),
        wants=tuple((n, slice(f, f + s)) for n, f, s in zip(level, firsts, sizes, strict=True)),
        levels=len(levels),
        row_level=np.array([*np.repeat(level, sizes), *(level[some[0]] for some in several)], np.int64),
        bands=np.array([band.channel for band in problem.bands], np.int64),
        side_low=side * np.isfinite([band.low for band in problem.bands]),
        side_high=side * np.isfinite([band.high for band in problem.bands]),
        soft=_soft(problem),
        grain=ticks(problem.grain),
    )


def _several(level: list[int]) -> list[tuple[int, ...]]:
    """Sets of two and more wants of the same level, given the level of each."""
    found: list[tuple[int, ...]] = []
    for one in dict.fromkeys(level):
        own = [want for want, its in enumerate(level) if its == one][:MOST_SUMMED]
        found += [some for size in range(2, len(own) + 1) for some in combinations(own, size)]
    return found


def _narrow(push: Ints, moves: int) -> Ints:
    """Half the width when all sums fit: twice the speed."""
    biggest = max(int(push.max(initial=0)), -int(push.min(initial=0)), 1)
    return push.astype(np.int32) if biggest * (moves + 2) < 2**29 else push


def _needs(wants: list[Want], options: Options) -> tuple[Ints, list[int]]:
    """Need rows [N, O] and the first row of each want: its sum, rounded once per click (half up), then its
    parts."""
    weights = np.zeros((len(wants), options.effects.shape[1]), np.int64)
    channels, signs, firsts = [0], [1], []
    for i, want in enumerate(wants):
        firsts.append(len(channels) - 1)
        channels += [0, *(part.channel for part in want.parts)]
        signs += [1 if want.target > 0 else -1] * (1 + len(want.parts))
        for part in want.parts:
            weights[i, part.channel] += ticks(part.weight)
    rows = options.each[channels[1:]]
    rows[firsts] = options.weighed(weights)
    return rows * np.array(signs[1:], np.int64)[:, None], firsts


def _least(wants: list[Want]) -> list[float]:
    """The least of each need row [N]."""
    found = []
    for want in wants:
        size = abs(want.target)
        found += [size * (1 - want.tolerance)] + [size * want.floor] * len(want.parts)
    return found


def _others(problem: Problem, options: Options, needs: Ints, firsts: list[int]) -> Ints:
    """Ceilings, wrong-way pushes, hard bands, links, as rows [., O] with "at least" bounds."""
    banded = options.each[[band.channel for band in problem.bands if band.penalty is None]]
    linked = options.linked(problem.links)
    parts = np.minimum(needs[[i for i in range(len(needs)) if i not in firsts]], 0)
    return np.concatenate([-needs[firsts], parts, banded, -banded, linked, -linked])


def _others_least(problem: Problem, wants: list[Want]) -> list[float]:
    """The least of each row of `_others`."""
    hard = [band for band in problem.bands if band.penalty is None]
    return [
        *(-abs(want.target) * (1 + want.tolerance) for want in wants),
        *(-want.undo * abs(want.target) for want in wants for _ in want.parts),
        *(band.low for band in hard),
        *(-band.high for band in hard),
        *(row.low for row in problem.links),
        *(-row.high for row in problem.links),
    ]


def _least_of(rows: Ints, starts: Ints, moves: int) -> Ints:
    """The least that any `moves` items can make of each row [R, O]."""
    if not rows.size:
        return np.zeros(len(rows), np.int64)
    worst = np.minimum(np.minimum.reduceat(rows, starts, axis=1), 0)
    if moves < worst.shape[1]:
        worst = np.partition(worst, moves, axis=1)[:, :moves]
    total: Ints = worst.sum(axis=1)
    return total


_HARD = (np.zeros(0, np.int64),) * 4


def _soft(problem: Problem) -> tuple[Ints, Ints, Ints, Ints]:
    soft = [(i, band) for i, band in enumerate(problem.bands) if band.penalty is not None]
    if not soft:
        return _HARD
    low, high, penalty = whole([(b.low, b.high, b.penalty or 0.0) for _, b in soft]).reshape(-1, 3).T
    return np.array([i for i, _ in soft], np.int64), low, high, penalty


__all__ = ["FAR", "Bools", "Ints", "Tables", "lay_out"]
