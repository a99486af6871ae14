"""Why a cure cannot be had within the wishes and limits: the clash as data, what the nearest plan gives,
the repair that helps most.

Wishes and limits are taken by family (all bands on the rest of the corner are one), as people think of
them. The clash is minimal by family: with all of them nothing cures, and letting go of any one of them
leaves a cure, as far as was searched.
"""

from dataclasses import dataclass

from engine.conflicts import Member, drop, members
from engine.planning import Drafts
from engine.problem import Problem
from engine.search import curable, solve
from engine.task import Task, got
from engine.verdict import ClashView, Fact

LOOKED_AT, TRIED = 150_000, 100_000
"""Options looked at before a cure counts as not there (a set of members), and while a repair is tried."""
ORDER = (
    *("guard-limit", "guard-side", "no-undo", "split", "guard-good", "history", "round", "most-moves"),
    *("keep", "stop-only", "only", "lock", "want"),
)
"""Families, the likeliest to be idle first: what is tried first is what is told only if it must be."""
REPAIRS = (
    "lock",
    "only",
    "stop-only",
    "keep",
    "history",
    "most-moves",
    "round",
    "guard-side",
    "guard-good",
    "want",
)
"""Which families may be let go, the driver's own limits first; a limit of the car never, nor the rule
against undoing."""


@dataclass(frozen=True, slots=True)
class Family:
    """Members told as one."""

    fact: Fact
    members: tuple[Member, ...]


def explain(task: Task, drafts: Drafts) -> ClashView | None:
    """The clash behind a plan that does not cure, or None when there is a cure after all."""
    problem, best = drafts.problem, drafts.most.plan
    if curable(problem, LOOKED_AT):
        return None
    kept: list[Family] = []
    left = problem
    for family in _families(task, problem):
        without = drop(left, family.members)
        if curable(without, LOOKED_AT):
            kept.append(family)
        else:
            left = without
    repair = _repair(task, problem, kept, sum(best.shortfall))
    return ClashView(tuple(f.fact for f in reversed(kept)), _summary(task, drafts), repair)


def _families(task: Task, problem: Problem) -> list[Family]:
    """The members of a problem by family, in `ORDER`."""
    found: dict[tuple[str, str], Family] = {}
    for member in members(problem):
        fact = _member(task, problem, member)
        name = (
            "" if fact.kind in ("guard-limit", "guard-side", "no-undo") else str(sorted(fact.names.items()))
        )
        old = found.get((fact.kind, name))
        if old is not None:
            narrow = min(old.fact, fact, key=lambda f: f.numbers.get("band", 0.0))
            found[fact.kind, name] = Family(narrow, (*old.members, member))
        else:
            found[fact.kind, name] = Family(fact, (member,))
    return sorted(found.values(), key=lambda f: (ORDER.index(f.fact.kind), sorted(f.fact.names.items())))


def _repair(task: Task, problem: Problem, kept: list[Family], lacking: float) -> Fact | None:
    """The single family whose letting go cures, else the one that brings most."""
    best: tuple[float, Family] | None = None
    rank = {kind: i for i, kind in enumerate(REPAIRS)}
    for family in sorted((f for f in kept if f.fact.kind in rank), key=lambda f: rank[f.fact.kind]):
        if family.fact.kind == "want" and len(task.needs) == 1:
            continue
        plan = solve(drop(problem, family.members), plans=1, cap=TRIED).plans[0]
        gain = lacking - sum(plan.shortfall)
        if plan.cured:
            return _told(family, gain, True)
        if gain > 0.05 and (best is None or gain > best[0] + 0.05):
            best = (gain, family)
    return _told(best[1], best[0], False) if best else None


def _told(family: Family, gain: float, cures: bool) -> Fact:
    names = {**family.fact.names, "cures": "yes" if cures else ""}
    return Fact(f"repair-{family.fact.kind}", {**family.fact.numbers, "gain": gain}, names)


def _summary(task: Task, drafts: Drafts) -> Fact:
    """How much of the first need that is not met can be had."""
    deltas = drafts.most.deltas
    lacking = dict(drafts.most.plan.lacking)
    need = next((n for n in task.needs if lacking.get(n.key, 0.0) > 0), task.needs[0])
    had = got(task, need, deltas)
    none = need.unit_feel and had / need.target * abs(need.target) < 0.05
    return Fact(
        "reached-none" if none else "reached",
        {"got": had, "wanted": need.target, "moves": float(task.wishes.max_moves)},
        {"need": need.key, "kind": need.kind, "channel": need.parts[0][0]},
    )


def _member(task: Task, problem: Problem, member: Member) -> Fact:
    """One wish or limit as a fact."""
    if member.kind in ("want", "undo"):
        need = next(n for n in task.needs if n.key == member.key)
        kind = "want" if member.kind == "want" else "no-undo"
        return Fact(
            kind, {"wanted": need.target}, {"need": need.key, "kind": need.kind, "channel": need.parts[0][0]}
        )
    if member.kind == "cap":
        return Fact("most-moves", {"moves": float(problem.max_moves)})
    if member.kind == "band":
        return _band(task, member.key)
    kind, _, rest = member.key.partition("/")
    if kind == "not":
        return Fact("lock", names={"setting": rest})
    if kind == "link":
        return Fact("split", names={"link": rest})
    if kind == "keep":
        first, _, second = rest.partition("/")
        return Fact("keep", names={"first": first, "second": second})
    return Fact(kind)


def _band(task: Task, key: str) -> Fact:
    guard = next(g for g in task.guards if g.key == key)
    if guard.kind == "limit":
        return Fact("guard-limit", {"bound": guard.bound}, {"channel": guard.channel})
    if guard.kind == "harm":
        return Fact("no-undo")
    kind = "guard-good" if guard.kind == "good" else "guard-side"
    return Fact(kind, {"band": min(guard.high, -guard.low)}, {"channel": guard.channel})
