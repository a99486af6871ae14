"""Car and track sheets: TOML or a dict in, checked `Car` and `Track` out. Errors name file, key, value
and what is allowed."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from engine.both_ways import moves_at, turns_both_ways
from engine.car import Car, Setting
from engine.catalogue import catalogue
from engine.errors import EngineError, SheetError, UnknownName
from engine.memo import Memo
from engine.sheet_moves import limits, pairs, single
from engine.sheet_reading import build, in_si, no_strangers, number, rows_of, table
from engine.track import Corner, Track
from engine.units import UNITS, convert, kind_of, to_si, units_of
from engine.vehicle import Physics

DEFAULT_CAR = "tern-premier"
DEFAULT_TRACK = "stonecup"


def read_car(path: Path) -> Car:
    """A car sheet from a file."""
    return parse_car(_toml(path), path.name)


def read_track(path: Path) -> Track:
    """A track sheet from a file."""
    return parse_track(_toml(path), path.name)


def parse_car(data: Mapping[str, Any], file: str = "sheet") -> Car:
    """A car sheet as data → Car. What the sheet does not say comes from its archetype and the catalogue."""
    known = ("id", "name", "archetype", "real", "source", "settings", "moves", "limits", "physics")
    no_strangers(data, known, file)
    archetype = str(data.get("archetype", "perimeter-stock-car"))
    base = _archetype(archetype)
    settings = tuple(_setting(k, v, file) for k, v in _rows(data, file))
    if not settings:
        raise SheetError(file, "settings", {}, "at least one setting")
    by_key = {s.key: s for s in settings}
    physics = in_si(base["physics"], Physics, file) | in_si(table(data, "physics", file), Physics, file)
    physics["fixed"] = _fixed(base["fixed"], f"{archetype}.toml")
    singles = tuple(single(s) for s in settings)
    several = pairs(rows_of(data.get("moves", ()), "moves", file), base.get("moves", ()), singles, file)
    return build(
        Car,
        file,
        id=data.get("id", "own-car"),
        name=data.get("name", data.get("id", "own car")),
        archetype=archetype,
        real=data.get("real", False),
        source=data.get("source", "not stated"),
        settings=settings,
        moves=(*singles, *several),
        limits=limits(table(data, "limits", file), by_key, file),
        physics=build(Physics, file, **physics),
    )


def parse_track(data: Mapping[str, Any], file: str = "sheet") -> Track:
    """A track sheet as data → Track."""
    own = {k: v for k, v in data.items() if k != "corners"}
    corners = data.get("corners")
    if not isinstance(corners, list | tuple) or not corners:
        raise SheetError(file, "corners", corners, "a list of at least one corner")
    made = tuple(build(Corner, file, **in_si(c, Corner, file)) for c in corners)
    return build(Track, file, **in_si(own, Track, file), corners=made)


def at_track(car: Car, track: Track) -> Car:
    """The car with the base values the track sheet gives for it and the moves of such a track; the car itself
    when both are its own.

    SheetError when a value is not on the car's sheet. Remembered: the same sheets give the same object."""
    fit = track.fit.get(car.id, {})
    if not fit and not turns_both_ways(track):
        return car
    return _FITTED.get((car, track), None, lambda: _fitted(car, track, fit))


_FITTED: Memo[Car] = Memo(64)


def _fitted(car: Car, track: Track, fit: Mapping[str, float]) -> Car:
    """The car with other base values, and the moves of the track."""
    for key, value in fit.items():
        try:
            car.setting(key).click_of(value)
        except EngineError as error:
            raise SheetError(f"{track.id}.toml", f"fit.{car.id}.{key}", value, str(error)) from None
    settings = tuple(s.model_copy(update={"base": fit[s.key]}) if s.key in fit else s for s in car.settings)
    made = car.model_copy(update={"settings": settings, "moves": moves_at(car, track)})
    made.__dict__.pop("by_key", None)  # made anew from the new settings when asked for
    return made


@cache
def shipped_cars() -> dict[str, Car]:
    """The demo cars by id."""
    cars = (parse_car(data, name) for name, data in _shipped("cars"))
    return {car.id: car for car in cars}


@cache
def shipped_tracks() -> dict[str, Track]:
    """The demo tracks by id."""
    tracks = (parse_track(data, name) for name, data in _shipped("tracks"))
    return {track.id: track for track in tracks}


def _shipped(folder: str) -> list[tuple[str, dict[str, Any]]]:
    rows = [f for f in files("engine").joinpath(folder).iterdir() if f.name.endswith(".toml")]
    return [(f.name, tomllib.loads(f.read_text("utf-8"))) for f in sorted(rows, key=lambda f: f.name)]


def _archetype(name: str) -> dict[str, Any]:
    known = {file.removesuffix(".toml"): data for file, data in _shipped("archetypes")}
    if name not in known:
        raise UnknownName("archetype", name, known)
    return known[name]


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8-sig"))  # some editors begin UTF-8 with a mark
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SheetError(path.name, "file", str(error), "TOML in UTF-8") from None


def _rows(data: Mapping[str, Any], file: str) -> list[tuple[str, Mapping[str, Any]]]:
    """Settings as pairs; a sheet may hold a table by key, or a list of rows that carry their key."""
    value = data.get("settings", {})
    if not isinstance(value, Mapping | list | tuple):
        raise SheetError(file, "settings", value, "a table by key, or a list of rows with keys")
    if isinstance(value, Mapping):
        pairs = [(str(key), row) for key, row in value.items()]
    else:
        pairs = [(str(row.get("key")), row) for row in value if isinstance(row, Mapping)]
    for key, row in pairs:
        if key not in catalogue():
            raise UnknownName("setting", key, catalogue())
        if not isinstance(row, Mapping):
            raise SheetError(file, f"settings.{key}", row, "a table with unit, min, max, step, base")
    if len({key for key, _ in pairs}) != len(pairs):
        raise SheetError(file, "settings", [k for k, _ in pairs], "each setting once")
    return pairs


def _setting(key: str, row: Mapping[str, Any], file: str) -> Setting:
    usual = catalogue()[key]
    unit = row.get("unit", usual["unit"])
    kind = kind_of(usual["unit"])
    if not isinstance(unit, str) or unit not in UNITS or kind_of(unit) != kind:
        raise SheetError(file, f"settings.{key}.unit", unit, f"one of {', '.join(units_of(kind))}")
    low, high = row.get("min"), row.get("max")
    if "base" not in row and isinstance(low, int | float) and isinstance(high, int | float):
        row = {**row, "base": _middle(row, float(low), float(high), f"settings.{key}", file)}
    made = build(Setting, file, **{"label": usual["label"], **row, "key": key, "unit": unit})
    _possible(made, usual, file)
    return made


def _possible(setting: Setting, usual: Mapping[str, Any], file: str) -> None:
    """The range lies within what the model can mean."""
    low, high = (convert(usual[end], usual["unit"], setting.unit) for end in ("low", "high"))
    for end, value in (("min", setting.min), ("max", setting.max)):
        if not low - 1e-9 <= value <= high + 1e-9:
            allowed = f"{low:g} to {high:g} {setting.unit}"
            raise SheetError(file, f"settings.{setting.key}.{end}", value, allowed)


def _middle(row: Mapping[str, Any], low: float, high: float, key: str, file: str) -> float:
    """Base value of a sheet that gives none: the click nearest the middle of the range."""
    if choices := row.get("choices"):
        if not isinstance(choices, list | tuple):
            raise SheetError(file, f"{key}.choices", choices, "a list of numbers")
        return number(choices[len(choices) // 2], f"{key}.choices", file)
    step = number(row.get("step") or 1.0, f"{key}.step", file)
    return low + step * round((high - low) / 2 / step)


def _fixed(rows: Mapping[str, str], file: str) -> dict[str, float]:
    """Values of settings a car does not list, written as "600 lb/in"."""
    made = {}
    for key in catalogue():
        if key not in rows:
            raise SheetError(file, f"fixed.{key}", None, "a value with its unit")
        number, _, unit = rows[key].partition(" ")
        made[key] = to_si(float(number), unit)
    return made
