"""Why a cure cannot be had within the wishes and limits: the clash as data, the nearest plan's size, the
repair that helps most.

Members of one family (side bands by phase, caps, limits of the car) are told as one.
"""

from engine.conflicts import Member, clash
from engine.planning import Drafts, Task, got
from engine.problem import Problem
from engine.verdict import ClashView, Fact

CAP = 60_000
"""Options looked at per solve while shrinking a clash: a clash that would take longer is said to be as
far as was searched."""


def explain(task: Task, drafts: Drafts) -> ClashView | None:
    """The clash behind a plan that does not cure, or None when the program as solved last has a cure
    after all."""
    problem = drafts.problem
    found = clash(problem, cap=CAP)
    if found is None:
        return None
    members = _grouped([_member(task, problem, m) for m in found.members])
    lone = len(task.needs) == 1
    repair = next((r for r in found.repairs if not (lone and r.member.kind == "want")), None)
    told = None
    if repair is not None:
        fact = _member(task, problem, repair.member)
        lost = sum(found.nearest.shortfall) - sum(repair.plan.shortfall)
        told = Fact(
            f"repair-{fact.kind}",
            {**fact.numbers, "gain": lost},
            {**fact.names, "cures": "yes" if repair.cures else ""},
        )
    return ClashView(members, _summary(task, drafts), told)


def _summary(task: Task, drafts: Drafts) -> Fact:
    """How much of the first need that is not met can be had."""
    deltas = drafts.drafts[0].deltas
    lacking = dict(drafts.drafts[0].plan.lacking)
    need = next((n for n in task.needs if lacking.get(n.key, 0.0) > 0), task.needs[0])
    return Fact(
        "reached",
        {"got": got(task, need, deltas), "wanted": need.target, "moves": float(task.wishes.max_moves)},
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
        guard = next(g for g in task.guards if g.key == member.key)
        numbers = {"bound": guard.bound} if guard.kind == "limit" else {"band": min(guard.high, -guard.low)}
        return Fact(f"guard-{guard.kind}", numbers, {"channel": guard.channel})
    kind, _, rest = member.key.partition("/")
    if kind == "not":
        return Fact("lock", names={"setting": rest})
    if kind == "link":
        return Fact("split", names={"link": rest})
    if kind == "keep":
        first, _, second = rest.partition("/")
        return Fact("keep", names={"first": first, "second": second})
    return Fact(kind)


def _grouped(facts: list[Fact]) -> tuple[Fact, ...]:
    """Side and stage bands told once, by the narrowest; wishes first, then the driver's limits, then the
    car's."""
    order = (
        "want",
        "guard-good",
        "lock",
        "only",
        "stop-only",
        "keep",
        "history",
        "most-moves",
        "round",
        "split",
        "no-undo",
    )
    found: dict[str, Fact] = {}
    for fact in facts:
        key = f"{fact.kind}/{sorted(fact.names.items())}"
        if fact.kind in ("guard-side", "guard-stage"):
            key = "guard-side"
            fact = Fact(key, fact.numbers, fact.names)
            if key in found and found[key].numbers["band"] <= fact.numbers["band"]:
                continue
        found[key] = fact
    rank = {kind: i for i, kind in enumerate(order)}
    return tuple(
        sorted(found.values(), key=lambda f: (rank.get(f.kind, len(order)), sorted(f.names.items())))
    )
