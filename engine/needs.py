"""What a reading asks of the car: needs (wanted changes of channels) and tries (rules of thumb for what no
channel shows); how far the rest may move is in `engine.guarding`. Amounts are changes from now, in the
channel's unit; balance in feel, + = tighter.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from engine.car import Limits
from engine.channels import balance
from engine.guarding import guards_of
from engine.style import RACE, Style
from engine.wanted import Measured, Need, Needs, Try, level_of
from grammar.intent import PHASE_GROUPS, PHASES, STAGES, Reading, Symptom

SEVERITY = {"slight": 0.5, "plain": 1.0, "severe": 2.0}
"""Severity → wanted change, feel (common practice, no source)."""
WORN = 0.5
"""Share of a balance complaint that the same words ask for when they are about a worn right-side tyre (common
practice, no source)."""
OTHERS_AIR = ("nervous", "slow-response", "no-grip")
"""Complaints that say nothing of a way, and in traffic are put down to the air of the other cars (common
practice, no source)."""
LEVELS = {"entry": 0, "everywhere": 0, "centre": 1, "exit": 2}
"""Earliest in the corner is cured first; what is not balance has its level from `engine.wanted`."""


@cache
def complaints() -> Mapping[str, Mapping[str, Any]]:
    """The table of complaints that are not balance."""
    return tomllib.loads(files("engine").joinpath("complaints.toml").read_text("utf-8"))


def complaint_of(symptom: Symptom) -> str:
    """The row of a complaint that is not balance; coming off, or with a tyre, it may be another ("no bite
    off" is wheelspin, a locking left front is the fronts locking, a handful in traffic is the traffic)."""
    if symptom.trigger == "traffic" and symptom.kind in OTHERS_AIR:
        return "traffic"
    row = complaints().get(symptom.kind, {})
    if symptom.phase_said and set(symptom.phases) <= set(PHASE_GROUPS["exit"]) and "off" in row:
        return str(row["off"])
    end = {"F": "front", "R": "rear"}.get((symptom.tyre or "  ")[1], "")
    return str(row.get(end, row.get("tyre", symptom.kind) if end else symptom.kind))


def find_needs(
    reading: Reading, base: Mapping[str, float], limits: Limits, measured: Measured, style: Style = RACE
) -> Needs:
    """Needs and guards of a reading. `base` is every channel now (model), `measured` what was read off
    the car: what it says of the balance counts where the driver says nothing of it."""
    live = tuple(_but_good(s, reading.good) for s in reading.live())
    merged = _merge([need for s in live if s.kind == "balance" for need in _balance_need(s, style)])
    merged = merged or _merge([n for n in measured.needs if n.unit_feel])
    merged = merged or _merge([need for s in live for need in _worn_need(s, style)])
    other = [_other_need(s, style) for s in live if s.kind != "balance" and not _slides(s)]
    numbers = (n for n in measured.needs if not n.unit_feel)
    needs = _merge([*merged, *(n for n in other if isinstance(n, Need)), *numbers])
    felt = tuple((channel, -n.target + style.lean) for n in merged for channel, _ in n.parts)
    kinds = tuple(dict.fromkeys(complaint_of(s) for s in live if s.kind != "balance"))
    return Needs(
        needs=tuple(needs),
        guards=tuple(guards_of(needs, reading, base, limits, measured, style)),
        tries=tuple(t for t in other if isinstance(t, Try)) + measured.tries,
        checks=(*_checks(kinds, live), *_one_fault(needs)),
        uncovered=tuple(kind for kind in kinds if kind not in complaints()),
        felt=felt,
    )


def _but_good(symptom: Symptom, good: Iterable[str]) -> Symptom:
    """The symptom without the places the same driver calls good ("loose when I lift, fine on the brakes"); as
    it is when none would be left."""
    left = tuple(phase for phase in symptom.phases if phase not in set(good))
    named = symptom.kind == "balance" and symptom.phase_said and left
    return replace(symptom, phases=left) if named else symptom


def stages_of(symptom: Symptom, style: Style) -> tuple[str, ...]:
    """The run stages a symptom is about."""
    if symptom.stage == "whole":
        return STAGES
    return (symptom.stage or style.stage,)


def _balance_need(symptom: Symptom, style: Style) -> list[Need]:
    """One need per phase group (all five phases together are one: everywhere)."""
    phases = [p for p in PHASES if p in symptom.phases]
    if not phases or symptom.direction is None:
        return []
    size = SEVERITY[symptom.severity]
    target = (-size if symptom.direction == "tight" else size) + style.lean
    stages = stages_of(symptom, style)
    name = "-".join(stages) if len(stages) == 1 else "whole"
    groups = {"everywhere": tuple(phases)} if len(phases) == len(PHASES) else _by_group(phases)
    found = []
    for group, members in groups.items():
        weight = 1.0 / (len(members) * len(stages))
        parts = tuple((balance(p, s), weight) for s in stages for p in members)
        key = (
            f"{group}/{name}"
            if len(members) == len(PHASE_GROUPS.get(group, PHASES))
            else f"{members[0]}/{name}"
        )
        found.append(Need(key, "balance", parts, target, LEVELS[group], stage=name, group=group))
    return found


def _by_group(phases: Iterable[str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for group, members in PHASE_GROUPS.items():
        named = tuple(p for p in members if p in phases)
        if named:
            found[group] = named
    return found


def _lacks_tyre(symptom: Symptom, row: Mapping[str, Any]) -> bool:
    """True when a complaint of one tyre does not say which."""
    return symptom.tyre is None and "{tyre}" in row.get("channel", "")


def _checks(kinds: Iterable[str], live: tuple[Symptom, ...]) -> tuple[str, ...]:
    """What to look at first: for each kind, and where a balance is wrong in traffic or over bumps only."""
    rows = [complaints().get(kind, {}) for kind in kinds]
    found = [row["check"] for row in rows if "check" in row]
    found += [trigger for trigger in ("traffic", "bumps") if any(s.trigger == trigger for s in live)]
    worn = [s for s in live if s.kind != "balance" and _slides(s)]
    found += [f"{'hot' if complaint_of(s) == 'tyre-hot' else 'worn'}-{s.tyre}" for s in worn]
    found += ["one-corner"] if any(s.corner and s.kind == "balance" for s in live) else []
    found += ["traffic-way"] if "traffic" in kinds else []
    return tuple(dict.fromkeys((*found, *_asks(live))))


def _one_fault(needs: Iterable[Need]) -> tuple[str, ...]:
    """Tight in the middle and loose off at one stage: lock wound on for the push lets the rear go (common
    practice, no source)."""
    felt = [n for n in needs if n.unit_feel]
    pushes = {n.stage for n in felt if n.group == "centre" and n.target < 0}
    lets_go = {n.stage for n in felt if n.group == "exit" and n.target > 0}
    return ("tight-loose",) if pushes & lets_go else ()


def _asks(live: Iterable[Symptom]) -> tuple[str, ...]:
    """What must be said more exactly before anything can be computed."""
    rows = [(s, complaints().get(complaint_of(s), {})) for s in live if s.kind != "balance"]
    return ("which-tyre",) if any(_lacks_tyre(s, row) for s, row in rows) else ()


def _slides(symptom: Symptom) -> str | None:
    """The way the balance is out when a right-side tyre wears too much: the end that slides wears (common
    practice, no source)."""
    row = complaints().get(complaint_of(symptom), {})
    way: str | None = row.get("slides", {}).get(symptom.tyre)
    return way


def _worn_need(symptom: Symptom, style: Style) -> list[Need]:
    """Wear or heat told in words, as half of what the same words would ask for as a balance."""
    way = None if symptom.kind == "balance" else _slides(symptom)
    if way is None:
        return []
    felt = replace(symptom, kind="balance", direction=way, phases=PHASES)
    return [replace(n, target=n.target * WORN) for n in _balance_need(felt, style)]


def _other_need(symptom: Symptom, style: Style) -> Need | Try | None:
    """A need on the channel that shows the complaint, or the trade's rule, or None."""
    kind = complaint_of(symptom)
    row = complaints().get(kind)
    if row is None:
        return None
    tyre = symptom.tyre or (row.get("tyres") or ["RF"])[0]
    if _lacks_tyre(symptom, row):
        return None
    if "channel" in row:
        stage = stages_of(symptom, style)[0]
        channel = row["channel"].format(tyre=tyre, stage=stage)
        amount = dict(zip(SEVERITY, row["want"], strict=True))[symptom.severity]
        key = f"{kind}/{tyre}" if "{tyre}" in row["channel"] else kind
        parts = ((channel, 1.0),)
        level = level_of(channel)
        return Need(key, kind, parts, amount, level, tolerance=0.5, source=row["source"], stage=stage)
    if "try" in row:
        options = tuple((key.format(tyre=tyre.lower()), int(sign)) for key, sign in row["try"])
        return Try(kind, options, row["source"])
    return None


def _merge(needs: Iterable[Need]) -> list[Need]:
    """One need per key and direction; the larger want stands. Opposite wants are both kept: the adviser asks
    which it is."""
    found: dict[tuple[str, bool], Need] = {}
    for need in needs:
        place = (need.key, need.target > 0)
        old = found.get(place)
        if old is None or abs(need.target) > abs(old.target):
            found[place] = need
    return _split_everywhere(sorted(found.values(), key=lambda n: (n.level, n.key, n.target)))


def _split_everywhere(needs: list[Need]) -> list[Need]:
    """A phase named on its own beside "everywhere" is asked for on its own; the rest of everywhere stays
    together."""
    named = {c for n in needs if n.group != "everywhere" for c, _ in n.parts}
    found = []
    for need in needs:
        left = [c for c, _ in need.parts if c not in named]
        if need.group == "everywhere" and left and len(left) < len(need.parts):
            need = replace(need, parts=tuple((c, 1.0 / len(left)) for c in left))
        if need.group != "everywhere" or left:
            found.append(need)
    return found
