"""A problem laid out for the search: whole numbers, one row per condition, one option per item and click.

Every condition is written as "the options' pushes add up to at least a bound": first the *need* rows (each
want's sum made positive, then its parts), then ceilings, wrong-way pushes, hard bands and link rows. A row
that no choice of options could break is left out.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.problem import TICK, Problem, Want, ticks

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
FAR = 2**50
"""Further than any sum of pushes; stands for "no bound"."""


WHOLE = round(1 / TICK)
HALF = WHOLE // 2


@dataclass(frozen=True, eq=False)
class Tables:
    """Arrays of one problem: I movable items in key order, O options, R rows of which the first N are needs,
    W wants in order of level, B bands. Options that push the needs furthest come first."""

    keys: tuple[str, ...]  # [I]
    item: Ints  # [O]
    clicks: Ints  # [O]
    place: Ints  # [O] place in order of item, then clicks
    by_place: Ints  # [O] option at each place
    push: Ints  # [R, O]
    after: Ints  # [R, O + 1] the most one option from each place on can add, at least 0
    bound: Ints  # [R]
    needs: int  # N
    wants: tuple[tuple[int, slice], ...]  # [W] index of the level, need rows
    levels: int
    row_level: Ints  # [N] index of the level of each need row
    apart: Bools  # [O, O] options that may stand together
    reach: Ints  # [O] cost of moving, ticks squared
    movement: Ints  # [O]
    effect: Ints  # [B, O] change of each band's channel
    side_low: Ints  # [B] price of a change downwards, 0 where that side is not bounded
    side_high: Ints  # [B]
    soft: tuple[Ints, Ints, Ints, Ints]  # which bands are soft, their low, high, penalty per tick beyond
    grain: int

    @cached_property
    def rows(self) -> Ints:
        """`push` with one option's pushes side by side [O, R]."""
        return np.ascontiguousarray(self.push.T)

    @cached_property
    def need_push(self) -> Ints:
        """The need rows of `rows` [O, N]."""
        return np.ascontiguousarray(self.rows[:, : self.needs])

    @cached_property
    def effects(self) -> Ints:
        """`effect` with one option's side by side [O, B]."""
        return np.ascontiguousarray(self.effect.T)

    @cached_property
    def want_starts(self) -> list[int]:
        """The first need row of each want."""
        return [rows.start for _, rows in self.wants]

    @cached_property
    def level_starts(self) -> list[int]:
        """The first want of each level."""
        levels = [level for level, _ in self.wants]
        return [levels.index(level) for level in range(self.levels)]

    @cached_property
    def apart_flat(self) -> Bools:
        """`apart` as one row, to be looked up by `one * O + other`."""
        return self.apart.ravel()

    @property
    def far(self) -> int:
        """A bound further off than this is no bound; sums stay well below it."""
        return FAR if self.push.dtype == np.int64 else 2**30


def lay_out(problem: Problem) -> Tables:
    """Tables of a problem; items that cannot move are left out."""
    effects = np.rint(problem.effects / TICK).astype(np.int64)
    wants = sorted(problem.wants, key=lambda want: want.level)
    ranges = problem.ranges()
    movable = [i for i, (low, high) in enumerate(ranges) if low < high]
    order = sorted(movable, key=lambda i: problem.items[i].key)
    item, source, clicks = _options(order, ranges)
    each = effects[source].T * clicks  # [channels, O]
    needs, need, firsts = _needs(wants, effects, each, source, clicks)
    rest, bound = _others(problem, wants, each, needs, firsts, _links(problem, source) * clicks)
    starts = np.searchsorted(item, np.arange(len(order)))
    binding = _most(-rest, starts, problem.max_moves) > -bound
    push = np.concatenate([needs, rest[binding]])
    by_gain = np.argsort(
        -(needs[firsts] * 1000 // np.maximum(need[firsts], 1)[:, None]).sum(axis=0), kind="stable"
    )
    push = _narrow(push[:, by_gain], problem.max_moves)
    levels = sorted({want.level for want in wants})
    level = [levels.index(want.level) for want in wants]
    sizes = [1 + len(want.parts) for want in wants]
    side = _whole([band.weight for band in problem.bands])
    return Tables(
        keys=tuple(problem.items[i].key for i in order),
        item=item[by_gain],
        clicks=clicks[by_gain],
        place=by_gain,
        by_place=np.argsort(by_gain),
        push=push,
        after=_after(push),
        bound=np.concatenate([need, bound[binding]]),
        needs=len(need),
        wants=tuple((n, slice(f, f + s)) for n, f, s in zip(level, firsts, sizes, strict=True)),
        levels=len(levels),
        row_level=np.repeat(np.array(level, np.int64), sizes),
        apart=_apart(problem, order)[item[by_gain][:, None], item[by_gain]],
        reach=_whole([i.reach for i in problem.items])[source[by_gain]] * WHOLE,
        movement=_whole([i.weight for i in problem.items])[source[by_gain]] * abs(clicks[by_gain]),
        effect=each[[band.channel for band in problem.bands]][:, by_gain],
        side_low=side * np.isfinite([band.low for band in problem.bands]),
        side_high=side * np.isfinite([band.high for band in problem.bands]),
        soft=_soft(problem),
        grain=ticks(problem.grain),
    )


def _narrow(push: Ints, moves: int) -> Ints:
    """Half the width when all sums fit: twice the speed."""
    biggest = max(int(abs(push).max(initial=0)), 1)
    return push.astype(np.int32) if biggest * (moves + 2) < 2**29 else push


def _after(push: Ints) -> Ints:
    after = np.zeros((len(push), push.shape[1] + 1), push.dtype)
    after[:, :-1] = np.maximum.accumulate(np.maximum(push, 0)[:, ::-1], axis=1)[:, ::-1]
    return after


def _whole(values: list[float]) -> Ints:
    """`ticks` of many numbers at once; infinities become a bound no sum reaches."""
    return np.rint(np.clip(np.array(values, np.float64) / TICK, -(2.0**60), 2.0**60)).astype(np.int64)


def _options(order: list[int], ranges: list[tuple[int, int]]) -> tuple[Ints, Ints, Ints]:
    """Place of the item, index of the item, clicks, of every option; 0 clicks is no option."""
    low, high = np.array([ranges[i] for i in order], np.int64).reshape(-1, 2).T
    counts = high - low
    item = np.repeat(np.arange(len(order)), counts)
    clicks = np.arange(len(item)) - np.repeat(np.cumsum(counts) - counts - low, counts)
    return item, np.array(order, np.int64)[item], clicks + (clicks >= 0)


def _needs(
    wants: list[Want], effects: Ints, each: Ints, source: Ints, clicks: Ints
) -> tuple[Ints, Ints, list[int]]:
    """Need rows [N, O], bounds [N], and the first row of each want: its sum, rounded once per click (half
    up), then
    its parts."""
    weights = np.zeros((len(wants), effects.shape[1]), np.int64)
    channels, signs, bound, firsts = [0], [1], [0.0], []
    for i, want in enumerate(wants):
        size, sign = abs(want.target), 1 if want.target > 0 else -1
        firsts.append(len(channels) - 1)
        channels += [0, *(part.channel for part in want.parts)]
        signs += [sign] * (1 + len(want.parts))
        bound += [size * (1 - want.tolerance)] + [size * want.floor] * len(want.parts)
        for part in want.parts:
            weights[i, part.channel] += ticks(part.weight)
    rows = each[channels[1:]]
    rows[firsts] = ((weights @ effects.T + HALF) // WHOLE)[:, source] * clicks
    return rows * np.array(signs[1:], np.int64)[:, None], _whole(bound[1:]), firsts


def _others(
    problem: Problem, wants: list[Want], each: Ints, needs: Ints, firsts: list[int], linked: Ints
) -> tuple[Ints, Ints]:
    """Ceilings, wrong-way pushes, hard bands, links, as rows [., O] with "at least" bounds."""
    ceilings = [-abs(want.target) * (1 + want.tolerance) for want in wants]
    wrong = [-want.undo * abs(want.target) for want in wants for _ in want.parts]
    hard = [band for band in problem.bands if band.penalty is None]
    banded = each[[band.channel for band in hard]]
    parts = np.delete(needs, firsts, axis=0)
    rows = [-needs[firsts], np.minimum(parts, 0), banded, -banded, linked, -linked]
    lows, highs = [band.low for band in hard], [-band.high for band in hard]
    links = [row.low for row in problem.links] + [-row.high for row in problem.links]
    return np.concatenate(rows), _whole(ceilings + wrong + lows + highs + links)


def _links(problem: Problem, source: Ints) -> Ints:
    """Factor of each link row per click of each option [links, O]."""
    factors = np.zeros((len(problem.links), len(problem.items)), np.int64)
    for i, row in enumerate(problem.links):
        for index, factor in row.terms:
            factors[i, index] += ticks(factor)
    return factors[:, source]


def _most(rows: Ints, starts: Ints, moves: int) -> Ints:
    """The most that any `moves` items can add to each row [R, O]."""
    if not rows.size:
        return np.zeros(len(rows), np.int64)
    best = np.maximum(np.maximum.reduceat(rows, starts, axis=1), 0)
    rest = best.shape[1] - moves
    total: Ints = (np.partition(best, rest, axis=1)[:, rest:] if 0 < rest < best.shape[1] else best).sum(
        axis=1
    )
    return total


def _apart(problem: Problem, order: list[int]) -> Bools:
    """Which items may stand together: not the same one, no setting in common."""
    names: dict[str, int] = {}
    pairs = [
        (i, names.setdefault(s, len(names))) for i, o in enumerate(order) for s in problem.items[o].settings
    ]
    touches = np.zeros((len(order), len(names)), np.float32)
    if pairs:
        touches[tuple(zip(*pairs, strict=True))] = 1.0
    together: Bools = touches @ touches.T == 0
    np.fill_diagonal(together, False)
    return together


def _soft(problem: Problem) -> tuple[Ints, Ints, Ints, Ints]:
    soft = [(i, band) for i, band in enumerate(problem.bands) if band.penalty is not None]
    return (
        np.array([i for i, _ in soft], np.int64),
        _whole([band.low for _, band in soft]),
        _whole([band.high for _, band in soft]),
        _whole([band.penalty or 0.0 for _, band in soft]),
    )
