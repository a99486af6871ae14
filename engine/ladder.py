"""Which levers a plan may use, and how much the rest of the corner may move: opened step by step, and
only as far as needed."""

from dataclasses import replace

from engine.laying import plain_problem
from engine.outlook import cures_of
from engine.planning import Draft, Drafts, make_plans
from engine.search import curable
from engine.task import INDEX, NEAR, widened
from engine.verdict import Fact
from engine.views import Scene

SHORT = 2
"""Moves of a first list that is taken at the model's word; a longer one is weighed by what may go
wrong (65 against 59 cures in 100 by the third list, `benchmarks/closed_loop.py`)."""
WORTH_IT = 0.1
"""Feel of cure that letting the rest of the corner move more must bring."""


def found_plans(scene: Scene, lists: int) -> tuple[Scene, Drafts]:
    """The plans. Without anything heard of this car the fewest changes: with the levers the trade reaches
    for first, when they cure; else with all; else with more room for the rest of the corner, when that
    cures more. Once something was heard, the plan most likely to cure; except that as long as no lever was
    tried, a short list of the first levers that cures as modelled is taken before it."""
    known = scene.task.knowledge
    if not scene.task.hedged or known is None:
        return _plain(replace(scene, task=replace(scene.task, knowledge=None)), lists)
    if not known.levers:
        near = replace(scene, task=replace(scene.task, knowledge=None, far=False))
        first = make_plans(near.task, scene.model, lists)
        met = all(cure.met for cure in cures_of(near.task, first.drafts[0]))
        if met and len(first.drafts[0].moves) <= SHORT:
            return near, first
    return scene, make_plans(scene.task, scene.model, lists)


def _plain(scene: Scene, lists: int) -> tuple[Scene, Drafts]:
    """The fewest changes by the response alone."""
    near = replace(scene, task=replace(scene.task, far=False))
    drafts = make_plans(near.task, scene.model, lists)
    if drafts.drafts[0].plan.cured:
        return near, drafts
    wide = replace(scene, task=widened(scene.task))
    if not _can(scene):
        near_wide = replace(near, task=widened(near.task))
        near_can = _can(near_wide)
        if near_can or _can(wide):
            drafts = make_plans(near_wide.task, scene.model, lists)
            if near_can or all(cure.met for cure in cures_of(near_wide.task, drafts.drafts[0])):
                return near_wide, drafts
            return wide, make_plans(wide.task, scene.model, lists)
    drafts = make_plans(scene.task, scene.model, lists)
    lacking = sum(drafts.drafts[0].plan.shortfall)
    if not lacking:
        return scene, drafts
    more = make_plans(wide.task, scene.model, lists)
    better = sum(more.drafts[0].plan.shortfall) <= lacking - WORTH_IT
    return (wide, more) if better else (scene, drafts)


def _can(scene: Scene) -> bool:
    """True when there is a cure by the response alone."""
    return bool(curable(plain_problem(scene.task)))


def wider(scene: Scene, draft: Draft) -> list[Fact]:
    """The side effect beyond the usual band, where one had to be let through."""
    found = []
    for guard in scene.needs.guards:
        change = float(draft.deltas[INDEX[guard.channel]] + scene.task.shift[INDEX[guard.channel]])
        if guard.kind == "side" and not guard.low - NEAR <= change <= guard.high + NEAR:
            found.append((abs(change), guard.channel, change))
    if not found or scene.task.hedged:
        return []
    _, channel, change = max(found)
    return [Fact("wider", {"side": change}, {"channel": channel})]
