"""The next list when something has been heard of this car: the plan with the best expected cure under what is
believed.

The exact search takes the response at its word. Here every allowed plan is weighed by how likely it leaves
each phase inside the driver's threshold, given how unsure we are of the balance now and of each move's
answer: `score` = sum over balance channels of log P(|balance after| < threshold). A big step on a lever of
unknown answer, or on one that was just shown weak, loses against two known ones. Same limits, links, locks,
and no-undo history as the exact search; the sets are grown one move at a time keeping the best `BEAM`. The
fewest moves within `MARGIN` of the best score win.
"""

from dataclasses import dataclass
from math import ceil, inf

import numpy as np

from engine.channels import BALANCE
from engine.hedging_tables import Bools, Ints, Options, lay_out
from engine.learning import Knowledge, N, P
from engine.problem import Array, Problem, Solution
from engine.response import Response
from engine.search_scores import Score, plan_of
from grammar.intent import STAGES

__all__ = ["hedge"]

THRESHOLD = 0.34
"""Balance a driver does not complain of, feel; a little inside the 0.40-0.50 of the design, to have room."""
OTHER_STAGE, OTHER_WEIGHT = 0.9, 0.3
"""The same at a run stage he has not spoken of, and how much that stage counts."""
FELT_NOISE = 0.15
"""Deviation of what he feels from one run to the next, feel (design figure)."""
MARGIN = 0.06
"""Score a further move must bring (about one chance in 16 of a cure). Below it lists grow changes a crew
would not make; above it fewer cars are cured (`benchmarks/closed_loop.py`, 200 cars a pair)."""
BEAM, KEPT = 16, 10
"""Sets that are grown on, and sets of each size that are weighed on all run stages in the end."""
REACH = 0.006
"""Score that one place in the trade's order of reaching costs: equals go to the lever reached for first."""


def hedge(
    problem: Problem, response: Response, knowledge: Knowledge, plans: int, shift: Array | None = None
) -> Solution:
    """The `plans` best plans by expected cure, no set a superset of an earlier one's.

    `response` has the gains applied; `shift` [15] is a change of balance that is decided already."""
    named = _stages(knowledge, problem)
    options = lay_out(problem, response, knowledge, named)
    mean = knowledge.mean[:N] + (0.0 if shift is None else shift[:N])
    judge = _Judge(mean, np.diag(knowledge.cov)[:N], np.where(named, THRESHOLD, OTHER_STAGE))
    price = np.array([one.reach for one in problem.items])[options.item] * REACH
    leaves = _grow(options, judge, price, np.flatnonzero(named), problem.max_moves)
    found = _weigh(options, judge, price, leaves, np.where(named, 1.0, OTHER_WEIGHT))
    chosen = _choose(problem, options, found, plans)
    plans_of = tuple(plan_of(problem, _score(problem, clicks)) for clicks in chosen)
    likely = max(score - MARGIN * len(leaf) for score, leaf in found)
    return Solution(plans_of, True, len(found), problem.max_moves, likely)


@dataclass(frozen=True, eq=False)
class _Judge:
    mean: Array  # [15] balance now
    variance: Array  # [15]
    limit: Array  # [15] threshold

    def inside(self, push: Array, more: Array, use: Ints) -> Array:
        """log P(inside the threshold) per channel; `push` and `more` (variance) are [..., J]."""
        spread = 1.0 / np.sqrt(np.maximum(self.variance[use] + more, 1e-4) + FELT_NOISE**2)
        after = (self.mean[use] + push) * spread
        limit = self.limit[use] * spread
        likely = normal_cdf(limit - after) - normal_cdf(-limit - after)
        return np.log(np.maximum(likely, 1e-9))


def normal_cdf(x: Array) -> Array:
    """The normal distribution function to 1.4e-4 (Bowling, Khasawneh, Kaewkuekool, Cho 2009, a logistic
    approximation)."""
    x = np.clip(x, -8.0, 8.0)
    y: Array = 1.0 / (1.0 + np.exp(-x * (0.07056 * x * x + 1.5976)))
    return y


def _stages(knowledge: Knowledge, problem: Problem) -> Bools:
    """[15] True for the run stages spoken of or asked about; they count in full, the others loosely."""
    wanted = {BALANCE[p.channel].split("/")[2] for w in problem.wants for p in w.parts if p.channel < N}
    return np.repeat([s in (knowledge.stages | wanted) for s in STAGES], P)


def _grow(options: Options, judge: _Judge, price: Array, use: Ints, moves: int) -> list[tuple[int, ...]]:
    """The best sets of options of every size up to `moves`, judged on the channels `use`."""
    found: list[tuple[int, ...]] = [()]
    level = list(found)
    push, own = options.push[:, use], options.own[:, use]
    for _ in range(moves):
        held = np.array(level, np.int64).reshape(len(level), -1)
        spread = own[None] + own[held].sum(axis=1)[:, None]
        for place in range(held.shape[1]):
            shared = options.shared(held[:, place], use)
            before = np.take_along_axis(shared, held[:, :place, None], axis=1).sum(axis=1)
            spread = spread + 2.0 * (shared + before[:, None])
        score = judge.inside(push[held].sum(axis=1)[:, None] + push, spread, use).sum(axis=2)
        score = score - price - price[held].sum(axis=1)[:, None]
        score[~_fits(options, held)] = -inf
        level = _best(held, score)
        found += level[:KEPT]
        if not level:
            break
    return found


def _best(held: Ints, score: Array) -> list[tuple[int, ...]]:
    """The `BEAM` best sets of one more option, each once, best first."""
    best = np.argsort(-np.round(score, 9), axis=None, kind="stable")[: 4 * BEAM]
    row, option = np.divmod(best[score.take(best) > -inf], score.shape[1])
    leaves = np.sort(np.concatenate([held[row], option[:, None]], axis=1), axis=1)
    return list(dict.fromkeys(map(tuple, leaves.tolist())))[:BEAM]


def _fits(options: Options, held: Ints) -> Bools:
    """[B, O] options that may be added to those held [B, k]."""
    total = options.rows[held].sum(axis=1)[:, None] + options.rows
    inside = ((total >= options.low) & (total <= options.high)).all(axis=2)
    free: Bools = inside & options.apart[held].all(axis=1)
    return free


def _weigh(
    options: Options, judge: _Judge, price: Array, leaves: list[tuple[int, ...]], weight: Array
) -> list[tuple[float, tuple[int, ...]]]:
    """Sets with their score on all 15 channels, less what reaching for them costs."""
    found = []
    for size in sorted({len(leaf) for leaf in leaves}):
        mine = [leaf for leaf in leaves if len(leaf) == size]
        held = np.array(mine, np.int64).reshape(len(mine), size)
        spread = options.own[held].sum(axis=1)
        for i in range(size):
            for j in range(i):
                one, other = held[:, i], held[:, j]
                pair = options.together[:, options.item[one], options.item[other]].T
                spread = spread + 2.0 * pair * (options.clicks[one] * options.clicks[other])[:, None]
        inside = judge.inside(options.push[held].sum(axis=1), spread, np.arange(N))
        found += list(zip((inside @ weight - price[held].sum(axis=1)).tolist(), mine, strict=True))
    return found


def _choose(
    problem: Problem, options: Options, found: list[tuple[float, tuple[int, ...]]], plans: int
) -> list[tuple[tuple[str, int], ...]]:
    """Fewest moves within MARGIN per move of the best first, then by score; no set a superset of an earlier
    one's."""
    ranked = sorted(found, key=lambda x: (-round(x[0] - MARGIN * len(x[1]), 9), len(x[1]), x[1]))
    chosen: list[tuple[tuple[str, int], ...]] = []
    for _, leaf in ranked:
        clicks = tuple(sorted((problem.items[options.item[o]].key, int(options.clicks[o])) for o in leaf))
        keys = frozenset(key for key, _ in clicks)
        barred = [*problem.forbidden, *(frozenset(k for k, _ in c) for c in chosen)]
        if not any(f <= keys for f in barred) and (clicks or not chosen):
            chosen.append(clicks)
        if len(chosen) == plans:
            break
    return chosen or [()]


def _score(problem: Problem, clicks: tuple[tuple[str, int], ...]) -> Score:
    """The exact search's score of a plan, from its own figures."""
    levels = sorted({want.level for want in problem.wants})
    lacking = dict(plan_of(problem, ((), 0, 0, 0, clicks)).lacking)
    short = [
        ceil(sum(lacking[w.key] for w in problem.wants if w.level == level) / problem.grain)
        for level in levels
    ]
    return tuple(short), len(clicks), 0, 0, clicks
