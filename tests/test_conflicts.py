"""Why a full cure is out of reach: the clash is minimal, the repair does what it says; by trying
everything."""

import numpy as np
import pytest
from exhaustive import is_curable
from random_problems import make_problem

from engine.conflicts import Clash, Member, clash, drop, members, shrink
from engine.problem import Band, Item, Limit, Part, Problem, Want
from engine.search import solve


def clashes(seeds: range) -> list[tuple[int, Problem, Clash]]:
    """Small problems without a full cure, and their clashes."""
    found = []
    for seed in seeds:
        problem = make_problem(seed, 4 + seed % 4, 6 + seed % 3, 2, 1 + seed % 3, 1 + seed % 3)
        what = clash(problem)
        if what is not None:
            found.append((seed, problem, what))
    return found


@pytest.mark.parametrize("block", range(4))
def test_a_clash_is_minimal(block: int) -> None:
    """The members alone allow no full cure; drop any one of them and there is one."""
    found = clashes(range(block, 120, 4))
    for seed, problem, what in found:
        assert what.complete
        others = tuple(m for m in members(problem) if m not in what.members)
        core = drop(problem, others)
        assert not is_curable(core), seed
        for member in what.members:
            assert is_curable(drop(core, (member,))), (seed, member)
    assert len(found) > 10


def test_a_clash_told_by_families_is_minimal_by_family() -> None:
    """All bands as one family: the families kept allow no full cure; let any one go and there is one."""
    checked = 0
    for seed in range(60):
        problem = make_problem(seed, 4 + seed % 3, 6, 2, 1 + seed % 3, 2)
        bands = [m for m in members(problem) if m.kind == "band"]
        groups = [bands, *([m] for m in members(problem) if m.kind != "band")]

        kept, complete = shrink(problem, groups)

        assert complete
        assert (kept == ()) == is_curable(problem), seed
        core = drop(problem, [m for i, group in enumerate(groups) if i not in kept for m in group])
        assert not kept or not is_curable(core), seed
        assert all(is_curable(drop(core, groups[i])) for i in kept), seed
        checked += len(kept) > 1
    assert checked > 10


def test_no_clash_exactly_when_there_is_a_full_cure() -> None:
    """`clash` is None for curable problems, and only for those."""
    for seed in range(40):
        problem = make_problem(seed, 5, 6, 2, 1 + seed % 2, 2)
        assert (clash(problem) is None) == is_curable(problem), seed


def test_a_repair_does_what_it_says() -> None:
    """Dropping the member alone gives the plan it names, which is nearer than the nearest without it."""
    cured = 0
    for seed, problem, what in clashes(range(30)):
        assert what.nearest == solve(problem, plans=1).plans[0]
        for repair in what.repairs:
            relaxed = drop(problem, (repair.member,))
            assert solve(relaxed, plans=1).plans[0] == repair.plan, seed
            assert repair.cures == is_curable(relaxed), seed
            cured += repair.cures
        assert [r.cures for r in what.repairs] == sorted((r.cures for r in what.repairs), reverse=True)
    assert cured > 5


def locked(fixed: bool) -> Problem:
    """By hand: tight by 1; the bar alone would do, but it is locked; the wedge gets 0.4 before the side band
    binds."""
    return Problem(
        items=(Item("bar", -2, 2), Item("wedge", -4, 4)),
        effects=np.array([[0.5, 0.0], [0.2, 0.25]]),
        wants=(Want("tight", (Part(0),), -1.0),),
        bands=(Band("side", 1, -0.5, 0.5, fixed=fixed),),
        limits=(Limit("locked/bar", ((0, 0, 0),)),),
    )


def test_the_lock_is_named_and_given_up_first() -> None:
    """A limit is named as the repair before a wish or a band is; the nearest plan is what the wedge can
    do."""
    what = clash(locked(fixed=False))

    assert what is not None
    kinds = {Member("band", "side"), Member("limit", "locked/bar"), Member("want", "tight")}
    assert set(what.members) == kinds
    assert what.repair is not None
    assert what.repair.member == Member("limit", "locked/bar")
    assert what.repair.plan.clicks == (("bar", -2),)
    assert what.nearest.clicks == (("wedge", -2),)
    assert list(what.nearest.shortfall) == pytest.approx([0.25])


def test_a_limit_of_the_car_is_never_offered_as_a_repair() -> None:
    """A fixed band is named in the clash but not among the repairs."""
    what = clash(locked(fixed=True))

    assert what is not None
    assert Member("band", "side") in what.members
    assert [r.member for r in what.repairs if r.member.kind == "band"] == []


def test_the_cap_on_moves_can_be_what_clashes() -> None:
    """By hand: each lever does half of the want; one change is too few, two are enough."""
    items = (Item("left", -1, 1), Item("right", -1, 1))
    problem = Problem(items, np.array([[0.4], [0.4]]), (Want("tight", (Part(0),), -1.0),), max_moves=1)

    what = clash(problem)

    assert what is not None
    assert set(what.members) == {Member("cap", "moves"), Member("want", "tight")}
    assert what.repair is not None
    assert what.repair.member == Member("cap", "moves")
    assert what.repair.cures
