"""A problem laid out for the search: whole numbers, one row per condition, one option per item and click.

Rows are written so that every want is positive: first the *need* rows (each want's sum, then each of its
parts), then the wrong-way pushes, the hard bands and the link rows. Contributions of options simply add up,
so `reach` can say how far any `m` of the items still to come could push each row.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.problem import TICK, Problem, Want, ticks

Ints = NDArray[np.int64]
FAR = 2**60


@dataclass(frozen=True, eq=False)
class Tables:
    """Arrays of one problem. O options sorted by item position, R rows, N need rows, L levels.

    `push` [O, R]; `low`, `high` [R] without the needs; `need` [N]; `want_starts` splits need rows by want,
    `level_starts` wants by level. `up[m, p]`, `down[m, p]` [R]: the most that m items at position p or later
    can add or take away."""

    keys: tuple[str, ...]  # [items] by position
    rank: Ints  # [items] place of the key in key order, by position
    position: Ints  # [O]
    clicks: Ints  # [O]
    after: Ints  # [items] first option of a later item
    push: Ints
    low: Ints
    high: Ints
    need: Ints
    want_starts: Ints
    level_starts: Ints
    up: Ints
    down: Ints
    clash: NDArray[np.bool_]  # [items, items] items that touch the same setting
    reach: Ints  # [items] cost of moving, ticks squared
    weight: Ints  # [items] movement per click
    effect: Ints  # [O, bands] change of each band's channel
    side: Ints  # [bands] price of a change
    band: tuple[Ints, Ints, Ints]  # [bands] low, high, penalty per tick beyond
    grain: int


def lay_out(problem: Problem) -> Tables:
    """Tables of a problem; items that can push the wants furthest come first, items that cannot move are left
    out."""
    effects = np.rint(problem.effects / 1e-4).astype(np.int64)
    wants = sorted(problem.wants, key=lambda want: want.level)
    ranges = problem.ranges()
    sums = [_want_rows(effects, want) for want in wants]
    needs = (
        np.concatenate([rows for rows, _ in sums], axis=1) if wants else np.zeros((len(ranges), 0), np.int64)
    )
    need = np.array([n for _, ns in sums for n in ns], np.int64)
    order = _order(problem, needs, need, ranges)
    position, clicks = _options(order, ranges)
    item = np.array(order, np.int64)[position] if len(position) else position
    rest, low, high = _other_rows(problem, effects, wants, item, clicks)
    push = np.concatenate([needs[item] * clicks[:, None], rest], axis=1)
    ceilings = [
        c
        for want in wants
        for c in [ticks(abs(want.target) * (1 + want.tolerance))] + [FAR] * len(want.parts)
    ]
    after = np.searchsorted(position, np.arange(len(order)), side="right").astype(np.int64)
    up, down = _reaches(push, position, len(order), min(problem.max_moves, len(order)))
    keys = tuple(problem.items[i].key for i in order)
    bands = [band.channel for band in problem.bands]
    return Tables(
        keys=keys,
        rank=np.argsort(np.argsort(np.array(keys))) if keys else np.zeros(0, np.int64),
        position=position,
        clicks=clicks,
        after=after,
        push=push,
        low=np.array([-FAR] * len(need) + low, np.int64),
        high=np.array(ceilings + high, np.int64),
        need=need,
        want_starts=np.cumsum([0] + [1 + len(want.parts) for want in wants])[:-1].astype(np.int64),
        level_starts=np.array(
            [i for i, w in enumerate(wants) if i == 0 or wants[i - 1].level != w.level], np.int64
        ),
        up=up,
        down=down,
        clash=_clashes(problem, order),
        reach=np.array([ticks(problem.items[i].reach) for i in order], np.int64) * 10_000,
        weight=np.array([ticks(problem.items[i].weight) for i in order], np.int64),
        effect=effects[item][:, bands] * clicks[:, None],
        side=np.array([ticks(band.weight) for band in problem.bands], np.int64),
        band=_band_bounds(problem),
        grain=ticks(problem.grain),
    )


def _want_rows(effects: Ints, want: Want) -> tuple[Ints, list[int]]:
    """Need rows of a want, made positive: its weighted sum, then its parts; and what each needs at least."""
    sign = 1 if want.target > 0 else -1
    channels = [part.channel for part in want.parts]
    weights = np.array([ticks(part.weight) for part in want.parts], np.int64)
    total = np.rint(effects[:, channels] @ weights * TICK).astype(np.int64)
    rows = sign * np.column_stack([total, effects[:, channels]])
    size = abs(want.target)
    return rows, [ticks(size * (1 - want.tolerance))] + [ticks(size * want.floor)] * len(channels)


def _order(problem: Problem, needs: Ints, need: Ints, ranges: list[tuple[int, int]]) -> list[int]:
    """Item indices, furthest push on the needs first, then by key."""

    def strength(i: int) -> float:
        low, high = ranges[i]
        best = np.maximum(np.maximum(needs[i] * low, needs[i] * high), 0)
        return float(np.minimum(best / np.maximum(need, 1), 1.0).sum())

    movable = [i for i, (low, high) in enumerate(ranges) if low < high]
    return sorted(movable, key=lambda i: (-round(strength(i), 9), problem.items[i].key))


def _options(order: list[int], ranges: list[tuple[int, int]]) -> tuple[Ints, Ints]:
    """Position and clicks of every option; 0 clicks is no option."""
    pairs = [(p, c) for p, i in enumerate(order) for c in range(ranges[i][0], ranges[i][1] + 1) if c]
    table = np.array(pairs, np.int64).reshape(-1, 2)
    return table[:, 0].copy(), table[:, 1].copy()


def _other_rows(
    problem: Problem, effects: Ints, wants: list[Want], item: Ints, clicks: Ints
) -> tuple[Ints, list[int], list[int]]:
    """Wrong-way pushes, hard bands, link rows: contributions [O, rows], lows and highs."""
    columns: list[Ints] = []
    low: list[int] = []
    high: list[int] = []
    for want in wants:
        sign = 1 if want.target > 0 else -1
        for part in want.parts:
            columns.append(np.maximum(-sign * effects[item, part.channel] * clicks, 0))
            low.append(0)
            high.append(ticks(want.undo * abs(want.target)))
    for band in problem.bands:
        if band.penalty is None:
            columns.append(effects[item, band.channel] * clicks)
            low.append(ticks(band.low))
            high.append(ticks(band.high))
    for row in problem.links:
        factors = np.zeros(len(problem.items), np.int64)
        for index, factor in row.terms:
            factors[index] += ticks(factor)
        columns.append(factors[item] * clicks)
        low.append(ticks(row.low))
        high.append(ticks(row.high))
    empty = np.zeros((len(item), 0), np.int64)
    return (np.column_stack(columns) if columns else empty), low, high


def _reaches(push: Ints, position: Ints, items: int, moves: int) -> tuple[Ints, Ints]:
    """The most that m of the items from p on can add to, and take from, each row."""
    best = np.zeros((items + 1, push.shape[1]), np.int64)
    worst = np.zeros_like(best)
    np.maximum.at(best, position, push)
    np.minimum.at(worst, position, push)
    up = np.zeros((moves + 1, items + 1, push.shape[1]), np.int64)
    down = np.zeros_like(up)
    for p in range(items - 1, -1, -1):
        top = -np.sort(-best[p:], axis=0)[:moves]
        bottom = np.sort(worst[p:], axis=0)[:moves]
        up[1:, p] = np.pad(np.cumsum(top, axis=0), ((0, moves - len(top)), (0, 0)), mode="edge")
        down[1:, p] = np.pad(np.cumsum(bottom, axis=0), ((0, moves - len(bottom)), (0, 0)), mode="edge")
    return up, down


def _clashes(problem: Problem, order: list[int]) -> NDArray[np.bool_]:
    """Which positions touch the same setting (or are the same item)."""
    sets = [problem.items[i].settings for i in order]
    return np.array(
        [[a == b or bool(s & t) for b, t in enumerate(sets)] for a, s in enumerate(sets)], np.bool_
    ).reshape(len(order), len(order))


def _band_bounds(problem: Problem) -> tuple[Ints, Ints, Ints]:
    return (
        np.array([ticks(band.low) for band in problem.bands], np.int64),
        np.array([ticks(band.high) for band in problem.bands], np.int64),
        np.array([ticks(band.penalty or 0.0) for band in problem.bands], np.int64),
    )
