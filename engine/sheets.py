"""Car and track sheets: TOML or a dict in, checked `Car` and `Track` out. Errors name file, key, value
and what is allowed."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from engine.car import Car, Limits, Link, Move, Setting
from engine.catalogue import catalogue
from engine.errors import EngineError, SheetError, UnknownName
from engine.track import Corner, Track
from engine.units import UNITS, convert, kind_of, to_si, units_of
from engine.vehicle import Physics

T = TypeVar("T", bound=BaseModel)
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
    _no_strangers(data, known, file)
    archetype = str(data.get("archetype", "perimeter-stock-car"))
    base = _archetype(archetype)
    settings = tuple(_setting(k, v, file) for k, v in _rows(data, file))
    if not settings:
        raise SheetError(file, "settings", {}, "at least one setting")
    by_key = {s.key: s for s in settings}
    physics = _in_si(base["physics"], Physics, file) | _in_si(_table(data, "physics", file), Physics, file)
    physics["fixed"] = _fixed(base["fixed"], f"{archetype}.toml")
    moves = tuple(_single(s) for s in settings) + _pairs(
        data.get("moves", base.get("moves", ())), by_key, file
    )
    return _build(
        Car,
        file,
        id=data.get("id", "own-car"),
        name=data.get("name", data.get("id", "own car")),
        archetype=archetype,
        real=data.get("real", False),
        source=data.get("source", "not stated"),
        settings=settings,
        moves=moves,
        limits=_limits(_table(data, "limits", file), by_key, file),
        physics=_build(Physics, file, **physics),
    )


def parse_track(data: Mapping[str, Any], file: str = "sheet") -> Track:
    """A track sheet as data → Track."""
    own = {k: v for k, v in data.items() if k != "corners"}
    corners = data.get("corners")
    if not isinstance(corners, list | tuple) or not corners:
        raise SheetError(file, "corners", corners, "a list of at least one corner")
    made = tuple(_build(Corner, file, **_in_si(c, Corner, file)) for c in corners)
    return _build(Track, file, **_in_si(own, Track, file), corners=made)


def at_track(car: Car, track: Track) -> Car:
    """The car with the base values the track sheet gives for it; the car itself when it gives none.

    SheetError when a value is not on the car's sheet."""
    fit = track.fit.get(car.id)
    if not fit:
        return car
    for key, value in fit.items():
        try:
            car.setting(key).click_of(value)
        except EngineError as error:
            raise SheetError(f"{track.id}.toml", f"fit.{car.id}.{key}", value, str(error)) from None
    settings = tuple(s.model_copy(update={"base": fit[s.key]}) if s.key in fit else s for s in car.settings)
    made = car.model_copy(update={"settings": settings})
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
        return tomllib.loads(path.read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SheetError(path.name, "file", str(error), "TOML in UTF-8") from None


def _table(data: Mapping[str, Any], key: str, file: str) -> Mapping[str, Any]:
    value = data.get(key, {})
    if not isinstance(value, Mapping):
        raise SheetError(file, key, value, "a table")
    return value


def _no_strangers(data: Mapping[str, Any], known: tuple[str, ...], file: str) -> None:
    for key in data:
        if key not in known:
            raise SheetError(file, key, data[key], f"only {', '.join(known)}")


def _build(model: type[T], file: str, /, **values: Any) -> T:
    """A checked model; the first thing pydantic finds wrong becomes a SheetError."""
    try:
        return model(**values)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(p) for p in first["loc"]) or str(values.get("key", model.__name__.lower()))
        raise SheetError(file, key, first.get("input"), first["msg"].removeprefix("Value error, ")) from None


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
    if unit not in UNITS or kind_of(unit) != kind:
        raise SheetError(file, f"settings.{key}.unit", unit, f"one of {', '.join(units_of(kind))}")
    low, high = row.get("min"), row.get("max")
    if "base" not in row and isinstance(low, int | float) and isinstance(high, int | float):
        row = {**row, "base": _middle(row, float(low), float(high))}
    return _build(Setting, file, **{"label": usual["label"], **row, "key": key, "unit": unit})


def _middle(row: Mapping[str, Any], low: float, high: float) -> float:
    """Base value of a sheet that gives none: the click nearest the middle of the range."""
    if row.get("choices"):
        choices = row["choices"]
        return float(choices[len(choices) // 2])
    step = float(row.get("step") or 1.0)
    return low + step * round((high - low) / 2 / step)


def _single(setting: Setting) -> Move:
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


def _pairs(rows: Any, by_key: Mapping[str, Setting], file: str) -> tuple[Move, ...]:
    made = []
    for row in rows:
        parts = row.get("parts", {})
        if row.get("key") in by_key and list(parts) == [row["key"]]:
            continue
        missing = [k for k in parts if k not in by_key]
        if missing or not parts:
            raise SheetError(
                file, f"moves.{row.get('key')}.parts", parts, f"settings of this car ({', '.join(by_key)})"
            )
        stop = all(by_key[k].where == "stop" for k in parts)
        made.append(_build(Move, file, **{"where": "stop" if stop else "garage", **row}))
    keys = [*by_key, *(m.key for m in made)]
    if len(set(keys)) != len(keys):
        raise SheetError(file, "moves", [m.key for m in made], "keys that no other move or setting has")
    return tuple(made)


def _limits(rows: Mapping[str, Any], by_key: Mapping[str, Setting], file: str) -> Limits:
    own = dict(rows)
    for key, unit in (("water_temperature", "degF"), ("pressure_window", "psi"), ("camber_window", "deg")):
        for name in [k for k in own if k.startswith(f"{key}_") and k != key]:
            given = name.removeprefix(f"{key}_")
            if given not in UNITS or kind_of(given) != kind_of(unit):
                raise SheetError(file, f"limits.{name}", own[name], f"a unit like {unit}")
            own[key] = convert(float(own.pop(name)), given, unit)
    links = tuple(_build(Link, file, **row) for row in own.pop("links", ()))
    for link in links:
        for key in (link.first, link.second):
            if key not in by_key:
                raise SheetError(file, "limits.links", key, f"settings of this car ({', '.join(by_key)})")
    return _build(Limits, file, **own, links=links)


def _fixed(rows: Mapping[str, str], file: str) -> dict[str, float]:
    """Values of settings a car does not list, written as "600 lb/in"."""
    made = {}
    for key in catalogue():
        if key not in rows:
            raise SheetError(file, f"fixed.{key}", None, "a value with its unit")
        number, _, unit = rows[key].partition(" ")
        made[key] = to_si(float(number), unit)
    return made


def _in_si(rows: Mapping[str, Any], model: type[BaseModel], file: str) -> dict[str, Any]:
    """Rows whose keys end in a unit (`wheelbase_in`) → SI values under the bare name."""
    made: dict[str, Any] = {}
    for key, value in rows.items():
        name, unit = _split(key, model, file)
        made[name] = _scaled(value, unit, f"{file}: {key}") if unit else value
    return made


def _split(key: str, model: type[BaseModel], file: str) -> tuple[str, str]:
    if key in model.model_fields and not _kind(model, key):
        return key, ""
    for name in model.model_fields:
        kind = _kind(model, name)
        unit = key.removeprefix(f"{name}_")
        if kind and unit in UNITS and (UNITS[unit].kind == kind or (kind, unit) in DIFFERENCES):
            return name, unit
    kind = _kind(model, key) if key in model.model_fields else None
    allowed = (
        f"the name with its unit, such as {key}_{units_of(kind)[0] if units_of(kind) else 'degF'}"
        if kind
        else f"one of {', '.join(model.model_fields)}"
    )
    raise SheetError(file, key, "…", allowed)


DIFFERENCES = {("warming", "degF"), ("warming", "degC"), ("warming", "K")}
"""Kinds that are a difference of two temperatures: the factor alone applies."""


def _kind(model: type[BaseModel], name: str) -> str | None:
    extra = model.model_fields[name].json_schema_extra
    return str(extra["kind"]) if isinstance(extra, dict) and "kind" in extra else None


def _scaled(value: Any, unit: str, where: str) -> Any:
    row = UNITS[unit]
    offset = 0.0 if "heat" in where else row.offset
    if isinstance(value, list | tuple):
        return tuple(_scaled(v, unit, where) for v in value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SheetError(where, unit, value, "a number")
    return value * row.factor + offset
