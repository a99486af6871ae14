"""What a number that was read off the car is of: by its unit, the words around it, what was spoken of
before, or its size."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from grammar.amounts import unit_by_size
from grammar.marks import Mark

__all__ = ["Asked", "Memory", "Told", "quantity_of"]

_UNITS = {
    "psi": "tyre-pressure",
    "kPa": "tyre-pressure",
    "bar": "tyre-pressure",
    "rpm": "rpm",
    "gal": "fuel",
    "l": "fuel",
}
_SECONDS = {"s": 1.0, "tenth": 0.1, "hundredth": 0.01}
_WARM = ("F", "C", "deg")
_TEMPERATURES = ("water-temperature", "oil-temperature", "tyre-temperature")
_RUN = frozenset({"run", "laps", "stint"})
_OF_LAPS = frozenset({"turned", "running", "lap", "laps", "ran", "clicked", "ripped", "clock", "best"})
MOST_BUILT = 40
"""More psi than this cannot have been built up over a run (common practice, no source)."""
FEW = 80
"""Fewer degrees than this across a tyre are a difference, not a temperature (common practice, no source)."""


@dataclass(slots=True)
class Memory:
    """What the numbers of a sentence said so far: the quantity, whether pressures are what was built up,
    the tyre;
    and whether the sentence speaks of laps or of what was lost over a run."""

    quantity: str | None
    tyre: str | None
    built: bool
    whole_run: bool
    laps: bool
    here: bool = False
    """Whether the tyre was spoken of in this sentence."""
    condition: str | None = None
    """`hot` or `cold` said before the first number, for all of them."""

    @classmethod
    def of(cls, marks: Sequence[Mark], words: Sequence[str], tyre: str | None) -> "Memory":
        """The memory at the start of a sentence."""
        lost = any(m.means == "fall" for m in marks) or not _RUN.isdisjoint(words)
        return cls(None, tyre, False, lost, not _OF_LAPS.isdisjoint(words))


class Asked(NamedTuple):
    """A number and what stands beside it: kinds of the marks around, its unit, tyre and point, the quantity
    named,
    and the word that makes it a difference."""

    number: Mark
    around: frozenset[str]
    unit: str | None
    tyre: str | None
    point: str | None
    said: str | None
    more: Mark | None
    level: bool = False
    """Whether it is where a rise began or ended ("came up from 36 to 47")."""

    @property
    def small(self) -> bool:
        """Whether it can be a pressure built up."""
        return max(self.number.values) <= MOST_BUILT

    @property
    def versus(self) -> str | None:
        """What it is a difference from, as long as nothing is named."""
        return "usual" if self.more is not None else None


class Told(NamedTuple):
    """What a number is of, its unit, what to multiply it by, and what it is a difference from."""

    quantity: str
    unit: str | None
    scale: float = 1.0
    against: str | None = None


def quantity_of(one: Asked, memory: Memory) -> Told | None:
    """What a number is of, or None when that cannot be told. Notes in `memory` that pressures are what was
    built."""
    unit, said = one.unit, one.said
    if one.level and "BUILT" in one.around and unit in (None, "lb", "psi") and max(one.number.values) <= 70:
        return Told("tyre-pressure", "psi")
    if unit in _UNITS:
        if unit == "bar" and not (one.tyre or said):
            return None
        built = "BUILT" in one.around and one.small and unit == "psi"
        return Told(_UNITS[unit], unit, 1.0, "cold" if built else one.versus)
    if unit in _SECONDS:
        return _time(one, memory)
    if unit == "%":
        worn = {"WORN", "LEFT"} & one.around or "tyre-wear" in (said, memory.quantity)
        return Told("tyre-wear", "%", 1.0, one.versus) if worn or one.tyre else None
    if unit in _WARM:
        return _degrees(one, memory)
    if unit == "lb" or (
        unit is None and ("BUILT" in one.around or (memory.built and one.tyre and one.small))
    ):
        return _pounds(one, memory)
    return _named(one) if said is not None else _unnamed(one, memory)


def _degrees(one: Asked, memory: Memory) -> Told | None:
    if one.said in _TEMPERATURES:
        return _warmth(one.said, one)
    of_tyre = one.tyre or one.point or "ACROSS" in one.around or memory.quantity == "tyre-temperature"
    return _warmth("tyre-temperature", one) if of_tyre else None


def _unnamed(one: Asked, memory: Memory) -> Told | None:
    numbers = one.number.values
    across = one.point or "ACROSS" in one.around or len(numbers) == 3
    if across and all(30 <= v <= 320 for v in numbers):
        return _warmth("tyre-temperature", one)
    if one.more is not None and one.more.means in ("hotter", "cooler") and one.tyre:
        return Told("tyre-temperature", "F", 1.0, one.versus)
    if "COND" in one.around and (one.tyre or memory.here):
        what = "tyre-pressure" if all(v <= 70 for v in numbers) else "tyre-temperature"
        return Told(what, unit_by_size(what, numbers), 1.0, one.versus)
    if "WORN" in one.around and one.tyre and numbers[0] <= 100:
        return Told("tyre-wear", "%", 1.0, one.versus)
    return _guessed(one, memory)


def _guessed(one: Asked, memory: Memory) -> Told | None:
    """What the number before it was of, or what only one thing can be so large."""
    value = one.number.values[0]
    fits = one.tyre or (memory.here and unit_by_size(str(memory.quantity), one.number.values))
    if fits and memory.quantity and memory.quantity.startswith("tyre-"):
        wear = memory.quantity == "tyre-wear"
        unit = "%" if wear else unit_by_size(memory.quantity, one.number.values)
        return Told(memory.quantity, unit, 1.0, "cold" if memory.built else one.versus)
    if (
        not one.tyre
        and memory.quantity in _TEMPERATURES[:2]
        and unit_by_size(memory.quantity, one.number.values)
    ):
        return _warmth(memory.quantity, one)
    if 3000 <= value <= 12000 and value == int(value) and not one.tyre:
        return Told("rpm", "rpm", 1.0, one.versus)
    decimal = value != int(value) and 8 <= value <= 200
    if decimal and not one.tyre and (memory.quantity == "lap-time" or memory.laps):
        return Told("lap-time", "s", 1.0, one.versus)
    return None


def _named(one: Asked) -> Told | None:
    """A number whose quantity is named."""
    value, said = one.number.values[0], str(one.said)
    if said == "lap-time" and (value == int(value) and ":" not in one.number.means):
        return None
    if said in _TEMPERATURES:
        return _warmth(said, one)
    if said == "rpm":
        scale = 100.0 if value < 130 else 1.0
        return None if value * scale < 500 and not one.versus else Told("rpm", "rpm", scale, one.versus)
    return Told(said, unit_by_size(said, one.number.values), 1.0, one.versus)


def _pounds(one: Asked, memory: Memory) -> Told | None:
    """Pounds are of air where a tyre or a pressure is spoken of; what was built came on top of the cold
    one."""
    if one.said is not None and one.said != "tyre-pressure":
        return None if one.unit else _named(one)
    memory.built = memory.built or "BUILT" in one.around
    if not one.small and one.unit is None:
        return _guessed(one, memory)
    if not (one.tyre or one.said or memory.tyre) or max(one.number.values) > 70:
        return None
    return Told("tyre-pressure", "psi", 1.0, "cold" if memory.built and one.small else None)


def _time(one: Asked, memory: Memory) -> Told | None:
    scale, value = _SECONDS[str(one.unit)], one.number.values[0]
    if "FALL" in one.around:
        return Told("lap-time", "s", scale, "first" if memory.whole_run else "usual")
    if "BUILT" in one.around and value < 8:
        return Told("lap-time", "s", -scale, "usual")
    if one.more is not None and one.more.means in ("slower", "quicker", "more", "less", "off"):
        return Told("lap-time", "s", scale, "usual")
    return Told("lap-time", "s") if one.unit == "s" and 8 <= value <= 200 else None


def _warmth(what: str, one: Asked) -> Told:
    """A temperature; few degrees across a tyre are one edge against the other."""
    numbers = one.number.values
    across = "ACROSS" in one.around and max(numbers) < FEW and len(numbers) == 1
    if across or one.versus:
        return Told(what, "C" if one.unit == "C" else "F", 1.0, "edge" if across else one.versus)
    return Told(what, one.unit if one.unit in ("F", "C") else unit_by_size(what, numbers))
