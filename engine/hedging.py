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
from numpy.typing import NDArray

from engine.car import Move
from engine.channels import BALANCE
from engine.learning import Knowledge, N, P, doubt, levers_of, plain_step, single_rows
from engine.problem import Array, Problem, Solution
from engine.response import Response
from engine.search_scores import Score, plan_of
from grammar.intent import STAGES

__all__ = ["hedge"]

THRESHOLD = 0.34
"""Balance a driver does not complain of, feel; a little inside the 0.40-0.50 of the design, to have room."""
OTHER_STAGE = 0.9
"""The same at a run stage he has not spoken of."""
FELT_NOISE = 0.15
MARGIN = 0.03
"""Score a further move must bring (about one chance in 30 of a cure)."""
BEAM, KEPT = 16, 10
"""Sets that are grown on, and sets of each size that are weighed on all run stages in the end."""
FELT = 0.03
"""A step that changes no balance by this much, feel, is not looked at."""
OTHER_WEIGHT = 0.3
"""How much a run stage counts that nobody has spoken of."""
REACH = 0.006
"""Score that one place in the trade's order of reaching costs: equals go to the lever reached for first."""
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Options:
    """All single steps worth trying: O options, sorted by item. J channels: those of the run stages that
    count."""

    item: Ints  # [O]
    clicks: Ints  # [O]
    price: Array  # [O] what reaching for it costs, in score
    push: Array  # [O, 15] expected change of every balance channel
    own: Array  # [O, 15] variance of the push plus twice its covariance with the balance
    apart: NDArray[np.bool_]  # [O, O]
    rows: Array  # [O, R] pushes on hard bands, links and complained channels
    low: Array  # [R]
    high: Array  # [R]
    levers: Array  # [15, O, L] plain push of each option by lever (before any gain)
    doubted: Array  # [15, O, L] the same times the covariance of the gains

    def shared(self, one: int, use: slice | Ints) -> Array:
        """Covariance [O, J] of the push of option `one` with every option's."""
        row: Array = (self.levers[use] @ self.doubted[use, one, :, None])[:, :, 0].T
        return row


def hedge(
    problem: Problem, response: Response, knowledge: Knowledge, plans: int, shift: Array | None = None
) -> Solution:
    """The `plans` best plans by expected cure, no set a superset of an earlier one's.

    `response` has the gains applied; `shift` [15] is a change of balance that is decided already."""
    named = _stages(knowledge, problem)
    options = _lay_out(problem, response, knowledge, named)
    mean = knowledge.mean[:N] + (0.0 if shift is None else shift[:N])
    judge = _Judge(mean, np.diag(knowledge.cov)[:N], np.where(named, THRESHOLD, OTHER_STAGE))
    leaves = _grow(problem, options, judge, np.flatnonzero(named))
    weight = np.where(named, 1.0, OTHER_WEIGHT)
    found = [(_worth(options, judge, leaf, weight), leaf) for leaf in leaves]
    chosen = _choose(problem, options, found, plans)
    return Solution(
        tuple(plan_of(problem, _score(problem, c)) for c in chosen), True, len(found), problem.max_moves
    )


@dataclass(frozen=True, eq=False)
class _Judge:
    mean: Array  # [15] balance now
    variance: Array  # [15]
    limit: Array  # [15] threshold

    def inside(self, push: Array, more: Array, use: slice | Ints) -> Array:
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


def _stages(knowledge: Knowledge, problem: Problem) -> NDArray[np.bool_]:
    """[15] True for the run stages spoken of or asked about; they count in full, the others loosely."""
    wanted = {BALANCE[p.channel].split("/")[2] for w in problem.wants for p in w.parts if p.channel < N}
    return np.repeat([s in (knowledge.stages | wanted) for s in STAGES], P)


def _lay_out(problem: Problem, response: Response, knowledge: Knowledge, named: NDArray[np.bool_]) -> Options:
    moves = {m.key: m for m in response.moves}
    chosen = [
        (i, c)
        for i, (low, high) in enumerate(problem.ranges())
        for c in range(low, high + 1)
        if c and np.abs(c * problem.effects[i, :N][named]).max(initial=0.0) >= FELT
    ]
    item, clicks = np.array(chosen, np.int64).reshape(-1, 2).T.copy()
    push = problem.effects[item] * clicks[:, None]
    used = [moves[problem.items[i].key] for i in item]
    own, levers, doubted = _doubts(used, response, knowledge, clicks)
    rows, low, high = _rows(problem, item, clicks, push)
    price = np.array([one.reach for one in problem.items])[item] * REACH
    return Options(
        item, clicks, price, push[:, :N], own, _apart(problem, item), rows, low, high, levers, doubted
    )


def _apart(problem: Problem, item: Ints) -> NDArray[np.bool_]:
    """[O, O] options that may stand together: not the same item, no setting in common."""
    settings = sorted({s for one in problem.items for s in one.settings})
    touches = np.array([[s in one.settings for s in settings] for one in problem.items], np.float64)
    touches = touches.reshape(len(problem.items), len(settings))
    free = (touches @ touches.T == 0) & ~np.eye(len(problem.items), dtype=np.bool_)
    pairs: NDArray[np.bool_] = free[np.ix_(item, item)]
    return pairs


def _rows(problem: Problem, item: Ints, clicks: Ints, push: Array) -> tuple[Array, Array, Array]:
    """Pushes [O, R] on what must stay within low..high: limits of the car, links, and wrong-way pushes."""
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
        bounds += [(-want.undo * abs(want.target), inf)] * len(want.parts)
    low, high = np.array(bounds, np.float64).reshape(-1, 2).T
    lines = np.array(pushes, np.float64).reshape(-1, len(item)).T.copy()
    return lines, low - 1e-9, high + 1e-9


def _doubts(
    used: list[Move], response: Response, knowledge: Knowledge, clicks: Ints
) -> tuple[Array, Array, Array]:
    """`own`, `levers`, `doubted` of `Options`; `used` is each option's move."""
    singles = single_rows(response)
    split = [levers_of(move, singles) for move in used]
    names = sorted({lever for one in split for lever in one})
    at = {name: i for i, name in enumerate(names)}
    share = np.zeros((len(split), len(names)))
    for row, (one, count) in enumerate(zip(split, clicks.tolist(), strict=True)):
        for lever, each in one.items():
            share[row, at[lever]] = each * count
    steps = [plain_step(name, response, singles) for name in names]
    plain = np.array([step for step, _ in steps]).reshape(len(names), N)
    gain_cov, cross = _beliefs(names, knowledge, [doubt(*one) for one in steps])
    levers = share[None, :, :] * plain.T[:, None, :]
    doubted = levers @ gain_cov[np.tile(np.arange(P), N // P)]
    own = (doubted * levers).sum(axis=2) + 2.0 * (levers @ cross[:, :, None])[:, :, 0]
    return own.T.copy(), levers, doubted


def _beliefs(names: list[str], knowledge: Knowledge, doubts: list[tuple[float, ...]]) -> tuple[Array, Array]:
    """Covariance of the levers' gains per phase [5, L, L], and of each balance channel with them [15, L]."""
    tried = [i for i, name in enumerate(names) if name in knowledge.levers]
    fresh = np.array(doubts).reshape(len(names), P) ** 2
    cov = np.zeros((P, len(names), len(names)))
    cross = np.zeros((N, len(names)))
    for p in range(P):
        cov[p] = np.diag(fresh[:, p])
        at = [knowledge.columns(names[i]).start + p for i in tried]
        cov[p][np.ix_(tried, tried)] = knowledge.cov[np.ix_(at, at)]
        cross[p::P][:, tried] = knowledge.cov[p:N:P][:, at]
    return cov, cross


def _grow(problem: Problem, options: Options, judge: _Judge, use: Ints) -> list[tuple[int, ...]]:
    """The best sets of options of every size up to the cap, judged on the channels `use`."""
    found: list[tuple[int, ...]] = [()]
    level = list(found)
    push, own = options.push[:, use], options.own[:, use]
    shared: dict[int, Array] = {}
    for _ in range(problem.max_moves):
        grown: dict[tuple[int, ...], float] = {}
        for leaf in level:
            held = list(leaf)
            for one in held:
                shared.setdefault(one, options.shared(one, use))
            variance = own + own[held].sum(axis=0)
            for i, one in enumerate(held):
                variance = variance + 2.0 * shared[one] + 2.0 * shared[one][held[:i]].sum(axis=0)
            score = judge.inside(push[held].sum(axis=0) + push, variance, use).sum(axis=1)
            score = score - options.price - options.price[held].sum()
            score[~_fits(options, held)] = -inf
            for o in np.argsort(-score, kind="stable")[:BEAM].tolist():
                if score[o] > -inf:
                    grown[tuple(sorted((*leaf, o)))] = float(score[o])
        level = sorted(grown, key=lambda leaf: (-round(grown[leaf], 9), leaf))[:BEAM]
        found += level[:KEPT]
    return found


def _fits(options: Options, held: list[int]) -> NDArray[np.bool_]:
    """[O] options that may be added to those held."""
    total = options.rows[held].sum(axis=0) + options.rows
    inside = ((total >= options.low) & (total <= options.high)).all(axis=1)
    free: NDArray[np.bool_] = inside & options.apart[held].all(axis=0)
    return free


def _worth(options: Options, judge: _Judge, leaf: tuple[int, ...], weight: Array) -> float:
    """The score of a set on all 15 channels, less what reaching for it costs."""
    held = list(leaf)
    variance = options.own[held].sum(axis=0)
    for i, one in enumerate(held):
        for other in held[:i]:
            variance = variance + 2.0 * (options.levers[:, one] * options.doubted[:, other]).sum(axis=1)
    inside = judge.inside(options.push[held].sum(axis=0), variance, slice(None))
    return float(inside @ weight - options.price[held].sum())


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
