"""The single steps a hedged plan is made of: what each is expected to do and how unsure that is."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from engine.learning import LEAN_SD, SOURCE, Knowledge, N, P
from engine.levers import table_of
from engine.problem import Array, Problem
from engine.response import Response

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
FELT = 0.03
"""A step that changes no balance by this much, feel, is not looked at."""
SLIGHT = 0.5
"""The least a complaint asks for, feel, where it is weighed what wrong-way pushes may add up to: a want that
the reports made less stands for no smaller complaint."""


@dataclass(frozen=True, eq=False)
class Options:
    """All single steps worth trying: O options of I items, sorted by item."""

    item: Ints  # [O]
    clicks: Array  # [O]
    push: Array  # [O, 15] expected change of every balance channel
    own: Array  # [O, 15] variance of the push plus twice its covariance with the balance
    together: Array  # [15, I, I] covariance of the items' pushes per click
    apart: Bools  # [O, O] options that may stand together
    rows: Array  # [O, R] pushes on hard bands, links and complained channels
    low: Array  # [R]
    high: Array  # [R]

    def shared(self, some: Ints, use: Ints) -> Array:
        """Covariance [n, O, J] of the pushes of `some` options [n] with every option's, on channels `use`."""
        pairs = self.together[use][:, self.item[some]][:, :, self.item].transpose(1, 2, 0)
        both: Array = pairs * (self.clicks[some][:, None] * self.clicks)[:, :, None]
        return both


def lay_out(problem: Problem, response: Response, knowledge: Knowledge, named: Bools) -> Options:
    """The options of a problem; `named` [15] are the channels a step must be felt on."""
    felt = np.abs(problem.effects[:, :N][:, named]).max(axis=1, initial=0.0)
    chosen = [
        (i, c)
        for i, (low, high) in enumerate(problem.ranges())
        for c in range(low, high + 1)
        if abs(c) * felt[i] >= FELT
    ]
    item, clicks = np.array(chosen, np.int64).reshape(-1, 2).T.copy()
    used = [response.rows[one.key] for one in problem.items]
    push = problem.effects[item] * clicks[:, None]
    if response.bend is not None:
        push[:, :N] += response.bend[used][item, :N] * (clicks**2)[:, None]
    together, cross = _doubts(used, response, knowledge)
    alone = together.diagonal(axis1=1, axis2=2).T[item]
    own = alone * (clicks**2)[:, None] + 2.0 * cross.T[item] * clicks[:, None]
    rows, low, high = _rows(problem, item, clicks, push)
    return Options(
        item, clicks.astype(np.float64), push[:, :N], own, together, _apart(problem, item), rows, low, high
    )


def _doubts(used: list[int], response: Response, knowledge: Knowledge) -> tuple[Array, Array]:
    """Covariance [15, I, I] of the pushes per click of some moves, and their covariance [15, I] with the
    balance."""
    table = table_of(response)
    share = table.share[used]
    rows = np.flatnonzero(share.any(axis=0))
    share, names = share[:, rows], list(table.at)
    own, with_own = _gains([names[i] for i in rows], table.doubt[rows], knowledge)
    pushes = np.concatenate(
        [share[None] * table.plain[rows].T[:, None], (share @ table.other[rows]).T[:, :, None]], axis=2
    )
    doubted = pushes @ own[np.tile(np.arange(P), N // P)]
    return doubted @ pushes.transpose(0, 2, 1), (pushes @ with_own[:, :, None])[:, :, 0]


def _gains(names: list[str], spread: Array, knowledge: Knowledge) -> tuple[Array, Array]:
    """Covariance of the levers' gains per phase [5, L + 1, L + 1], and of each balance channel with them
    [15, L + 1]; last is how far the car leans to the model."""
    names = [*names, SOURCE]
    tried = [i for i, name in enumerate(names) if name in knowledge.levers]
    start = np.array([knowledge.columns(names[i]).start for i in tried], np.int64)
    fresh = np.concatenate([spread, np.full((1, P), LEAN_SD)])
    cov = np.zeros((P, len(names), len(names)))
    cross = np.zeros((N, len(names)))
    for p in range(P):
        cov[p] = np.diag(fresh[:, p] ** 2)
        cov[p][np.ix_(tried, tried)] = knowledge.cov[np.ix_(start + p, start + p)]
        cross[p::P][:, tried] = knowledge.cov[p:N:P][:, start + p]
    return cov, cross


def _apart(problem: Problem, item: Ints) -> Bools:
    """[O, O] options that may stand together: not the same item, no setting in common."""
    at = {s: i for i, s in enumerate(sorted({s for one in problem.items for s in one.settings}))}
    touches = np.zeros((len(problem.items), len(at)))
    for row, one in enumerate(problem.items):
        touches[row, [at[s] for s in one.settings]] = 1.0
    free = (touches @ touches.T == 0) & ~np.eye(len(problem.items), dtype=np.bool_)
    pairs: Bools = free[np.ix_(item, item)]
    return pairs


def _rows(problem: Problem, item: Ints, clicks: Ints, push: Array) -> tuple[Array, Array, Array]:
    """Pushes [O, R] on what must stay within low..high: limits of the car, links, and wrong-way pushes.

    A row that no three options together can break is left out."""
    hard = [b for b in problem.bands if b.penalty is None and b.channel >= N]
    pushes = [push[:, b.channel] for b in hard]
    bounds = [(b.low, b.high) for b in hard]
    for link in problem.links:
        factors = np.zeros(len(problem.items))
        for index, factor in link.terms:
            factors[index] += factor
        pushes.append(factors[item] * clicks)
        bounds.append((link.low, link.high))
    for want in problem.wants:
        sign = 1.0 if want.target > 0 else -1.0
        pushes += [np.minimum(sign * push[:, part.channel], 0.0) for part in want.parts]
        bounds += [(-want.undo * max(SLIGHT, abs(want.target)), inf)] * len(want.parts)
    low, high = np.array(bounds, np.float64).reshape(-1, 2).T
    lines = np.array(pushes, np.float64).reshape(-1, len(item)).T
    most, least = (problem.max_moves * x(lines, axis=0, initial=0.0) for x in (np.max, np.min))
    binding = (most > high) | (least < low)
    return lines[:, binding].copy(), low[binding] - 1e-9, high[binding] + 1e-9
