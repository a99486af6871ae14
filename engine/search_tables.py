"""A problem laid out for the search: whole numbers, one row per condition, one option per item and click.

Every condition is written as "the options' pushes add up to at least a bound": first the *need* rows (each
want's sum made positive, then its parts), then ceilings, wrong-way pushes, hard bands and link rows. A row
that no choice of options could break is left out.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.problem import TICK, Problem, Want, ticks

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
FAR = 2**50
"""Further than any sum of pushes; stands for "no bound"."""


@dataclass(frozen=True, eq=False)
class Tables:
    """Arrays of one problem: I movable items, O options sorted by item, R rows of which the first N are
    needs, B bands."""

    keys: tuple[str, ...]  # [I]
    item: Ints  # [O]
    clicks: Ints  # [O]
    starts: Ints  # [I] first option of each item
    push: Ints  # [R, O]
    bound: Ints  # [R]
    needs: int  # N
    want_starts: Ints  # need rows by want
    level_starts: Ints  # wants by level
    row_level: Ints  # [N] index of the level of each need row
    apart: Bools  # [O, O] options that may stand together
    reach: Ints  # [O] cost of moving, ticks squared
    movement: Ints  # [O]
    effect: Ints  # [B, O] change of each band's channel
    side_low: Ints  # [B] price of a change downwards, 0 where that side is not bounded
    side_high: Ints  # [B]
    soft: tuple[Ints, Ints, Ints, Ints]  # which bands are soft, their low, high, penalty per tick beyond
    grain: int


def lay_out(problem: Problem) -> Tables:
    """Tables of a problem, items in key order; items that cannot move are left out."""
    effects = np.rint(problem.effects / TICK).astype(np.int64)
    wants = sorted(problem.wants, key=lambda want: want.level)
    ranges = problem.ranges()
    movable = [i for i, (low, high) in enumerate(ranges) if low < high]
    order = sorted(movable, key=lambda i: problem.items[i].key)
    chosen = [
        (place, i, c) for place, i in enumerate(order) for c in range(ranges[i][0], ranges[i][1] + 1) if c
    ]
    item, source, clicks = np.array(chosen, np.int64).reshape(-1, 3).T.copy()
    per_click = effects[source].T  # [channels, O]
    each = per_click * clicks
    sums, need, starts, levels = _needs(wants, per_click, clicks)
    starts_of_items = np.searchsorted(item, np.arange(len(order)))
    rest, bound = _others(problem, wants, each, sums, source, clicks)
    binding = _most(-rest, starts_of_items, problem.max_moves) > -bound
    channels = [band.channel for band in problem.bands]
    reach = np.array([ticks(i.reach) for i in problem.items], np.int64)
    weight = np.array([ticks(i.weight) for i in problem.items], np.int64)
    side = np.array([ticks(band.weight) for band in problem.bands], np.int64)
    row_want = np.searchsorted(starts, np.arange(len(need)), side="right") - 1
    return Tables(
        keys=tuple(problem.items[i].key for i in order),
        item=item,
        clicks=clicks,
        starts=starts_of_items,
        push=np.concatenate([sums, rest[binding]]),
        bound=np.concatenate([need, bound[binding]]),
        needs=len(need),
        want_starts=starts,
        level_starts=np.searchsorted(levels, np.arange(levels[-1] + 1 if len(levels) else 0)),
        row_level=levels[row_want],
        apart=_apart(problem, order)[np.ix_(item, item)],
        reach=reach[source] * round(1 / TICK),
        movement=weight[source] * abs(clicks),
        effect=each[channels],
        side_low=side * np.array([np.isfinite(band.low) for band in problem.bands], np.bool_),
        side_high=side * np.array([np.isfinite(band.high) for band in problem.bands], np.bool_),
        soft=_soft(problem),
        grain=ticks(problem.grain),
    )


def _needs(wants: list[Want], per_click: Ints, clicks: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """Need rows [N, O] and bounds [N], first row of each want, level index of each want."""
    rows: list[Ints] = []
    bound: list[int] = []
    starts: list[int] = []
    for want in wants:
        starts.append(len(rows))
        signed = clicks if want.target > 0 else -clicks
        size = abs(want.target)
        rows.append(_weighted(want, per_click) * signed)
        bound.append(ticks(size * (1 - want.tolerance)))
        rows += [per_click[part.channel] * signed for part in want.parts]
        bound += [ticks(size * want.floor)] * len(want.parts)
    levels = sorted({want.level for want in wants})
    return (
        np.array(rows, np.int64).reshape(-1, len(clicks)),
        np.array(bound, np.int64),
        np.array(starts, np.int64),
        np.array([levels.index(want.level) for want in wants], np.int64),
    )


def _weighted(want: Want, per_click: Ints) -> Ints:
    """The weighted sum of a want's parts per click of each option, rounded once."""
    weights = np.array([ticks(part.weight) for part in want.parts], np.int64)
    sums = weights @ per_click[[part.channel for part in want.parts]]
    rounded: Ints = np.rint(sums * TICK).astype(np.int64)
    return rounded


def _others(
    problem: Problem, wants: list[Want], each: Ints, sums: Ints, source: Ints, clicks: Ints
) -> tuple[Ints, Ints]:
    """Ceilings, wrong-way pushes, hard bands, links, as rows [., O] with "at least" bounds."""
    rows: list[Ints] = []
    bound: list[int] = []
    first = 0
    for want in wants:
        size, sign = abs(want.target), 1 if want.target > 0 else -1
        rows.append(-sums[first])
        bound.append(-ticks(size * (1 + want.tolerance)))
        rows += [np.minimum(sign * each[part.channel], 0) for part in want.parts]
        bound += [-ticks(want.undo * size)] * len(want.parts)
        first += 1 + len(want.parts)
    for band in problem.bands:
        if band.penalty is None:
            rows += [each[band.channel], -each[band.channel]]
            bound += [ticks(band.low), -ticks(band.high)]
    for row in problem.links:
        factors = np.zeros(len(problem.items), np.int64)
        for index, factor in row.terms:
            factors[index] += ticks(factor)
        total = factors[source] * clicks
        rows += [total, -total]
        bound += [ticks(row.low), -ticks(row.high)]
    return np.array(rows, np.int64).reshape(-1, each.shape[1]), np.array(bound, np.int64)


def _most(rows: Ints, starts: Ints, moves: int) -> Ints:
    """The most that any `moves` items can add to each row [R, O]."""
    if not rows.size:
        return np.zeros(len(rows), np.int64)
    best = np.sort(np.maximum(np.maximum.reduceat(rows, starts, axis=1), 0), axis=1)
    total: Ints = best[:, max(best.shape[1] - moves, 0) :].sum(axis=1)
    return total


def _apart(problem: Problem, order: list[int]) -> Bools:
    """Which items may stand together: not the same one, no setting in common."""
    names = sorted({s for i in order for s in problem.items[i].settings})
    touches = np.array([[s in problem.items[i].settings for s in names] for i in order], np.int64)
    touches = touches.reshape(len(order), len(names))
    together: Bools = (touches @ touches.T == 0) & ~np.eye(len(order), dtype=np.bool_)
    return together


def _soft(problem: Problem) -> tuple[Ints, Ints, Ints, Ints]:
    soft = [(i, band) for i, band in enumerate(problem.bands) if band.penalty is not None]
    return (
        np.array([i for i, _ in soft], np.int64),
        np.array([ticks(band.low) for _, band in soft], np.int64),
        np.array([ticks(band.high) for _, band in soft], np.int64),
        np.array([ticks(band.penalty or 0.0) for _, band in soft], np.int64),
    )
