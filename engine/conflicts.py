"""Why a full cure is out of reach: the smallest clashing set of wishes and limits, and the repair that helps
most.

A member is a want, its no-undo rule, a hard band, a link, a limit, or the cap on moves. A clash is minimal:
with all its members and nothing else there is no full cure; drop any one of them and there is.
"""

from dataclasses import dataclass

from engine.problem import Band, Kind, Limit, LinkRow, Plan, Problem, Solution
from engine.search import CAP, curable, solve

REPAIR_ORDER: tuple[Kind, ...] = ("limit", "cap", "band", "link", "undo", "want")
"""Which of two equally good repairs is named first: a limit is given up before a wish is."""


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

    `complete` False: a cap was reached on the way, so the set clashes as far as was searched but may not be
    minimal."""

    members: tuple[Member, ...]
    repairs: tuple[Repair, ...]
    nearest: Plan
    complete: bool

    @property
    def repair(self) -> Repair | None:
        """The single repair that helps most, if any helps."""
        return self.repairs[0] if self.repairs else None


def clash(problem: Problem, solution: Solution | None = None, cap: int = CAP) -> Clash | None:
    """The clash of a problem without a full cure; None when it has one. `solution` saves solving again."""
    solution = solution or solve(problem, plans=1, cap=cap)
    if solution.cured:
        return None
    members, complete = _shrink(problem, cap)
    return Clash(members, _repairs(problem, members, solution.plans[0], cap), solution.plans[0], complete)


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


def drop(problem: Problem, gone: tuple[Member, ...]) -> Problem:
    """The problem without some members."""
    for member in gone:
        problem = problem.without(member.kind, member.key)
    return problem


def _shrink(problem: Problem, cap: int) -> tuple[tuple[Member, ...], bool]:
    """Drop members one by one for as long as no full cure appears (halves first, then single ones)."""
    kept: list[Member] = []
    complete = True
    todo = [list(members(problem))]
    while todo:
        group = todo.pop()
        cure = curable(drop(problem, tuple(group)), cap)
        if cure is False:
            problem = drop(problem, tuple(group))
        elif len(group) > 1:
            todo += [group[len(group) // 2 :], group[: len(group) // 2]]
        else:
            kept += group
            complete &= cure is not None
    return tuple(kept), complete


def _repairs(problem: Problem, found: tuple[Member, ...], nearest: Plan, cap: int) -> tuple[Repair, ...]:
    """Single drops that bring more cure than the nearest plan, most helpful first."""
    rows: tuple[Band | LinkRow | Limit, ...] = (*problem.bands, *problem.links, *problem.limits)
    fixed = {row.key for row in rows if row.fixed}
    tried = []
    for member in found:
        if member.kind not in ("want", "undo", "cap") and member.key in fixed:
            continue
        solution = solve(drop(problem, (member,)), plans=1, cap=cap)
        plan = solution.plans[0]
        if sum(plan.shortfall) < sum(nearest.shortfall):
            tried.append(Repair(member, plan, solution.cured))
    order = {kind: i for i, kind in enumerate(REPAIR_ORDER)}
    return tuple(
        sorted(
            tried,
            key=lambda r: (not r.cures, order[r.member.kind], r.plan.shortfall, r.plan.cost, r.member.key),
        )
    )
