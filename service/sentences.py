"""One row per kind of fact: the sentence that says it. Facts hold the numbers; nothing is said that is
not in the fact.

In a row `{name:1}` is a number without its sign to one decimal; `{name:verb}` is "tightens" or "frees" by
its sign, `{name:way}` "tighter" or "freer", `{name:tight}` "tight" or "loose", `{name:moves}` "raises" or
"lowers", `{name:s}` an s when it is not 1. A kind with `@other` is used when the channel is not balance.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from string import Formatter

from engine.car import Car
from engine.verdict import Fact
from service.words import COMPLAINT, PHASE, STAGE, TYRE, channel_words, label_of, lowered, need_words, unit_of

__all__ = ["ROWS", "say"]


def _table() -> Mapping[str, Mapping[str, str]]:
    return tomllib.loads(files("service").joinpath("sentences.toml").read_text("utf-8"))


ROWS: Mapping[str, str] = _table()["facts"]
STOPS: Mapping[str, str] = _table()["stops"]


class Number(float):
    """A number that words itself in a row; see the module's docstring."""

    def __format__(self, spec: str) -> str:
        words = _SIGNED.get(spec)
        if words is not None:
            return words[0] if self > 0 else words[1]
        if spec == "s":
            return "" if round(abs(self)) == 1 else "s"
        if spec == "auto":
            spec = "0" if abs(self) >= 9.95 else "1" if abs(self) >= 0.95 else "2"
        if spec.isdigit():
            return f"{abs(float(self)):.{spec}f}"
        return f"{round(float(self), 3):g}"


_SIGNED = {
    "verb": ("tightens", "frees"),
    "way": ("tighter", "freer"),
    "tight": ("tight", "loose"),
    "moves": ("raises", "lowers"),
    "rises": ("rises", "falls"),
    "down": ("up", "down"),
}


def say(fact: Fact, car: Car) -> str:
    """The sentence of a fact, for a car (its labels)."""
    channel = fact.names.get("channel", "")
    other = f"{fact.kind}@other"
    row = other if channel and not channel.startswith("balance/") and other in ROWS else fact.kind
    return "".join(
        literal + (format(_told(name, fact, car), spec) if name else "")
        for literal, name, spec in _pieces(row)
    )


@cache
def _pieces(kind: str) -> tuple[tuple[str, str, str], ...]:
    """A row cut up once: (text before, name or "", format)."""
    return tuple((text, name or "", spec or "") for text, name, spec, _ in Formatter().parse(ROWS[kind]))


def _told(name: str, fact: Fact, car: Car) -> object:
    """What a name in a row stands for: a name of the fact in words (with a capital where the row has one), or
    one of its numbers."""
    small = name[:1].lower() + name[1:]
    words = _name(small, fact, car)
    if words is None:
        return Number(fact.numbers[name])
    return words if small == name else words[:1].upper() + words[1:]


def _name(name: str, fact: Fact, car: Car) -> str | None:
    """A name of a fact in words, None when it has none of that name."""
    names = fact.names
    beside = "side" in names and fact.kind.startswith("spoils")
    if name == "where" and "phase" in names:
        return f"{PHASE[names['phase']]} {STAGE[names['stage']]}"
    if name == "unit" and names.get("channel"):
        return unit_of(names["channel"])
    if beside and name in ("side_channel", "side_unit"):
        return channel_words(names["side"]) if name == "side_channel" else unit_of(names["side"])
    if name not in names or (beside and name == "side"):
        return None
    return _word(name, names[name], names, car)


def _word(key: str, value: str, names: Mapping[str, str], car: Car) -> str:
    if key in ("channel", "side"):
        return channel_words(value)
    if key == "need":
        if names.get("kind", "balance") != "balance" and names.get("channel", "").startswith("balance/"):
            return channel_words(names["channel"])
        return need_words(value, names.get("kind", "balance"))
    if key in ("setting", "first", "second"):
        return lowered(label_of(car, value))
    if key == "tyre":
        return TYRE[value]
    if key == "complaint":
        return COMPLAINT.get(value, value.replace("-", " "))
    if key == "why":
        return STOPS.get(value, f"{value.replace('-', ' ')}.")
    return value
