"""Why each change: the path through loads and grip, what it cures and costs, what to feel for, how sure,
when to go back.

Every number comes from the model with that change alone (`alone`), or from the plan's own checked effects.
"""

from collections.abc import Sequence
from functools import cache

import numpy as np

from engine.alone import Alone
from engine.channels import CHANNELS
from engine.levers import levers_of
from engine.planning import Draft
from engine.response import Array
from engine.task import INDEX, Task, is_met
from engine.verdict import Effect, Fact
from engine.wanted import Need
from grammar.intent import PHASES, STAGES, TYRES

MOVED = 0.1
"""Feel below which an effect on balance is not worth a sentence."""
WORN = 0.1
"""Tyre wear below which a change is not worth a sentence, % points."""


def reasons(task: Task, draft: Draft, key: str, alone: Alone) -> tuple[Fact, ...]:
    """The reasons for one move of a plan, in the order they are told."""
    row = task.response.rows[key]
    count, deltas = dict(draft.plan.clicks)[key], draft.per_move[key]
    need, channel = _focus(task, deltas)
    sources = _sources(task, row, channel)
    cures = _cures(task, deltas, sources)
    if not cures:
        why = _part_played(task, draft, deltas)
        channel = why.names["channel"]
        told = (_path(alone, channel), why, *_wear(alone), _sure(task, row, count, channel, sources))
        return (*told, Fact("back-trim"))
    found = [
        _path(alone, channel),
        *cures,
        *_wear(alone),
        _cost(task, deltas, need),
        _feel_for(deltas, channel),
    ]
    return (*found, _sure(task, row, count, channel, sources), _back(deltas, task, need, channel))


def _sources(task: Task, row: int, channel: str) -> tuple[str, ...]:
    """Where the effect on a channel is known from: the model, and the rule's sources if a rule speaks of
    it."""
    ruled = bool(np.isfinite(task.response.rule[row, INDEX[channel]]))
    return ("model", *(task.response.sources[row] if ruled else ()))


def _focus(task: Task, deltas: Array) -> tuple[Need, str]:
    """The need this move helps most and the channel of it that moves most (the first need if it helps
    none)."""
    need = max(task.needs, key=lambda n: (round(_help(n, deltas), 6), -n.level))
    return need, max((c for c, _ in need.parts), key=lambda c: abs(deltas[INDEX[c]]))


def place(channel: str) -> tuple[int, int]:
    """(stage, phase) indices of a balance channel; the centre at half fuel for any other."""
    if channel.startswith("balance/"):
        _, phase, stage = channel.split("/")
        return STAGES.index(stage), PHASES.index(phase)
    return STAGES.index("half"), PHASES.index("centre")


@cache
def felt_at(stage: str) -> tuple[str, ...]:
    """The balance channels of a run stage; none for a stage there is not."""
    return tuple(c for c in CHANNELS if c.startswith("balance/") and c.endswith(f"/{stage}"))


def _path(alone: Alone, channel: str) -> Fact:
    """Which tyre's load changes most at the place of the complaint, and what each axle then uses of its
    grip (an axle only where a tenth of a per cent shows it)."""
    stage, phase = place(channel)
    before, after = alone.load[0, :, stage, phase], alone.load[1, :, stage, phase]
    tyre = int(np.argmax(np.abs(np.round(after - before, 1))))
    front, rear = alone.front[:, stage, phase] * 100, alone.rear[:, stage, phase] * 100
    numbers = {
        "load_before": float(before[tyre]),
        "load_after": float(after[tyre]),
        "load_change": abs(float(after[tyre] - before[tyre])),
        "front_before": float(front[0]),
        "front_after": float(front[1]),
        "rear_before": float(rear[0]),
        "rear_after": float(rear[1]),
    }
    ends = [name for name, axle in (("front", front), ("rear", rear)) if f"{axle[0]:.1f}" != f"{axle[1]:.1f}"]
    stem = "path-load" if abs(after[tyre] - before[tyre]) >= 1.0 else "path-grip"
    kind = stem if len(ends) == 2 else f"{stem}-{ends[0] if ends else 'none'}"
    way = "onto" if after[tyre] > before[tyre] else "off"
    return Fact(
        kind, numbers, {"tyre": TYRES[tyre], "way": way, "phase": PHASES[phase], "stage": STAGES[stage]}
    )


def _cures(task: Task, deltas: Array, sources: tuple[str, ...]) -> list[Fact]:
    """What the move brings of each need it helps noticeably: a tenth of it, and of balance a tenth of a
    feel."""
    found = []
    for need in task.needs:
        change = float(sum(w * deltas[INDEX[c]] for c, w in need.parts))
        if change / need.target >= 0.1 and (abs(change) >= MOVED or not need.unit_feel):
            numbers = {"got": change, "wanted": need.target}
            names = {"need": need.key, "kind": need.kind, "channel": need.parts[0][0]}
            found.append(Fact("cure", numbers, names, sources))
    return found


def _part_played(task: Task, draft: Draft, deltas: Array) -> Fact:
    """Why a move that brings little of any need is on the list: what would miss without it.

    First a band or limit that the other moves would leave, then a need they would not meet and that it helps,
    else the channel where it takes back most of what they do, or where it does most."""
    others = draft.deltas - deltas + task.shift
    total = draft.deltas + task.shift
    back = _most_taken_back(task, others, total)
    helped = [
        (_help(need, deltas), need) for need in task.needs if not is_met(task, need, others - task.shift, 0.0)
    ]
    helped = [(share, need) for share, need in helped if share > 0.0]
    if back[0] < 10.0 and helped:
        _, need = max(helped, key=lambda pair: pair[0])
        names = {"need": need.key, "kind": need.kind, "channel": need.parts[0][0]}
        without, both = (float(sum(w * d[INDEX[c]] for c, w in need.parts)) for d in (others, total))
        return Fact("without", {"others": without, "both": both, "wanted": need.target}, names, ("model",))
    if back[0] <= 0.0:
        most = max(felt_at(task.needs[0].stage) or felt_at("half"), key=lambda c: abs(deltas[INDEX[c]]))
        return Fact("does", {"side": float(deltas[INDEX[most]])}, {"channel": most}, ("model",))
    i = INDEX[back[1]]
    return Fact(
        "trim", {"others": float(others[i]), "both": float(total[i])}, {"channel": back[1]}, ("model",)
    )


def _help(need: Need, deltas: Array) -> float:
    """Share of a need that changes of the channels bring."""
    return float(sum(w * deltas[INDEX[c]] for c, w in need.parts)) / need.target


def _most_taken_back(task: Task, others: Array, total: Array) -> tuple[float, str]:
    """How much of a guard's room is taken back, 10 more where it would be left, and the channel: the most of
    any."""
    b = task.bounds
    before, after = others[b.at], total[b.at]
    room = np.where(before > 0, b.high, -b.low)
    gain = (np.abs(before) - np.abs(after)) / np.maximum(room, 1e-6) + 10.0 * (np.abs(before) > room)
    first = int(gain.argmax()) if len(gain) else 0
    return (float(gain[first]), CHANNELS[b.at[first]]) if gain.max(initial=0.0) > 0 else (0.0, CHANNELS[0])


def _wear(alone: Alone) -> list[Fact]:
    """The right-side tyre whose wear changes most, when it is worth saying."""
    change = alone.worn[1] - alone.worn[0]
    tyre = 1 if abs(change[1]) >= abs(change[3]) else 3
    if abs(change[tyre]) < WORN:
        return []
    numbers = {"before": float(alone.worn[0, tyre]), "after": float(alone.worn[1, tyre])}
    return [Fact("wear", numbers, {"tyre": TYRES[tyre]}, ("model",))]


def _cost(task: Task, deltas: Array, need: Need) -> Fact:
    """The largest side effect: on balance that nobody complained of, else on a limit of the car."""
    wanted = {c for n in task.needs for c, _ in n.parts}
    stage = need.stage if need.stage in STAGES else "half"
    side = {c: float(deltas[INDEX[c]]) for c in felt_at(stage) if c not in wanted}
    if side:
        worst = max(side, key=lambda c: abs(side[c]))
        if abs(side[worst]) >= MOVED:
            return Fact("cost", {"side": side[worst]}, {"channel": worst})
    used = [
        (_used(task, g.channel, g.low, g.high, deltas), g.channel) for g in task.guards if g.kind == "limit"
    ]
    share, channel = max(used, default=(0.0, ""))
    if share >= 0.2:
        return Fact("cost", {"side": float(deltas[INDEX[channel]])}, {"channel": channel})
    return Fact("cost-little", {"below": MOVED})


def _used(task: Task, channel: str, low: float, high: float, deltas: Array) -> float:
    change = float(deltas[INDEX[channel]])
    room = high if change > 0 else -low
    return abs(change) / room if room > 1e-9 else 0.0


def _feel_for(deltas: Array, channel: str) -> Fact:
    names = {"channel": channel, "way": "tighter" if deltas[INDEX[channel]] > 0 else "freer"}
    return Fact("feel-for" if channel.startswith("balance/") else "look-for", {}, names)


def _sure(task: Task, row: int, count: int, channel: str, sources: tuple[str, ...]) -> Fact:
    """How sure: the deviation of the effect, where it comes from, what learning made of it."""
    i = INDEX[channel]
    response = task.response
    numbers = {
        "effect": abs(float(count * response.step[row, i])),
        "sd": abs(float(count * response.sd[row, i])),
    }
    if abs(response.gain[row, i] - 1.0) > 0.02:
        known = task.knowledge.levers if task.knowledge else ()
        tried = levers_of(response.moves[row], response.singles).keys() & set(known)
        kind = "sure-learned" if tried else "sure-leaning"
        numbers["gain"] = float(response.gain[row, i])
        return Fact(kind, numbers, {"channel": channel}, sources)
    ruled = bool(np.isfinite(response.rule[row, i]))
    return Fact("sure-both" if ruled else "sure-model", numbers, {"channel": channel}, sources)


def _back(deltas: Array, task: Task, need: Need, channel: str) -> Fact:
    """When to take it back: the complaint turned round, or the worst side effect felt."""
    wanted = {c for n in task.needs for c, _ in n.parts}
    side = [c for c in felt_at(need.stage) if c not in wanted]
    worst = max(side, key=lambda c: abs(deltas[INDEX[c]]), default="")
    names = {"channel": channel, "way": "tight" if deltas[INDEX[channel]] > 0 else "loose", "need": need.key}
    if worst and abs(deltas[INDEX[worst]]) >= MOVED and channel.startswith("balance/"):
        names |= {"side": worst, "side_way": "tight" if deltas[INDEX[worst]] > 0 else "loose"}
        return Fact("back-side", {}, names)
    return Fact("back" if channel.startswith("balance/") else "back-other", {}, names)


def direct_reasons(why: Fact, task: Task, deltas: Array, shown: Sequence[Effect]) -> tuple[Fact, ...]:
    """The reasons for a setting that was asked for, or that a rule of thumb moves: why, and its largest
    effect."""
    balance = [e for e in shown if e.channel.startswith("balance/")]
    if why.kind == "cooled":
        return _cooled(why, deltas, balance)
    if not shown:
        return (why, Fact("does-little", {"below": MOVED}))
    top = max(balance or shown, key=lambda e: abs(e.delta))
    return (why, Fact("does", {"side": top.delta}, {"channel": top.channel}))


def _cooled(why: Fact, deltas: Array, balance: Sequence[Effect]) -> tuple[Fact, ...]:
    """The reasons for tape taken off: the water, the air the nose goes without, when to put it back."""
    channel = why.names["channel"]
    cure = Fact("cure", {**why.numbers, "got": float(deltas[INDEX[channel]])}, why.names, why.sources)
    here = [e for e in balance if e.channel in felt_at("half")]
    worst = max(here, key=lambda e: abs(e.delta), default=None)
    below = Fact("cost-little", {"below": MOVED})
    cost = Fact("cost", {"side": worst.delta}, {"channel": worst.channel}) if worst else below
    told = (Fact("path-air", sources=("S75",)), cure, cost, Fact("look-for", {}, {"channel": channel}))
    return (*told, Fact("back-tape"))
