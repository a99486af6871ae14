"""A plan told: changes with reasons and effects, what to expect, how far each need is met."""

from collections.abc import Sequence
from dataclasses import dataclass

from engine.alone import Alone
from engine.car import Setup
from engine.channels import CHANNELS
from engine.full import FullModel
from engine.learning import Push
from engine.levers import pushes_of
from engine.outlook import cures_of, effects, shown_always
from engine.planning import Draft, apply
from engine.reasons import direct_reasons, reasons
from engine.requests import Direct
from engine.response import Array
from engine.task import Task, is_met
from engine.verdict import Change, Cure, Fact, PlanView
from engine.wanted import Need, Needs

SHARE = 0.4
"""Share of the noticeable change that an effect of a single move needs to be listed."""


@dataclass(frozen=True)
class Scene:
    """A planning task with what is needed to tell its result. `start` is the set-up before the direct
    changes (the task's own set-up has them); `before` is every channel as felt or measured now."""

    task: Task
    start: Setup
    needs: Needs
    direct: Direct
    before: dict[str, float]
    model: FullModel


def views(scene: Scene, drafts: Sequence[Draft]) -> list[PlanView]:
    """Drafts as change lists; what each move does on its own is computed for all of them in one call."""
    task = scene.task
    moves, rows = task.response.moves, task.response.rows
    orders = [sorted(d.moves, key=lambda pair: (moves[rows[pair[0]]].reach, pair[0])) for d in drafts]
    pairs = sorted({pair for order in orders for pair in order})
    changed = [apply(task, (pair,)) for pair in pairs]
    alone = dict(zip(pairs, scene.model.alone(task.setup, changed), strict=True))
    pushes = {pair: pushes_of(task.response, (pair,)) for pair in (*_direct_clicks(scene), *pairs)}
    return [_view(scene, d, order, alone, pushes) for d, order in zip(drafts, orders, strict=True)]


def _view(
    scene: Scene,
    draft: Draft,
    order: list[tuple[str, int]],
    alone: dict[tuple[str, int], Alone],
    pushes: dict[tuple[str, int], tuple[Push, ...]],
) -> PlanView:
    """A draft as a change list: the settings asked for first, then the plan's moves in the order of
    reaching for them."""
    task = scene.task
    changes = list(_direct_changes(scene))
    for key, count in order:
        changes += _move_changes(scene, draft, key, count, alone[key, count])
    total = draft.deltas + task.shift
    expected = effects(scene.before, total, shown_always(scene.needs))
    pushed = tuple(push for pair in (*_direct_clicks(scene), *draft.moves) for push in pushes[pair])
    return PlanView(
        draft.moves, tuple(changes), expected, _cures(scene, draft, total), tuple(map(float, total)), pushed
    )


def _cures(scene: Scene, draft: Draft, total: Array) -> tuple[Cure, ...]:
    """How far each need is met, by the direct changes or by the draft."""
    planned = {cure.need: cure for cure in cures_of(scene.task, draft)}
    return tuple(planned.get(n.key) or _direct_cure(scene, n, total) for n in scene.needs.needs)


def _direct_cure(scene: Scene, need: Need, total: Array) -> Cure:
    """How far a need is met by changes of the channels, the direct ones included."""
    got, met = _got(need.parts, total), is_met(scene.task, need, total - scene.task.shift)
    return Cure(need.key, need.parts[0][0], need.target, got, met)


def view_direct(scene: Scene) -> PlanView:
    """Only what was asked for (or a rule of thumb says), with its effects."""
    shift = scene.task.shift
    expected = effects(scene.before, shift, shown_always(scene.needs))
    cures = tuple(_direct_cure(scene, need, shift) for need in scene.needs.needs)
    pushes = pushes_of(scene.task.response, _direct_clicks(scene))
    return PlanView((), tuple(_direct_changes(scene)), expected, cures, tuple(map(float, shift)), pushes)


def _got(parts: tuple[tuple[str, float], ...], shift: Array) -> float:
    return float(sum(w * shift[CHANNELS.index(c)] for c, w in parts))


def _direct_clicks(scene: Scene) -> list[tuple[str, int]]:
    """The settings asked for as moves of their own, with their clicks."""
    found = []
    for key, value in scene.direct.values.items():
        setting = scene.task.car.setting(key)
        found.append((key, setting.click_of(value) - setting.click_of(scene.start[key])))
    return found


def _direct_changes(scene: Scene) -> list[Change]:
    """The settings asked for, each with its own effect on the straight-line response."""
    task, found = scene.task, []
    for key, value in scene.direct.values.items():
        setting = task.car.setting(key)
        clicks = setting.click_of(value) - setting.click_of(scene.start[key])
        row = task.response.rows[key]
        deltas = clicks * task.response.step[row] if len(scene.direct.values) > 1 else task.shift
        shown = effects(scene.before, deltas, share=SHARE)
        facts = direct_reasons(scene.direct.why[key], task, deltas, shown)
        found.append(
            Change(_asked_with(key, scene.direct), key, scene.start[key], value, clicks, facts, shown)
        )
    return found


def _asked_with(key: str, direct: Direct) -> str:
    """The first setting of the same kind that was asked for: they count as one change."""
    family = key.rsplit("_", 1)[0]
    same = (k for k, fact in direct.why.items() if fact.kind == "asked" and k.rsplit("_", 1)[0] == family)
    return next(same, key)


def _move_changes(scene: Scene, draft: Draft, key: str, count: int, alone: Alone) -> list[Change]:
    """One change per setting of a move; reasons and effects stand with the first."""
    task = scene.task
    move = task.response.moves[task.response.rows[key]]
    told = reasons(task, draft, key, alone)
    shown = effects(scene.before, draft.per_move[key], share=SHARE)
    found = []
    first = next(iter(move.parts))
    for part, each in move.parts.items():
        facts = told if part == first else (Fact("together", names={"setting": first, "move": key}),)
        mine = shown if part == first else ()
        found.append(Change(key, part, task.setup[part], draft.setup[part], each * count, facts, mine))
    return found
