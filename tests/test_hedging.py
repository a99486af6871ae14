"""Hedged plans: their score against sampling, the best of small problems against trying everything, and their
limits."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from engine.car import Move
from engine.channels import BALANCE, CHANNELS
from engine.hedging import FELT_NOISE, MARGIN, OTHER_STAGE, OTHER_WEIGHT, REACH, THRESHOLD, hedge
from engine.learning import UNKNOWN, Heard, Knowledge, N, Push, carried, heard
from engine.problem import Band, Item, LinkRow, Part, Problem, Want
from engine.response import Array, Response

CENTRE = BALANCE.index("balance/centre/half")
LIMIT = CHANNELS.index("water-temperature")
TIGHT = tuple(Heard((c,), 0.6, 1.6) for c in range(5, 10))


def car(rows: Mapping[str, tuple[float, ...]], doubt: float = 0.4) -> Response:
    """A car of single-setting moves: five phase effects each, alike at every stage."""
    moves = tuple(Move(key=key, label=key, parts={key: 1}, reach=1.0, cap=2) for key in rows)
    step = np.zeros((len(rows), len(CHANNELS)))
    for i, effects in enumerate(rows.values()):
        step[i, :N] = np.tile(effects, 3)
    none = np.full_like(step, np.nan)
    sd, base = doubt * np.abs(step), np.zeros(len(CHANNELS))
    return Response(moves, base, step, sd, step, none, np.ones_like(step), tuple(() for _ in moves))


def ask(response: Response, target: float = -1.0, **more: object) -> Problem:
    """A problem that wants the centre moved by `target`, two clicks of each move either way."""
    items = tuple(Item(m.key, -2, 2, m.reach, 1.0, frozenset(m.parts)) for m in response.moves)
    want = Want("centre/half", (Part(CENTRE),), target, undo=float("inf"))
    problem = Problem(items, response.step.copy(), (want,))
    return replace(problem, **more)  # type: ignore[arg-type]


def sampled_score(
    knowledge: Knowledge, response: Response, clicks: dict[str, int], count: int = 200_000
) -> float:
    """The score from a sample of cars drawn from the belief: share inside the threshold, channel by
    channel."""
    rng = np.random.default_rng(2)
    state = rng.multivariate_normal(knowledge.mean, knowledge.cov, count)
    after = state[:, :N].copy()
    for row, move in enumerate(response.moves):
        if move.key in clicks:
            at = knowledge.columns(move.key)
            after += clicks[move.key] * np.tile(state[:, at], 3) * response.step[row, :N]
    felt = after + rng.normal(0.0, FELT_NOISE, after.shape)
    named = np.arange(N) // 5 == 1
    inside = (np.abs(felt) < np.where(named, THRESHOLD, OTHER_STAGE)).mean(axis=0)
    return float(np.log(inside) @ np.where(named, 1.0, OTHER_WEIGHT))


def tried(response: Response, knowledge: Knowledge) -> Knowledge:
    """The belief with gains for every move, none of them made."""
    pushes = [
        Push(m.key, 0.0, tuple(response.step[i, :N].tolist()), (0.4,) * 5)
        for i, m in enumerate(response.moves)
    ]
    return carried(knowledge, pushes)


LEVERS = {
    "bar": (0.5,) * 5,
    "cross": (0.3, 0.3, 0.5, 0.6, 0.7),
    "track": (0.6, 0.4, 0.2, 0.1, 0.0),
    "air": (0.1,) * 5,
}


def test_the_best_plan_is_the_best_of_all_plans() -> None:
    """Every plan of up to three moves, scored by sampling the belief (200,000 cars a plan would be slow; the
    belief is normal, so the closed form with the exact normal distribution is used and sampled only for the
    winner)."""
    response = car(LEVERS)
    knowledge = tried(response, heard(UNKNOWN, TIGHT))
    found = hedge(ask(response), response, knowledge, 1)
    best = found.plans[0]
    scores = {}
    keys = [m.key for m in response.moves]
    for size in range(4):
        for chosen in combinations(keys, size):
            for counts in product((-2, -1, 1, 2), repeat=size):
                clicks = dict(zip(chosen, counts, strict=True))
                scores[tuple(clicks.items())] = closed_score(knowledge, response, clicks)
    winner = max(scores, key=lambda plan: scores[plan] - (REACH + MARGIN) * len(plan))
    assert dict(best.clicks) == dict(winner)
    assert found.likely == pytest.approx(scores[winner] - (REACH + MARGIN) * len(winner), abs=0.01)
    assert scores[winner] == pytest.approx(sampled_score(knowledge, response, dict(winner)), abs=0.05)


def closed_score(knowledge: Knowledge, response: Response, clicks: dict[str, int]) -> float:
    """The same score by matrix algebra, written apart from the planner's."""
    from scipy.stats import norm

    matrix = np.eye(len(knowledge.mean))
    for row, move in enumerate(response.moves):
        if move.key in clicks:
            for channel in range(N):
                column = knowledge.columns(move.key).start + channel % 5
                matrix[channel, column] += clicks[move.key] * response.step[row, channel]
    mean: Array = (matrix @ knowledge.mean)[:N]
    sd = np.sqrt(np.diag(matrix @ knowledge.cov @ matrix.T)[:N] + FELT_NOISE**2)
    named = np.arange(N) // 5 == 1
    limit = np.where(named, THRESHOLD, OTHER_STAGE)
    inside = norm.cdf((limit - mean) / sd) - norm.cdf((-limit - mean) / sd)
    return float(np.log(inside) @ np.where(named, 1.0, OTHER_WEIGHT))


def test_of_two_equal_levers_the_one_whose_answer_is_known_is_pulled() -> None:
    response = car({"known": (0.5,) * 5, "unknown": (0.5,) * 5}, doubt=0.6)
    knowledge = heard(UNKNOWN, TIGHT)
    sure = Push("known", 0.0, (0.5,) * 15, (0.05,) * 5)
    plan = hedge(ask(response, max_moves=1), response, carried(knowledge, [sure]), 1).plans[0]
    assert plan.keys == {"known"}


def test_a_lever_just_shown_dead_is_not_pulled_again() -> None:
    response = car({"dead": (0.6,) * 5, "other": (0.5,) * 5})
    knowledge = carried(heard(UNKNOWN, TIGHT), [Push("dead", -2.0, (0.6,) * 15, (0.4,) * 5)])
    knowledge = heard(knowledge, [*(Heard((c,), -0.1, 0.1, change=True) for c in range(5, 10)), *TIGHT])
    gained = replace(response, gain=np.full_like(response.gain, 1.0))
    problem = ask(gained)
    mean = knowledge.mean[knowledge.columns("dead")]
    assert mean.max() < 0.4
    row = problem.effects.copy()
    row[0, :N] *= np.tile(np.maximum(mean, 0.02), 3)
    plan = hedge(replace(problem, effects=row, max_moves=1), gained, knowledge, 1).plans[0]
    assert plan.keys == {"other"}


def test_hard_limits_links_ranges_and_turned_down_sets_hold() -> None:
    response = car(LEVERS)
    response.step[0, LIMIT] = -5.0
    knowledge = heard(UNKNOWN, TIGHT)
    free = hedge(ask(response), response, knowledge, 3)
    assert any("bar" in plan.keys for plan in free.plans)
    hot = Band("water", LIMIT, high=3.0, fixed=True)  # taking bar out heats the water
    assert all(
        "bar" not in plan.keys for plan in hedge(ask(response, bands=(hot,)), response, knowledge, 3).plans
    )
    link = LinkRow("link", ((1, 1.0),), 0.0, 0.0)
    assert all(
        "cross" not in p.keys for p in hedge(ask(response, links=(link,)), response, knowledge, 3).plans
    )
    turned = (frozenset({"bar"}), frozenset({"cross"}))
    for plan in hedge(ask(response, forbidden=turned), response, knowledge, 3).plans:
        assert not any(one <= plan.keys for one in turned)


def test_alternatives_are_other_sets_and_the_same_every_time() -> None:
    response = car(LEVERS)
    knowledge = heard(UNKNOWN, TIGHT)
    first, again = (hedge(ask(response), response, knowledge, 3) for _ in range(2))
    assert [p.clicks for p in first.plans] == [p.clicks for p in again.plans]
    sets = [p.keys for p in first.plans]
    assert len(sets) == 3 and not any(a <= b for i, a in enumerate(sets) for b in sets[i + 1 :])


def test_wrong_way_pushes_stay_within_their_share() -> None:
    response = car({"a": (1.0, 1.0, 1.0, 1.0, 1.0), "b": (-0.9, -0.9, 0.5, -0.9, -0.9)})
    problem = ask(response)
    tight = replace(problem.wants[0], undo=0.0)
    for plan in hedge(replace(problem, wants=(tight,)), response, heard(UNKNOWN, TIGHT), 2).plans:
        for key, count in plan.clicks:
            row = next(i for i, m in enumerate(response.moves) if m.key == key)
            assert count * response.step[row, CENTRE] <= 1e-9
