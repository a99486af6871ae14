"""Why a full cure is out of reach: the smallest clashing set of wishes and limits, and the repairs that help.

A member is a want, its no-undo rule, a hard band, a link, a limit, or the cap on moves; members may be told
in groups. A clash is minimal: with all its groups and nothing else there is no full cure; let any one go and
there is.

It is found by witnesses: a witness is a plan that cures what a relaxed problem still asks, seen as the set of
groups it breaks. Every clash must contain a group that each witness breaks. So the smallest set that meets
all witnesses so far is tried; a cure of it is a new witness, and when there is none it is the clash, and each
of its groups is needed because some witness breaks that one alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.problem import Band, Kind, Limit, LinkRow, Plan, Problem, Solution
from engine.search import CAP, find_cures, solve
from engine.violations import Bools, Ints, broken

REPAIR_ORDER: tuple[Kind, ...] = ("limit", "cap", "band", "link", "undo", "want")
"""Which of two equally good repairs is named first: a limit is given up before a wish is."""
TRIED = 200_000
"""Options looked at for one step of a clash or one repair."""


@dataclass(frozen=True, slots=True)
class Member:
    """One wish or limit: its kind and its key in the problem ("moves" for the cap)."""

    kind: Kind
    key: str


@dataclass(frozen=True, slots=True)
class Repair:
    """Dropping `member` alone gives `plan`; `cures` when that plan meets every want that is left."""

    member: Member
    plan: Plan
    cures: bool


@dataclass(frozen=True, slots=True)
class Clash:
    """`members` clash; `repairs` are single drops, most helpful first; `nearest` is the plan of least
    shortfall.

    `complete` False: a cap was reached on the way, so there is no cure as far as was searched."""

    members: tuple[Member, ...]
    repairs: tuple[Repair, ...]
    nearest: Plan
    complete: bool

    @property
    def repair(self) -> Repair | None:
        """The single repair that helps most, if any helps."""
        return self.repairs[0] if self.repairs else None


def clash(problem: Problem, solution: Solution | None = None, cap: int = TRIED) -> Clash | None:
    """The clash of a problem without a full cure; None when it has one. `solution` saves solving again."""
    solution = solution or solve(problem, plans=1, cap=CAP)
    if solution.cured:
        return None
    every = members(problem)
    kept, complete = shrink(problem, [(member,) for member in every], cap)
    found = tuple(every[i] for i in kept)
    return Clash(found, _repairs(problem, found, solution.plans[0], cap), solution.plans[0], complete)


def members(problem: Problem) -> tuple[Member, ...]:
    """Everything that could be dropped, the likeliest to be idle first."""
    return (
        *(Member("band", band.key) for band in problem.bands if band.penalty is None),
        *(Member("link", row.key) for row in problem.links),
        *(Member("limit", limit.key) for limit in problem.limits),
        *(Member("undo", want.key) for want in problem.wants),
        *(Member("want", want.key) for want in problem.wants),
        Member("cap", "moves"),
    )


def drop(problem: Problem, gone: Sequence[Member]) -> Problem:
    """The problem without some members."""
    for member in gone:
        problem = problem.without(member.kind, member.key)
    return problem


def shrink(
    problem: Problem, groups: Sequence[Sequence[Member]], cap: int = TRIED
) -> tuple[tuple[int, ...], bool]:
    """Indices of a minimal set of groups that clash (earlier ones are let go first), and whether that is
    proved; empty when the problem has a cure. `cap` bounds the options looked at in each step."""
    every = [member for group in groups for member in group]
    home = {member: i for i, group in enumerate(groups) for member in group}
    own = np.array([home[member] for member in every], np.int64)
    with_it = np.array([home.get(_premise(member), home[member]) for member in every], np.int64)
    witnesses = np.zeros((0, len(every)), np.bool_)
    while True:
        kept = _meeting(witnesses, own, with_it, len(groups))
        gone = [member for member in every if not kept[home[member]]]
        cures, complete = find_cures(drop(problem, gone), cap)
        if not len(cures):
            return tuple(np.flatnonzero(kept).tolist()), complete
        new = np.unique(np.array([broken(problem, m.kind, m.key, cures) for m in every]).T, axis=0)
        if not _stopped(new, np.ones(len(groups), np.bool_), own, with_it).all():
            return (), True
        if _stopped(new, kept, own, with_it).any():
            raise AssertionError("the search let a plan through that breaks what it was asked to keep")
        witnesses = np.concatenate([witnesses, new])


def _premise(member: Member) -> Member:
    """The member without which this one means nothing: no want, no rule against undoing it."""
    return Member("want", member.key) if member.kind == "undo" else member


def _stopped(witnesses: Bools, kept: Bools, own: Ints, with_it: Ints) -> Bools:
    """Which witnesses [w, members] break a member that holds when these groups are kept."""
    stopped: Bools = np.any(witnesses & kept[own] & kept[with_it], axis=1)
    return stopped


def _meeting(witnesses: Bools, own: Ints, with_it: Ints, groups: int) -> Bools:
    """Groups that stop every witness, none of them to spare; earlier groups are let go first."""
    kept = np.ones(groups, np.bool_)
    for group in range(groups):
        kept[group] = False
        kept[group] = not _stopped(witnesses, kept, own, with_it).all()
    return kept


def _repairs(problem: Problem, found: tuple[Member, ...], nearest: Plan, cap: int) -> tuple[Repair, ...]:
    """Single drops that bring more cure than the nearest plan, most helpful first."""
    rows: tuple[Band | LinkRow | Limit, ...] = (*problem.bands, *problem.links, *problem.limits)
    fixed = {row.key for row in rows if row.fixed}
    tried = []
    for member in found:
        if member.kind in ("want", "undo", "cap") or member.key not in fixed:
            solution = solve(drop(problem, (member,)), plans=1, cap=cap)
            if sum(solution.plans[0].shortfall) < sum(nearest.shortfall):
                tried.append(Repair(member, solution.plans[0], solution.cured))
    order = {kind: i for i, kind in enumerate(REPAIR_ORDER)}
    tried.sort(key=lambda r: (not r.cures, order[r.member.kind], r.plan.shortfall, r.plan.cost, r.member.key))
    return tuple(tried)
