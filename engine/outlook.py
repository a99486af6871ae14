"""What a plan will do, as the driver will feel it and the tyres will show it: before and after, and how
far each need is met."""

from collections.abc import Iterable, Mapping
from functools import lru_cache

import numpy as np

from engine.channels import CHANNELS, balance
from engine.planning import Draft
from engine.response import Array
from engine.task import INDEX, Task, got, is_met
from engine.verdict import Cure, Effect
from engine.wanted import Needs
from grammar.intent import PHASES, STAGES

NOTICE = {
    "balance": 0.25,
    "wear": 0.3,
    "wear-gap": 0.3,
    "water-temperature": 1.0,
    "top-rpm": 15.0,
    "straight-speed": 0.3,
    "lockup-margin": 0.5,
    "pressure-window": 0.25,
    "camber-window": 0.1,
}
"""The smallest change worth showing, per channel, in its unit (judgement)."""


def before_values(base: Array, needs: Needs, told: Mapping[str, float]) -> dict[str, float]:
    """Every channel now. Balance is set to what the driver says of it (0 = not complained of) and carried
    to the other run stages by the model's own drift; other channels are as measured, else as the model
    has them."""
    now = {channel: float(base[i]) for channel, i in INDEX.items()}
    felt = dict(needs.felt)
    stages = [s for s in STAGES if any(c.endswith(f"/{s}") for c in felt)]
    anchor = stages[0] if stages else "half"
    for phase in PHASES:
        said = {s: felt[balance(phase, s)] for s in STAGES if balance(phase, s) in felt}
        stage = next(iter(said), anchor)
        offset = said.get(stage, 0.0) - now[balance(phase, stage)]
        for s in STAGES:
            now[balance(phase, s)] = said.get(s, now[balance(phase, s)] + offset)
    return now | dict(told)


def effects(
    before: Mapping[str, float], deltas: Array, always: Iterable[str] = (), share: float = 1.0
) -> tuple[Effect, ...]:
    """The channels that change noticeably (`share` of `NOTICE`), and those named; at run stages of which
    none is named, balance must change by twice as much."""
    shown = np.flatnonzero(np.abs(deltas) >= _least(frozenset(always), share)).tolist()
    pairs = ((CHANNELS[i], float(deltas[i])) for i in shown)
    return tuple(Effect(c, before[c], before[c] + delta) for c, delta in pairs)


@lru_cache(maxsize=1024)
def _least(always: frozenset[str], share: float) -> Array:
    """The smallest change worth showing, per channel [channels]; of those named any."""
    about = {c.rsplit("/", 1)[1] for c in always if c.startswith("balance/")} or {"half"}
    found = []
    for channel in CHANNELS:
        far = channel.startswith("balance/") and channel.rsplit("/", 1)[1] not in about
        least = NOTICE[channel.split("/")[0]] * (2.0 if far else share)
        found.append(-np.inf if channel in always else least)
    return np.array(found)


def shown_always(needs: Needs) -> tuple[str, ...]:
    """Channels every answer shows: what was asked for, and all five phases at the stages complained of."""
    asked = [c for need in needs.needs for c, _ in need.parts]
    stages = {c.rsplit("/", 1)[1] for c in asked if c.startswith("balance/")} or {"half"}
    return tuple(dict.fromkeys([*(balance(p, s) for s in STAGES if s in stages for p in PHASES), *asked]))


def cures_of(task: Task, draft: Draft) -> tuple[Cure, ...]:
    """How far each need is met by a draft, the task's shift included."""
    return tuple(
        Cure(
            need.key,
            need.parts[0][0],
            need.target,
            got(task, need, draft.deltas),
            is_met(task, need, draft.deltas),
        )
        for need in task.needs
    )
