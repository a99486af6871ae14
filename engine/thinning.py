"""A change on a list must be worth its work: one that brings next to nothing of the cure, and without which
everything else keeps its place, is taken off."""

from dataclasses import replace

import numpy as np

from engine.planning import Draft, Drafts, Model, make_plans
from engine.response import Array
from engine.task import INDEX, NEAR, SCALE, Task, lacking

__all__ = ["thinned", "without_specks"]

WORTH = 0.1
"""Share of the largest want (of one feel at most) that a change must bring, all complaints together (common
practice, no source)."""

SPECK = 0.15
"""Feel that a change must move the balance by somewhere where it is complained of, to be a change at all."""


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
        if all(float(np.abs(own[felt]).max()) >= SPECK for own in draft.per_move.values())
    )
    return replace(found, drafts=kept or found.drafts)


def thinned(task: Task, found: Drafts, model: Model) -> Drafts:
    """The plans without changes that are not worth their work, each again checked on the full model; a plan
    that is then the same as an earlier one is left out."""
    drafts: list[Draft] = []
    for draft in found.drafts:
        spare = _spare(task, draft)
        lighter = _without(task, draft, spare, model) if spare else draft
        if not any(set(dict(d.moves)) <= set(dict(lighter.moves)) for d in drafts):
            drafts.append(lighter)
    return replace(found, drafts=tuple(drafts))


def _worth(task: Task) -> float:
    """What a change must bring, in feel."""
    return WORTH * min(1.0, max(abs(n.target) / float(SCALE[INDEX[n.parts[0][0]]]) for n in task.needs))


def _spare(task: Task, draft: Draft) -> str | None:
    """The change that can best be done without, None when each is needed."""
    if len(draft.moves) < 2:
        return None
    whole = lacking(task, draft.deltas)
    loss = {key: lacking(task, draft.deltas - own) - whole for key, own in draft.per_move.items()}
    free = {
        k: loss[k] for k, own in draft.per_move.items() if loss[k] < _worth(task) and _kept(task, draft, own)
    }
    return min(free, key=lambda key: (round(free[key], 6), key), default=None)


def _kept(task: Task, draft: Draft, own: Array) -> bool:
    """True when what the plan keeps within bounds stays there without the push of one change."""
    left, total = draft.deltas - own + task.shift, draft.deltas + task.shift
    for guard in task.guards:
        i = INDEX[guard.channel]
        slack = 1e-6 if guard.kind == "limit" else NEAR * SCALE[i]
        low, high = min(guard.low - slack, total[i]), max(guard.high + slack, total[i])
        if not low <= left[i] <= high:
            return False
    return True


def _without(task: Task, draft: Draft, spare: str, model: Model) -> Draft:
    """The best plan of the other changes alone, if it does about as well; else the plan as it is."""
    among = frozenset(key for key, _ in draft.moves if key != spare)
    lighter = make_plans(task, model, 1, among).drafts[0]
    if not lighter.moves or lacking(task, lighter.deltas) >= lacking(task, draft.deltas) + _worth(task):
        return draft
    again = _spare(task, lighter)
    return _without(task, lighter, again, model) if again else lighter
