"""A change on a list must earn its place: it brings a part of a cure that a driver feels, or keeps what would
not keep its place without it. One that does neither is taken off."""

from dataclasses import replace

import numpy as np

from engine.planning import Draft, Drafts, Model, make_plans
from engine.response import Array
from engine.task import INDEX, NEAR, SCALE, Task, lack, lacking
from engine.wanted import Guard, Need

__all__ = ["EARNED", "WORTH", "earned", "thinned", "without_specks"]

WORTH = 0.1
"""Share of the largest want (of one feel at most) that the complaints together may lose with a change taken
off (common practice, no source)."""
EARNED = 0.15
"""Feel (share of the want where less than one is wanted) that a change must bring of a complaint, or keep of
the rest of the corner: a click for less is no work a crew would do (common practice, no source)."""


def without_specks(task: Task, found: Drafts) -> Drafts:
    """Plans weighed by their chances, without those that hold a change nobody would feel; all of them when
    each does."""
    stages = {channel.rsplit("/", 1)[1] for need in task.needs for channel, _ in need.parts}
    felt = [
        i
        for channel, i in INDEX.items()
        if channel.startswith("balance/") and channel.rsplit("/", 1)[1] in stages
    ]
    kept = tuple(
        draft
        for draft in found.drafts
        if all(float(np.abs(own[felt]).max()) >= EARNED for own in draft.per_move.values())
    )
    return replace(found, drafts=kept or found.drafts)


def thinned(task: Task, found: Drafts, model: Model) -> Drafts:
    """The plans without changes that do not earn their place, each again checked on the full model; left out
    is a plan that is then the same as an earlier one, and any but the first that cannot do without such a
    change."""
    drafts: list[Draft] = []
    for draft in found.drafts:
        spare = _spare(task, draft)
        lighter = _without(task, draft, spare, model) if spare else draft
        same = any(set(dict(d.moves)) <= set(dict(lighter.moves)) for d in drafts)
        if not same and (not drafts or earned(task, lighter)):
            drafts.append(lighter)
    return replace(found, drafts=tuple(drafts))


def earned(task: Task, draft: Draft) -> bool:
    """True when every change of a plan earns its place; a change alone on its list always does."""
    return len(draft.moves) < 2 or all(
        any(brings(task, draft, own, need) for need in task.needs) or keeps(task, draft, own)
        for own in draft.per_move.values()
    )


def brings(task: Task, draft: Draft, own: Array, need: Need) -> bool:
    """True when a change brings a part of a need that is felt: of its whole, or of the one part of it that
    would else be left behind."""
    size = _size(need)
    way = (1.0 if need.target > 0 else -1.0) / float(SCALE[INDEX[need.parts[0][0]]])
    own_part = way * float(sum(w * own[INDEX[c]] for c, w in need.parts))
    lost = lack(task, need, draft.deltas - own) - lack(task, need, draft.deltas)
    return own_part >= EARNED * size - 1e-9 or lost >= WORTH * size


def keeps(task: Task, draft: Draft, own: Array) -> bool:
    """True when something would leave its band without a change, and it was the change that moved it back by
    what is felt; a limit of the car counts whatever the amount."""
    left, total = draft.deltas - own + task.shift, draft.deltas + task.shift
    return any(_leaves(guard, left, total) for guard in task.guards)


def _leaves(guard: Guard, left: Array, total: Array) -> bool:
    i = INDEX[guard.channel]
    limit = guard.kind == "limit"
    slack = 1e-6 if limit else NEAR * SCALE[i]
    low, high = min(guard.low - slack, total[i]), max(guard.high + slack, total[i])
    return not low <= left[i] <= high and (limit or abs(left[i] - total[i]) >= EARNED)


def _size(need: Need) -> float:
    """The want in feel, of one at most."""
    return min(1.0, abs(need.target) / float(SCALE[INDEX[need.parts[0][0]]]))


def _worth(task: Task) -> float:
    """What the complaints may lose together, in feel."""
    return WORTH * max(_size(need) for need in task.needs)


def _spare(task: Task, draft: Draft) -> str | None:
    """The change that can best be done without, None when each is needed."""
    if len(draft.moves) < 2:
        return None
    whole = lacking(task, draft.deltas)
    loss = {key: lacking(task, draft.deltas - own) - whole for key, own in draft.per_move.items()}
    free = {
        k: loss[k]
        for k, own in draft.per_move.items()
        if loss[k] < _worth(task) and not keeps(task, draft, own)
    }
    return min(free, key=lambda key: (round(free[key], 6), key), default=None)


def _without(task: Task, draft: Draft, spare: str, model: Model) -> Draft:
    """The best plan of the other changes alone, if it does about as well, with the rest of the corner where
    it was or as far beyond as is not felt; else the plan as it is."""
    among = frozenset(key for key, _ in draft.moves if key != spare)
    enough = lacking(task, draft.deltas) + _worth(task)
    for tried in (task, _eased(task)):
        lighter = make_plans(tried, model, 1, among).drafts[0]
        if lighter.moves and lacking(task, lighter.deltas) < enough:
            again = _spare(task, lighter)
            return _without(task, lighter, again, model) if again else lighter
    return draft


def _eased(task: Task) -> Task:
    """The task with the bands on what nobody complained of opened by what is not felt: nobody sets a click to
    hold that."""
    return replace(task, guards=tuple(_opened(guard) for guard in task.guards))


def _opened(guard: Guard) -> Guard:
    if guard.kind not in ("side", "stage"):
        return guard
    return replace(guard, low=guard.low - EARNED, high=guard.high + EARNED)
