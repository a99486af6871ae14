"""Frozen data as plain data, for the logbook and for clients."""

from dataclasses import fields
from typing import Any

__all__ = ["plain"]

_ATOMS = frozenset({str, int, float, bool, type(None)})
_NAMES: dict[type, tuple[str, ...]] = {}
"""Field names of the data classes met so far."""


def plain(thing: Any) -> Any:
    """What `dataclasses.asdict` gives of frozen data (data classes, tuples, plain values), several times as
    fast: nothing that cannot change is copied. Any other thing is handed on as it is."""
    kind = type(thing)
    if kind in _ATOMS:
        return thing
    if kind is tuple:
        return tuple([plain(one) for one in thing])
    names = _NAMES.get(kind)
    if names is None:
        if not hasattr(kind, "__dataclass_fields__"):
            return thing
        names = _NAMES[kind] = tuple(field.name for field in fields(kind))
    return {name: plain(getattr(thing, name)) for name in names}
