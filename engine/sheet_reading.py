"""What every sheet reader shares: checked models, tables, values whose unit stands in the key. Errors
name file, key, value."""

from collections.abc import Collection, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from engine.allowing import allowed
from engine.errors import SheetError
from engine.units import UNITS, units_of

T = TypeVar("T", bound=BaseModel)


def build(model: type[T], file: str, /, **values: Any) -> T:
    """A checked model; the first thing pydantic finds wrong becomes a SheetError."""
    try:
        return model(**values)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(p) for p in first["loc"]) or str(values.get("key", model.__name__.lower()))
        raise SheetError(file, key, first.get("input"), allowed(first, model)) from None


def table(data: Mapping[str, Any], key: str, file: str) -> Mapping[str, Any]:
    value = data.get(key, {})
    if not isinstance(value, Mapping):
        raise SheetError(file, key, value, "a table")
    return value


def rows_of(value: Any, key: str, file: str) -> list[Mapping[str, Any]]:
    """A list of tables; SheetError for anything else."""
    if not isinstance(value, list | tuple) or not all(isinstance(row, Mapping) for row in value):
        raise SheetError(file, key, value, "a list of tables")
    return list(value)


def number(value: Any, key: str, file: str) -> float:
    """A number of a sheet; SheetError for anything else."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SheetError(file, key, value, "a number")
    return float(value)


def no_strangers(data: Mapping[str, Any], known: tuple[str, ...], file: str) -> None:
    for key in data:
        if key not in known:
            raise SheetError(file, key, data[key], f"only {', '.join(known)}")


def in_si(rows: Any, model: type[BaseModel], file: str) -> dict[str, Any]:
    """Rows whose keys end in a unit (`wheelbase_in`) → SI values under the bare name; SheetError if there is
    no table."""
    if not isinstance(rows, Mapping):
        raise SheetError(file, model.__name__.lower(), rows, "a table")
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


def as_rows(made: BaseModel, without: Collection[str] = ()) -> dict[str, Any]:
    """What `in_si` reads back to the same: every field under its name, with the unit its kind has in SI where
    it has one."""
    rows: dict[str, Any] = {}
    for name, value in made.model_dump().items():
        if name in without or value is None:
            continue
        kind = _kind(type(made), name)
        if not kind:
            rows[name] = value
            continue
        units = [u for u, row in UNITS.items() if (row.kind == kind or (kind, u) in DIFFERENCES)]
        unit = next((u for u in units if (UNITS[u].factor, UNITS[u].offset) == (1.0, 0.0)), units[0])
        rows[f"{name}_{unit}"] = _unscaled(value, unit)
    return rows


def _unscaled(value: Any, unit: str) -> Any:
    if isinstance(value, list | tuple):
        return [_unscaled(one, unit) for one in value]
    return (value - UNITS[unit].offset) / UNITS[unit].factor


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
