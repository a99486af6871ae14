"""Rules of thumb: what the trade says a setting does to the balance, with its size, confidence and source."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from engine.car import Car
from engine.catalogue import KEYS, catalogue
from engine.errors import SheetError
from engine.model_values import INDEX, Array
from engine.sources import sources
from engine.track import Track
from engine.units import UNITS
from grammar.intent import PHASES

DOUBT = {"P": 0.5, "P>": 0.7, "P*": 0.8, "C": 0.9}
"""Standard deviation of a rule's size over its size, by mark (judgement: the sources give directions,
rarely sizes)."""
DOUBT_FLOOR = 0.03
"""Smallest standard deviation of a rule, feel per trade step."""
FILE = "rules/balance.toml"


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the trade's table. `parts`: setting → usual step, usual unit; `feel` and `mark` by phase
    ("" = nothing said)."""

    name: str
    parts: Mapping[str, float]
    feel: tuple[float, ...]
    mark: tuple[str, ...]
    sources: tuple[str, ...]
    anywhere: bool
    both_ways: bool
    compare: bool
    odd: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Effects:
    """Rules for one car: `step` and `sd` in feel per +1 click (settings, phases), NaN where no rule
    speaks."""

    step: Array
    sd: Array
    sources: tuple[tuple[str, ...], ...]


@cache
def rules() -> tuple[Rule, ...]:
    """All rows, checked."""
    rows = tomllib.loads(files("engine").joinpath(FILE).read_text("utf-8"))["rows"]
    made = tuple(_rule(row) for row in rows)
    for both_ways in (False, True):
        single = [next(iter(r.parts)) for r in made if _speaks(r, both_ways)]
        if len(set(single)) != len(single):
            raise SheetError(
                FILE, "parts", single, "one row for each setting (mark the others compare = true)"
            )
    return made


def effects(car: Car, track: Track) -> Effects:
    """What the rules say of each of the car's settings. On a track with right-hand corners only rows that
    hold anywhere or there speak."""
    both_ways = any(corner.turn == "right" for corner in track.corners)
    step, sd, keys = _per_unit(both_ways)
    at = [INDEX[s.key] for s in car.settings]
    click = np.array([[clicks_unit(s.key, s.unit, s.pitch)] for s in car.settings])
    return Effects(step[at] * click, sd[at] * click, tuple(keys[i] for i in at))


@cache
def _per_unit(both_ways: bool) -> tuple[Array, Array, tuple[tuple[str, ...], ...]]:
    """Feel per usual unit of every setting there is (keys, phases), its deviation, and the sources."""
    step, sd = np.full((len(KEYS), len(PHASES)), np.nan), np.full((len(KEYS), len(PHASES)), np.nan)
    named: list[tuple[str, ...]] = [()] * len(KEYS)
    for rule in rules():
        if _speaks(rule, both_ways):
            ((key, amount),) = rule.parts.items()
            row = INDEX[key]
            named[row] = rule.sources
            for phase, (feel, mark) in enumerate(zip(rule.feel, rule.mark, strict=True)):
                if mark and feel:
                    step[row, phase] = feel / amount
                    sd[row, phase] = max(DOUBT[mark] * abs(feel), DOUBT_FLOOR) / abs(amount)
    return step, sd, tuple(named)


def clicks_unit(key: str, unit: str, pitch: float) -> float:
    """One click of a setting in its usual unit."""
    return pitch * UNITS[unit].factor / UNITS[catalogue()[key]["unit"]].factor


def _speaks(rule: Rule, both_ways: bool) -> bool:
    """True when the response takes the row in on a track with, or without, right-hand corners."""
    here = rule.anywhere or rule.both_ways == both_ways
    return len(rule.parts) == 1 and not rule.compare and here


def _rule(row: Mapping[str, Any]) -> Rule:
    name = str(row.get("name"))
    known = {"name", "parts", "sources", "anywhere", "both_ways", "compare", "odd", *PHASES}
    for key in row:
        if key not in known:
            raise SheetError(FILE, f"{name}.{key}", row[key], f"only {', '.join(sorted(known))}")
    for key in row["parts"]:
        if key not in catalogue():
            raise SheetError(FILE, f"{name}.parts", key, f"a setting: {', '.join(catalogue())}")
    for key in row["sources"]:
        if key not in sources():
            raise SheetError(FILE, f"{name}.sources", key, f"a key of sources.toml: {', '.join(sources())}")
    said = [row.get(phase, [0.0, ""]) for phase in PHASES]
    for _, mark in said:
        if mark and mark not in DOUBT:
            raise SheetError(FILE, f"{name}.mark", mark, f"one of {', '.join(DOUBT)}")
    return Rule(
        name,
        row["parts"],
        tuple(float(feel) for feel, _ in said),
        tuple(str(mark) for _, mark in said),
        tuple(row["sources"]),
        bool(row.get("anywhere", False)),
        bool(row.get("both_ways", False)),
        bool(row.get("compare", False)),
        row.get("odd", {}),
    )
