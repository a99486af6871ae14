"""The exact search for the fewest changes: best plans of a `Problem`, proved within the move cap.

First the cures: sets of 1, 2, ... items, every condition kept as an interval that the items still to come
must be able to reach. If there are not enough cures, the least shortfall is found with the best plan so far
as the bound.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from engine.problem import TICK, Array, Plan, Problem, Solution
from engine.search_tables import FAR, Ints, Tables, lay_out

CAP = 4_000_000
CHUNK = 20_000
Score = tuple[tuple[int, ...], int, int, int, tuple[tuple[str, int], ...]]
"""What plans are compared by: shortfall in grains per level, moves, cost, movement, (key, clicks) in key
order."""


def solve(problem: Problem, plans: int = 3, cap: int = CAP) -> Solution:
    """The best `plans` plans, each set of items no superset of an earlier one; `cap` bounds the options
    looked at."""
    tables = lay_out(problem)
    hunt = _Hunt(tables, cap, [frozenset(keys) for keys in problem.forbidden])
    picked: list[Score] = []
    try:
        _cures(hunt, problem, picked, plans)
        while len(picked) < plans and (score := _least(hunt, problem, picked)):
            picked.append(score)
        complete = True
    except _Capped:
        picked = picked or [min([*hunt.found.values(), _nothing(tables)])]
        complete = False
    return Solution(tuple(_plan(problem, score) for score in picked), complete, hunt.nodes, problem.max_moves)


def curable(problem: Problem, cap: int = CAP) -> bool | None:
    """Whether any allowed plan meets every want; None when the cap was reached before that was known."""
    tables = lay_out(problem)
    if not len(tables.need):
        return True
    hunt = _Hunt(tables, cap, [frozenset(keys) for keys in problem.forbidden])
    try:
        for moves in range(1, min(problem.max_moves, len(tables.keys)) + 1):
            for leaves in hunt.walk(*_start(tables), moves, None):
                hunt.offer(leaves)
                if hunt.found:
                    return True
    except _Capped:
        return None
    return False


class _Capped(Exception):
    """The cap on options looked at was reached."""


@dataclass
class _Hunt:
    tables: Tables
    cap: int
    forbidden: list[frozenset[str]]
    nodes: int = 0
    found: dict[frozenset[str], Score] = field(default_factory=dict)

    def allows(self, keys: frozenset[str]) -> bool:
        return not any(f <= keys for f in self.forbidden)

    def walk(self, picks: Ints, sums: Ints, left: int, bound: tuple[int, ...] | None) -> Iterator[Ints]:
        """Leaves [l, moves] below the partial picks; `bound` None asks for cures, else shortfall at most the
        bound."""
        t = self.tables
        for start in range(0, len(picks), CHUNK // 50):
            head, base = picks[start : start + CHUNK // 50], sums[start : start + CHUNK // 50]
            first = t.after[t.position[head[:, -1]]] if head.shape[1] else np.zeros(len(head), np.int64)
            counts = len(t.position) - first
            parent = np.repeat(np.arange(len(head)), counts)
            option = np.arange(len(parent)) - np.repeat(np.cumsum(counts) - counts - first, counts)
            self.nodes += len(option)
            if self.nodes > self.cap:
                raise _Capped
            for i in range(head.shape[1]):
                ok = ~t.clash[t.position[head[parent, i]], t.position[option]]
                parent, option = parent[ok], option[ok]
            total = base[parent] + t.push[option]
            ok = self._open(total, t.position[option] + 1, left - 1, bound)
            kids = np.column_stack([head[parent[ok]], option[ok]])
            if left == 1:
                yield kids
            elif len(kids):
                yield from self.walk(kids, total[ok], left - 1, bound)

    def _open(self, total: Ints, place: Ints, left: int, bound: tuple[int, ...] | None) -> Ints:
        """Indices of rows that the items still to come can bring inside every condition."""
        t = self.tables
        most = total + t.up[left, place]
        ok = (most >= t.low).all(axis=1) & (total + t.down[left, place] <= t.high).all(axis=1)
        needs = most[:, : len(t.need)]
        if bound is None:
            ok &= (needs >= t.need).all(axis=1)
            return np.flatnonzero(ok)
        index = np.flatnonzero(ok)
        return index[_not_above(shortfalls(t, needs[index]), bound)]

    def offer(self, leaves: Ints) -> None:
        """Note the best plan of every set of items among the leaves."""
        t = self.tables
        if not len(leaves):
            return
        short = shortfalls(t, t.push[leaves].sum(axis=1)[:, : len(t.need)])
        cost, movement = costs(t, leaves), (t.weight[t.position[leaves]] * abs(t.clicks[leaves])).sum(axis=1)
        order = np.lexsort((movement, cost, *short.T[::-1]))
        for i in order:
            self._note(tuple(short[i].tolist()), int(cost[i]), int(movement[i]), leaves[i])

    def _note(self, short: tuple[int, ...], cost: int, movement: int, leaf: Ints) -> None:
        t = self.tables
        clicks = tuple(sorted((t.keys[t.position[o]], int(t.clicks[o])) for o in leaf))
        keys = frozenset(key for key, _ in clicks)
        score = (short, len(clicks), cost, movement, clicks)
        if self.allows(keys) and (keys not in self.found or score < self.found[keys]):
            self.found[keys] = score


def shortfalls(t: Tables, needs: Ints) -> Ints:
    """Shortfall [n, levels] in whole grains, from the need rows [n, N]."""
    if not len(t.need):
        return np.zeros((len(needs), 0), np.int64)
    lack = np.maximum(t.need - needs, 0)
    wants = np.maximum.reduceat(lack, t.want_starts, axis=1)
    levels: Ints = np.add.reduceat(wants, t.level_starts, axis=1)
    return -(-levels // t.grain)


def costs(t: Tables, leaves: Ints) -> Ints:
    """Cost [n] of leaves [n, moves], in ticks squared: reach, worst side effect, penalties."""
    low, high, penalty = t.band
    delta = t.effect[leaves].sum(axis=1)
    towards = np.where(delta > 0, high < FAR, low > -FAR) * abs(delta) * t.side
    beyond = np.maximum(np.maximum(delta - high, low - delta), 0) * penalty
    worst = towards.max(axis=1) if delta.shape[1] else np.zeros(len(leaves), np.int64)
    return t.reach[t.position[leaves]].sum(axis=1) + worst + beyond.sum(axis=1)


def _not_above(short: Ints, bound: tuple[int, ...]) -> NDArray[np.bool_]:
    """Mask of rows not lexicographically above the bound."""
    above = np.zeros(len(short), np.bool_)
    level = np.ones(len(short), np.bool_)
    for column, most in zip(short.T, bound, strict=True):
        above |= level & (column > most)
        level &= column == most
    return ~above


def _start(t: Tables) -> tuple[Ints, Ints]:
    return np.zeros((1, 0), np.int64), np.zeros((1, t.push.shape[1]), np.int64)


def _cures(hunt: _Hunt, problem: Problem, picked: list[Score], plans: int) -> None:
    """Pick full cures, fewest moves first."""
    t = hunt.tables
    if not len(t.need):
        picked.append(_nothing(t))
        hunt.forbidden.append(frozenset())
        return
    for moves in range(1, min(problem.max_moves, len(t.keys)) + 1):
        hunt.found.clear()
        try:
            for leaves in hunt.walk(*_start(t), moves, None):
                hunt.offer(leaves)
        finally:
            _pick(hunt, picked, plans)
        if len(picked) >= plans:
            return


def _pick(hunt: _Hunt, picked: list[Score], plans: int) -> None:
    """Take the best of what was found, each no superset of an earlier one."""
    for keys, score in sorted(hunt.found.items(), key=lambda entry: entry[1]):
        if len(picked) < plans and hunt.allows(keys):
            picked.append(score)
            hunt.forbidden.append(keys)


def _least(hunt: _Hunt, problem: Problem, picked: list[Score]) -> Score | None:
    """The best plan that is allowed, or None when that is to do nothing and something better was picked."""
    t = hunt.tables
    if not hunt.allows(frozenset()):
        return None
    best = _nothing(t)
    hunt.found.clear()
    for moves in range(1, min(problem.max_moves, len(t.keys)) + 1):
        for leaves in hunt.walk(*_start(t), moves, best[0]):
            hunt.offer(leaves)
            best = min([best, *hunt.found.values()])
    hunt.forbidden.append(frozenset(key for key, _ in best[4]))
    return None if picked and not best[4] else best


def _nothing(t: Tables) -> Score:
    """The score of doing nothing."""
    return (tuple(shortfalls(t, np.zeros((1, len(t.need)), np.int64))[0].tolist()), 0, 0, 0, ())


def _plan(problem: Problem, score: Score) -> Plan:
    """A score as a plan, its figures computed afresh from the problem."""
    index = {item.key: i for i, item in enumerate(problem.items)}
    effects = np.rint(problem.effects / TICK) * TICK
    clicks = np.zeros(len(problem.items))
    for key, count in score[4]:
        clicks[index[key]] = count
    delta = clicks @ effects
    sides = [
        band.weight * abs(d)
        for band in problem.bands
        if np.isfinite(band.high if (d := delta[band.channel]) > 0 else band.low)
    ]
    beyond = [
        band.penalty * max(delta[band.channel] - band.high, band.low - delta[band.channel], 0.0)
        for band in problem.bands
        if band.penalty is not None
    ]
    lacking = tuple((want.key, _lack(problem, i, delta)) for i, want in enumerate(problem.wants))
    return Plan(
        clicks=score[4],
        shortfall=tuple(round(s * problem.grain, 6) for s in score[0]),
        lacking=lacking,
        reach=round(sum(problem.items[index[key]].reach for key, _ in score[4]), 6),
        side=round(float(max(sides, default=0.0)), 6),
        penalty=round(float(sum(beyond)), 6),
        movement=round(sum(problem.items[index[key]].weight * abs(c) for key, c in score[4]), 6),
        delta=tuple(np.round(delta, 6).tolist()),
    )


def _lack(problem: Problem, index: int, delta: Array) -> float:
    """What a want lacks, in channel units."""
    want = problem.wants[index]
    sign = 1 if want.target > 0 else -1
    size = abs(want.target)
    total = sign * sum(part.weight * delta[part.channel] for part in want.parts)
    parts = [want.floor * size - sign * delta[part.channel] for part in want.parts]
    return round(float(max(size * (1 - want.tolerance) - total, *parts, 0.0)), 4)
