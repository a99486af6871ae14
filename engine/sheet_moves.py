"""Moves and limits of a car sheet."""

from collections.abc import Mapping, Sequence
from typing import Any

from engine.car import Limits, Link, Move, Setting
from engine.catalogue import catalogue
from engine.errors import SheetError
from engine.sheet_reading import build, number, rows_of
from engine.units import UNITS, convert, kind_of


def single(setting: Setting) -> Move:
    """The move of one click of one setting; its round cap is the catalogue's amount in this sheet's steps."""
    usual = catalogue()[setting.key]
    step = setting.step
    if step is None and setting.choices is not None and len(setting.choices) > 1:
        step = (setting.choices[-1] - setting.choices[0]) / (len(setting.choices) - 1)
    amount = usual["round"] * (UNITS[usual["unit"]].factor / UNITS[setting.unit].factor)
    cap = max(1, int(amount / (step or amount) + 1e-6))
    parts = {setting.key: 1}
    return Move(
        key=setting.key, label=setting.label, parts=parts, reach=usual["reach"], cap=cap, where=setting.where
    )


def pairs(
    own: Sequence[Mapping[str, Any]], usual: Sequence[Mapping[str, Any]], singles: Sequence[Move], file: str
) -> tuple[Move, ...]:
    """Moves of several settings: the archetype's `usual` ones that this car can make, and the sheet's own.

    A row that says no cap gets the smallest cap of its parts. SheetError for an unknown setting or a key
    taken."""
    for row in own:
        _check_row(row, file)
    by_key = {move.key: move for move in singles}
    named = {row.get("key") for row in own}
    rows = [row for row in usual if set(row["parts"]) <= set(by_key) and row["key"] not in named]
    rows += [row for row in own if list(row.get("parts", ())) != [row.get("key")]]
    made = tuple(pair(row, by_key, file) for row in rows)
    keys = [*by_key, *(move.key for move in made)]
    if len(set(keys)) != len(keys):
        raise SheetError(file, "moves", [m.key for m in made], "keys that no other move or setting has")
    return made


def _check_row(row: Mapping[str, Any], file: str) -> None:
    """SheetError unless a move has a name and whole clicks of settings."""
    key, parts = row.get("key"), row.get("parts", {})
    if not isinstance(key, str):
        raise SheetError(file, "moves.key", key, "a name")
    if not isinstance(parts, Mapping):
        raise SheetError(file, f"moves.{key}.parts", parts, "a table of setting = clicks")
    for setting, clicks in parts.items():
        if isinstance(clicks, bool) or not isinstance(clicks, int):
            raise SheetError(file, f"moves.{key}.parts.{setting}", clicks, "a whole number of clicks")


def pair(row: Mapping[str, Any], by_key: Mapping[str, Move], file: str) -> Move:
    """The move of a row; where the row is silent, made where all its parts can be, as far as the least."""
    parts = row.get("parts", {})
    if not parts or any(key not in by_key for key in parts):
        allowed = f"settings of this car ({', '.join(by_key)})"
        raise SheetError(file, f"moves.{row.get('key')}.parts", parts, allowed)
    stop = all(by_key[key].where == "stop" for key in parts)
    cap = min(max(1, by_key[key].cap // max(abs(clicks), 1)) for key, clicks in parts.items())
    return build(Move, file, **{"where": "stop" if stop else "garage", "cap": cap, **row})


def limits(rows: Mapping[str, Any], by_key: Mapping[str, Setting], file: str) -> Limits:
    own = dict(rows)
    for key, unit in (("water_temperature", "degF"), ("pressure_window", "psi"), ("camber_window", "deg")):
        for name in [k for k in own if k.startswith(f"{key}_") and k != key]:
            given = name.removeprefix(f"{key}_")
            if given not in UNITS or kind_of(given) != kind_of(unit):
                raise SheetError(file, f"limits.{name}", own[name], f"a unit like {unit}")
            own[key] = convert(number(own.pop(name), f"limits.{name}", file), given, unit)
    links = tuple(build(Link, file, **row) for row in rows_of(own.pop("links", ()), "limits.links", file))
    for link in links:
        for key in (link.first, link.second):
            if key not in by_key:
                raise SheetError(file, "limits.links", key, f"settings of this car ({', '.join(by_key)})")
    return build(Limits, file, **own, links=links)
