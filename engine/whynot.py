"""Why a lever a driver would expect is not on the list: one computed fact a lever, no search of its own."""

from collections.abc import Iterable, Mapping

import numpy as np

from engine.both_ways import NAMED, loads_one_side
from engine.task import INDEX, SCALE, Task
from engine.verdict import Fact, PlanView, WhyNot
from engine.wanted import Need

LEVERS = (
    ("cross_weight",),
    ("track_bar_left", "track_bar_right", "track_bar_both"),
    ("brake_bias",),
    ("spring_rf", "spring_lf"),
    ("spring_rr", "spring_lr"),
    ("front_bar",),
)
"""The levers a driver would expect, by family (moves of the usual keys; common practice, no source)."""
PAIRED: Mapping[tuple[str, ...], str] = {
    ("spring_rf", "spring_lf"): "front_springs_both",
    ("spring_rr", "spring_lr"): "rear_springs_both",
}
"""What stands for a family where its levers must be named."""
WEAK = 0.3
"""Share of the want below which a lever's whole round is called too little."""
NOTHING = 0.03
"""Share of the want below which a lever does nothing for it."""


def why_not(task: Task, plan: PlanView, asked: Iterable[str] = ()) -> tuple[WhyNot, ...]:
    """One line per family that is not on the list; `asked` settings come first, each on its own."""
    used = {c.setting for c in plan.changes}
    rows = task.response.rows
    asked = tuple(dict.fromkeys(asked))
    if not task.needs:
        return ()
    need = _first_need(task)
    families = [(k,) for k in asked] + [_open(task, f) for f in LEVERS if not set(f) & set(asked)]
    found = []
    for family in families:
        here = [k for k in family if k in rows and not set(task.response.moves[rows[k]].parts) & used]
        if not here or (len(here) < len(family) and set(family) & used and family[0] not in asked):
            continue
        best = max(here, key=lambda k: (round(_reach(task, rows[k]), 6), -rows[k]))
        fact = _fact(task, rows[best], plan)
        if family[0] in asked or need.unit_feel or fact.kind != "no-effect":
            found.append(WhyNot(best, fact))
    return tuple(found)


def _open(task: Task, family: tuple[str, ...]) -> tuple[str, ...]:
    """The family, or the pair that stands for it here."""
    pair, rows = PAIRED.get(family, ""), task.response.rows
    named = all(key not in rows or _named(task, rows[key]) for key in family)
    return (pair,) if named and pair in rows else family


def _named(task: Task, row: int) -> bool:
    """True when the lever is one the driver must name."""
    return task.response.moves[row].reach >= NAMED


def _first_need(task: Task) -> Need:
    return task.needs[0]


def _per_click(task: Task, row: int, need: Need) -> float:
    """What one click does to the need."""
    return float(sum(w * task.response.step[row, INDEX[c]] for c, w in need.parts))


def _most(task: Task, row: int, sign: int) -> int:
    """Clicks open in a direction: the round's cap within the range."""
    move = task.response.moves[row]
    rooms = []
    for key, each in move.parts.items():
        last, now = task.car.setting(key).last, task.now[key]
        rooms.append(((last - now) if each * sign > 0 else now) // abs(each))
    return min(move.cap, *rooms)


def _reach(task: Task, row: int) -> float:
    """Share of the first need that the lever's whole round could bring (a full range is assumed)."""
    need = _first_need(task)
    return abs(_per_click(task, row, need)) * task.response.moves[row].cap / abs(need.target)


def _fact(task: Task, row: int, plan: PlanView) -> Fact:
    """Why this lever is not used, the first reason that holds."""
    move, need = task.response.moves[row], _first_need(task)
    each = _per_click(task, row, need)
    sign = 1 if each * need.target > 0 else -1
    names = {
        "move": move.key,
        "label": move.label,
        "direction": "up" if sign > 0 else "down",
        "need": need.key,
        "kind": need.kind,
        "channel": need.parts[0][0],
    }
    closed = _closed(task, row, sign)
    if closed:
        return Fact(closed, {}, names)
    if row in task.disputed:
        return Fact("disputed", {}, names)
    most = _most(task, row, sign)
    if most == 0:
        return Fact("at-limit", {"value": task.setup[next(iter(move.parts))]}, names)
    reach = abs(each) * most
    if reach < NOTHING * abs(need.target):
        return Fact("no-effect", {}, names)
    if reach < WEAK * abs(need.target):
        return Fact(
            "too-weak", {"got": sign * each * most, "wanted": need.target, "clicks": float(most)}, names
        )
    clicks = min(most, max(1, round(abs(need.target) / abs(each))))
    change = sign * clicks * task.response.step[row]
    broken = _broken(task, change)
    if broken is not None:
        channel, amount = broken
        numbers = {"got": float(sign * each * clicks), "side": amount, "clicks": float(clicks)}
        kind = "spoils" if channel.startswith("balance/") else "spoils-limit"
        return Fact(kind, numbers, {**names, "side": channel})
    fewer = len({m for m, _ in plan.moves})
    return Fact(
        "later",
        {
            "got": float(sign * each * clicks),
            "wanted": need.target,
            "clicks": float(clicks),
            "moves": float(fewer),
        },
        names,
    )


def _closed(task: Task, row: int, sign: int) -> str | None:
    """Which wish closes the lever, if any."""
    move, wishes = task.response.moves[row], task.wishes
    if set(move.parts) & wishes.locked:
        return "locked"
    if wishes.only is not None and not set(move.parts) <= wishes.only:
        return "not-named"
    if wishes.stop_only and move.where != "stop":
        return "garage"
    if wishes.only is None and _named(task, row):
        return "one-sided" if loads_one_side(move, task.response.moves) else "named-only"
    barred = task.history.barred(task.asked)
    if any((sign if each > 0 else -sign) in barred.get(key, ()) for key, each in move.parts.items()):
        return "would-undo"
    return None


def _broken(task: Task, change: np.ndarray) -> tuple[str, float] | None:
    """The guard a change breaks most (channel, change), in shares of its room."""
    worst, found = 1.0 + 1e-9, None
    for guard in task.guards:
        i = INDEX[guard.channel]
        room = guard.high if change[i] > 0 else guard.low
        share = (
            float(change[i] / room)
            if abs(room) > 1e-9
            else (np.inf if abs(change[i]) > 1e-6 * SCALE[i] else 0.0)
        )
        if share > worst:
            worst, found = share, (guard.channel, float(change[i]))
    return found
