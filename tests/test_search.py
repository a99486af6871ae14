"""The search for the fewest changes, against trying everything and against a general solver (CP-SAT of
ortools)."""

import os
import subprocess
import sys
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import pytest
from exhaustive import Judge, best_plans
from general_solver import find_better, least
from hypothesis import given, settings
from hypothesis import strategies as st
from random_problems import make_problem

from engine.problem import Band, Item, Limit, LinkRow, Part, Plan, Problem, ProblemError, Want
from engine.search import curable, solve

SMALL = range(260)
LARGE = range(48)
SIZES = (12, 18, 24, 32, 40)


def small(seed: int) -> Problem:
    """Few enough plans to try them all."""
    wants, items = 1 + seed % 3, 3 + seed % 6
    most = (1, 2, 3, 4 if items < 7 else 3)[seed % 4]
    return make_problem(seed, items, 2 * wants + seed % 6, 2, wants, most)


def large(seed: int) -> Problem:
    """12 to 40 items, 6 to 20 channels."""
    return make_problem(seed, SIZES[seed % 5], 6 + seed % 15, 3, 1 + seed % 3)


def clicks_of(problem: Problem, plan: Plan) -> dict[int, int]:
    """Clicks by item index."""
    index = {item.key: i for i, item in enumerate(problem.items)}
    return {index[key]: count for key, count in plan.clicks}


@pytest.mark.parametrize("block", range(13))
def test_plans_equal_those_found_by_trying_everything(block: int) -> None:
    """Same three plans in the same order: shortfall, moves, cost, movement, and the tie-break by keys."""
    for seed in SMALL[block::13]:
        problem = small(seed)

        found = solve(problem)

        assert found.complete
        expected = [named for named, _ in best_plans(problem, 3)]
        assert [plan.clicks for plan in found.plans] == expected, seed


@pytest.mark.parametrize("block", range(6))
def test_general_solver_finds_nothing_better(block: int) -> None:
    """CP-SAT proves for each of two plans that no allowed plan has a lower (shortfall, moves, cost,
    movement)."""
    for seed in LARGE[block::6]:
        problem = large(seed)
        judge = Judge.of(problem)
        struck: list[frozenset[str]] = []

        found = solve(problem, plans=2)

        assert found.complete
        for plan in found.plans:
            clicks = clicks_of(problem, plan)
            assert judge.allows(clicks), seed
            assert find_better(problem, judge.score(clicks), struck) is None, seed
            struck.append(plan.keys)


def test_general_solver_reaches_the_same_values_by_minimising() -> None:
    """The usual lexicographic way: minimise shortfall, fix it, minimise moves, fix them, minimise cost."""
    for seed in range(100, 110):
        problem = make_problem(seed, 14, 8, 2, 2)
        short, moves, cost, _ = Judge.of(problem).score(clicks_of(problem, solve(problem).plans[0]))

        assert least(problem) == [*short, moves, cost], seed


def test_the_general_solver_would_notice_a_worse_plan() -> None:
    """Guards the checks above: shown the second-best plan, CP-SAT finds a better one."""
    noticed = 0
    for seed in range(0, 40, 5):
        problem = large(seed)
        plans = solve(problem).plans
        if len(plans) > 1:
            second = Judge.of(problem).score(clicks_of(problem, plans[1]))
            first = Judge.of(problem).score(clicks_of(problem, plans[0]))
            if first < second:
                noticed += 1
                assert find_better(problem, second, []) is not None, seed
    assert noticed > 2


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.integers(1, 25), st.integers(1, 3), st.integers(0, 4))
def test_every_plan_keeps_every_condition(seed: int, items: int, wants: int, moves: int) -> None:
    """Ranges, shared settings, wrong-way pushes, ceilings, bands, links, forbidden sets, the cap on moves."""
    problem = make_problem(seed, items, 2 * wants + 4, 3, wants, moves)
    index = {item.key: i for i, item in enumerate(problem.items)}
    effects = np.rint(problem.effects * 1e4)

    plans = solve(problem, cap=300_000).plans

    for number, plan in enumerate(plans):
        moved = {index[key]: count for key, count in plan.clicks}
        ranges = problem.ranges()
        assert all(count != 0 for count in moved.values())
        assert all(ranges[i][0] <= count <= ranges[i][1] for i, count in moved.items())
        assert len(moved) <= moves
        touched = [s for i in moved for s in problem.items[i].settings]
        assert len(touched) == len(set(touched))
        for want in problem.wants:
            sign = np.sign(want.target)
            for part in want.parts:
                pushes = [sign * count * effects[i, part.channel] for i, count in moved.items()]
                assert -sum(min(push, 0) for push in pushes) <= round(want.undo * abs(want.target) * 1e4)
        for band in problem.bands:
            change = round(sum(count * effects[i, band.channel] for i, count in moved.items()))
            assert band.penalty is not None or band.low * 1e4 - 0.5 <= change <= band.high * 1e4 + 0.5
        for row in problem.links:
            assert row.low <= sum(factor * moved.get(i, 0) for i, factor in row.terms) <= row.high
        assert not any(f <= plan.keys for f in problem.forbidden)
        assert not any(other.keys <= plan.keys for other in plans[:number])


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_figures_of_a_plan_are_those_of_its_clicks(seed: int) -> None:
    """Shortfall, reach, side effect, penalty, movement and change per channel, recomputed from the clicks."""
    problem = make_problem(seed, 12, 8, 3, 2)
    judge = Judge.of(problem)

    for plan in solve(problem).plans:
        clicks = clicks_of(problem, plan)
        short, moves, cost, movement = judge.score(clicks)
        assert plan.shortfall == pytest.approx([s * problem.grain for s in short], abs=1e-6)
        assert (len(plan.clicks), plan.cured) == (moves, not any(short))
        assert plan.cost == pytest.approx(cost * 1e-8, abs=1e-5)
        assert plan.movement == pytest.approx(movement * 1e-4, abs=1e-3)
        assert plan.delta == pytest.approx([judge.delta(clicks, c) * 1e-4 for c in range(8)], abs=1e-6)


def test_more_moves_never_cure_less() -> None:
    """Allowing one more change cannot raise the shortfall."""
    for seed in range(20):
        problem = large(seed)
        shorts = [solve(replace(problem, max_moves=n), plans=1).plans[0].shortfall for n in range(4)]

        assert shorts == sorted(shorts, reverse=True), seed


def test_curable_agrees_with_solve() -> None:
    """The quick yes or no is the same yes or no."""
    answers = [(curable(large(seed)), solve(large(seed), plans=1).cured) for seed in range(0, 200, 5)]

    assert all(quick == full for quick, full in answers)
    assert {full for _, full in answers} == {True, False}


def test_same_answer_in_other_processes_and_hash_seeds() -> None:
    """Plans and the count of options looked at do not depend on PYTHONHASHSEED."""
    script = (
        "from random_problems import make_problem\nfrom engine.search import solve\n"
        "for seed in range(12):\n    s = solve(make_problem(seed, 20, 10, 3, 2))\n"
        "    print(seed, s.nodes, [p.clicks for p in s.plans])\n"
    )
    root = Path(__file__).parent.parent
    path = os.pathsep.join([str(root), str(root / "tests")])
    outputs = [
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "4242")
    ]

    assert outputs[0].count("\n") == 12
    assert outputs[0] == outputs[1] == outputs[2]


def test_order_of_items_does_not_matter() -> None:
    """Ties are broken by keys, not by where an item stands in the problem."""
    for seed in range(30):
        problem = replace(small(seed), links=(), limits=())
        turned = replace(problem, items=problem.items[::-1], effects=problem.effects[::-1])

        assert [p.clicks for p in solve(problem).plans] == [p.clicks for p in solve(turned).plans], seed


def test_units_do_not_matter() -> None:
    """All channels told in a unit ten thousand times smaller: the same plans (and no sum overflows)."""
    for seed in range(0, 40, 3):
        problem = large(seed)
        bands = tuple(replace(band, weight=0.0, penalty=None) for band in problem.bands)
        even = 2e-4 * np.rint(problem.effects / 2e-4)  # so that the mean of two halves needs no rounding
        plain = replace(problem, bands=bands, effects=even)
        finer = replace(
            plain,
            effects=np.rint(plain.effects / 1e-4),
            wants=tuple(replace(want, target=want.target * 1e4) for want in plain.wants),
            bands=tuple(replace(band, low=band.low * 1e4, high=band.high * 1e4) for band in bands),
            grain=plain.grain * 1e4,
        )

        assert [p.clicks for p in solve(finer).plans] == [p.clicks for p in solve(plain).plans], seed


def test_at_the_cap_it_says_so_and_still_answers() -> None:
    """With too few options allowed the answer is marked incomplete, and what it offers is allowed all the
    same."""
    problem = large(4)
    full = solve(problem)

    short = solve(problem, cap=full.nodes // 2)

    assert (full.complete, short.complete) == (True, False)
    assert short.max_moves == problem.max_moves
    assert all(Judge.of(problem).allows(clicks_of(problem, plan)) for plan in short.plans)
    assert curable(problem, cap=1) is None


def one_want(**changes: object) -> Problem:
    """Two levers on one channel; the second also moves a side channel."""
    items = (Item("bar", -2, 2, 1.0), Item("wedge", -4, 4, 0.5))
    want = Want("tight", (Part(0),), -1.0)
    problem = Problem(items, np.array([[0.6, 0.0], [0.3, 0.2]]), (want,), (Band("side", 1, -0.5, 0.5),))
    return replace(problem, **changes)  # type: ignore[arg-type]


def test_a_lever_at_its_limit_gives_way_to_another() -> None:
    """By hand: the bar needs 2 clicks for -1.2 (inside 0.65 .. 1.35); without it the wedge gives -0.6 of the
    band's 2 clicks, 0.05 short of 0.65."""
    assert solve(one_want()).plans[0].clicks == (("bar", -2),)

    stuck = solve(one_want(limits=(Limit("at its limit", ((0, 0, 2),)),)))

    assert stuck.plans[0].clicks == (("wedge", -2),)
    assert list(stuck.plans[0].shortfall) == pytest.approx([0.05])
    assert not stuck.cured


def test_nothing_to_do_is_a_plan() -> None:
    """No want, no lever or no moves: one empty plan, complete."""
    for problem in (
        one_want(wants=()),
        one_want(max_moves=0),
        Problem((), np.zeros((0, 2)), one_want().wants),
    ):
        found = solve(problem)
        assert [plan.clicks for plan in found.plans] == [()]
        assert found.complete


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"effects": np.zeros((3, 2))}, "effects"),
        ({"effects": np.full((2, 2), np.nan)}, "effects"),
        ({"items": (Item("bar", 1, 2), Item("wedge", -1, 1))}, "bar"),
        ({"items": (Item("bar", -1, 2), Item("bar", -1, 1))}, "items"),
        ({"wants": (Want("none", (Part(0),), 0.0),)}, "none"),
        ({"wants": (Want("parts", (), 1.0),)}, "parts"),
        ({"bands": (Band("side", 1, 0.1, 0.5),)}, "side"),
        ({"links": (LinkRow("split", ((0, 1.0),), 1.0, inf),)}, "split"),
        ({"forbidden": (frozenset(),)}, "forbidden"),
        ({"max_moves": -1}, "max_moves, grain"),
    ],
)
def test_malformed_problems_are_refused(changes: dict[str, object], key: str) -> None:
    """The error names the member."""
    with pytest.raises(ProblemError) as caught:
        one_want(**changes)
    assert caught.value.key == key
