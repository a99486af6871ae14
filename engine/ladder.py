"""Which levers a plan may use, and how much the rest of the corner may move: opened step by step, and
only as far as needed."""

from dataclasses import replace

from engine.laying import FAR
from engine.outlook import cures_of
from engine.planning import Draft, Drafts, make_plans
from engine.task import INDEX, NEAR, Task, lack, lacking, widened
from engine.thinning import thinned, without_specks
from engine.verdict import Fact
from engine.views import Scene
from engine.wanted import Need

WORTH_IT = 0.1
"""Feel of cure, all complaints together, that serving a later one first must win."""
NOTICED = 0.25
"""Feel of cure that letting the rest of the corner move more, or the last levers (lead, dampers), must bring:
what a driver notices (common practice, no source)."""
NEARLY, EASED = 0.5, 0.4
"""Share of every complaint that a list must bring to be run before the last levers are reached for and before
the rest of the corner is let go, and to be run at that price: a crew eases part of it and runs again (one
change at a time S88; shocks last S47, S48; the shares are judgement)."""
EACH = 0.2
"""Feel of cure that each change of a list that cures only in part must win (common practice, no source)."""
AS_LIKELY = 0.1
"""Log of the chance of a cure that lists of all levers must win over those of the first ones (a tenth
likelier; chosen with 120 cars on each of three pairs, `benchmarks/closed_loop.py`)."""
MORE = 2
"""Changes more than complaints from which a list is long: letting the rest of the corner move more is then
tried before it is run, as for a dear one (one change at a time: S88)."""
FEW = 2
"""How many settings the driver may rule out without narrowing the choice, such as the two ends or the two
springs of a kind: the rest is treated as if he had said nothing (judgement)."""
DEAR = 10.0
"""Reach from which a whole list is dear: about three changes of springs."""
DEARER = 2.0
"""How many times what is given up of an earlier complaint a later one must win to be served first."""


def found_plans(scene: Scene, lists: int) -> tuple[Scene, Drafts]:
    """The plans: with a session's reports to go by those most likely to cure, of the levers the trade reaches
    for first when these are about as likely; else, and for a first list that is one of these levers and cures
    as modelled, the fewest changes."""
    known = scene.task.knowledge
    if not scene.task.hedged or known is None:
        return _plain(_unheard(scene), lists)
    if not known.levers:
        own, drafts = _plain(_unheard(scene), lists)
        best = drafts.drafts[0]
        if len(best.moves) <= 1 and not own.task.far and all(c.met for c in cures_of(own.task, best)):
            return own, drafts
    return _likeliest(scene, lists)


def _unheard(scene: Scene) -> Scene:
    return replace(scene, task=replace(scene.task, knowledge=None))


def _likeliest(scene: Scene, lists: int) -> tuple[Scene, Drafts]:
    """The plans most likely to cure, of the first levers unless all levers make it noticeably likelier."""
    near = replace(scene, task=replace(scene.task, far=False))
    every = make_plans(scene.task, scene.model, lists)
    if not any(_last(scene.task, draft) for draft in every.drafts):
        return near, without_specks(near.task, every)
    first = make_plans(near.task, scene.model, lists)
    if first.drafts[0].moves and first.likely >= every.likely - AS_LIKELY:
        return near, without_specks(near.task, first)
    return scene, without_specks(scene.task, every)


def _last(task: Task, draft: Draft) -> bool:
    """True when a plan holds one of the last levers."""
    moves, rows = task.response.moves, task.response.rows
    return any(moves[rows[key]].reach >= FAR for key, _ in draft.moves)


def _plain(scene: Scene, lists: int) -> tuple[Scene, Drafts]:
    """The fewest changes by the response alone: each rung of the ladder must be worth more than the last."""
    near = replace(scene, task=replace(scene.task, far=False))
    best, found = near, _served(near, lists)
    costly, first = _dear(found) or _long(near.task, found), found.drafts[0]
    if not costly and (not lacking(near.task, first.deltas) or _eased(near.task, first, NEARLY)):
        return near, found
    near_wide, wide = (replace(one, task=widened(one.task)) for one in (near, scene))
    if costly and _eased(near.task, first, EASED):
        tried = _served(near_wide, lists, usual=False)
        if _reach(tried) <= _reach(found) / 2 and _eased(near_wide.task, tried.drafts[0], EASED):
            return near_wide, tried
    for rung in (near_wide, scene, wide):
        lacks = lacking(best.task, found.drafts[0].deltas)
        enough = EASED if rung.task.far and not _limited(scene) else NEARLY
        if not lacks or _eased(best.task, found.drafts[0], enough):
            break
        tried = _served(rung, lists, usual=False)
        if rung is scene:
            all_levers = tried
        won = lacks - lacking(rung.task, tried.drafts[0].deltas)
        eases = _eased(rung.task, tried.drafts[0], EASED) and not _eased(best.task, found.drafts[0], EASED)
        if won >= NOTICED or (won > 0.0 and eases):
            best, found = rung, tried
    else:
        if not best.task.far:
            return scene, replace(found, problem=all_levers.problem, fullest=all_levers.most)
    return best, found


def _limited(scene: Scene) -> bool:
    """True when the driver set limits that leave few levers: then he is told what stands in the way."""
    wishes = scene.task.wishes
    return bool(len(wishes.locked) > FEW or wishes.kept or wishes.stop_only or wishes.only is not None)


def _served(scene: Scene, lists: int, usual: bool = True) -> Drafts:
    """The plans of a task, the earliest complaint first unless giving up a little of it wins much more of
    a later one; no change on them that is not worth its work. `usual` False: at the price of the rest of the
    corner or of the last levers."""
    task = scene.task
    found = make_plans(task, scene.model, lists)
    if len({need.level for need in task.needs if need.unit_feel}) > 1 and not found.drafts[0].plan.cured:
        even = replace(task, needs=tuple(_even(need) for need in task.needs))
        other = make_plans(even, scene.model, lists)
        now, then = found.drafts[0].deltas, other.drafts[0].deltas
        lost = max(0.0, lack(task, task.needs[0], then) - lack(task, task.needs[0], now))
        won = lacking(task, now) - lacking(task, then) + lost
        if won >= DEARER * lost and won - lost > WORTH_IT:
            task, found = even, other
    cheap = usual and not _dear(found)
    return thinned(task, _lightest(task, found, scene, lists, cheap), scene.model)


def _reach(found: Drafts) -> float:
    """How far the best plan reaches."""
    return found.drafts[0].plan.reach


def _dear(found: Drafts) -> bool:
    return _reach(found) > DEAR


def _long(task: Task, found: Drafts) -> bool:
    return len(found.drafts[0].moves) >= len(task.needs) + MORE


def _lightest(task: Task, found: Drafts, scene: Scene, lists: int, cheap: bool) -> Drafts:
    """Where not all can be cured, or only at a price: the plans of fewer changes, when each change more wins
    too little and the trade reaches no further for them."""
    best = found.drafts[0]
    lacks = lacking(task, best.deltas)
    for count in range(1, len(best.moves) if lacks or not cheap else 0):
        wishes = replace(task.wishes, max_moves=count)
        few = replace(task, wishes=wishes, needs=tuple(_half(need) for need in task.needs))
        fewer = make_plans(few, scene.model, lists)
        near = lacking(task, fewer.drafts[0].deltas) <= lacks + EACH * (len(best.moves) - count)
        if near and _reach(fewer) <= best.plan.reach and (lacks or _eased(task, fewer.drafts[0], EASED)):
            return replace(fewer, problem=found.problem, fullest=best)
    return found


def _half(need: Need) -> Need:
    """The need where half of it will do: among lists that ease so much the trade's order decides."""
    return replace(need, tolerance=max(need.tolerance, 1.0 - NEARLY)) if need.unit_feel else need


def _even(need: Need) -> Need:
    return replace(need, level=0) if need.unit_feel else need


def _eased(task: Task, draft: Draft, share: float) -> bool:
    """True when every complaint about balance is eased by a share of it, and every other need is met."""
    return all(
        cure.met or (need.unit_feel and cure.got / cure.wanted >= share)
        for need, cure in zip(task.needs, cures_of(task, draft), strict=True)
    )


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
