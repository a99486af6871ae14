"""The words around a number as marks: numbers, tyres, points across a tyre, units, quantities
(figures.toml)."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from grammar.counting import number_at
from grammar.lexing import Cut

__all__ = ["TENTHS", "Mark", "marks", "table"]

_KINDS = (
    "TYRE", "SIDE", "POINT", "ACROSS", "UNIT", "QUANTITY", "WORN", "LEFT", "COND", "MORE", "LESS", "THAN",
    "BUILT",
    "FALL", "PREP", "LINK", "WHEN",
)  # fmt: skip


@dataclass(slots=True)
class Mark:
    """One or more words of a kind (NUM, COMMA, OTHER or a table of figures.toml); `taken` once a number has
    it."""

    kind: str
    means: str
    first: int
    last: int
    values: tuple[float, ...] = ()
    taken: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Phrases by their first word (longest first), and the words that keep a number from being a figure."""

    phrases: Mapping[str, tuple[tuple[tuple[str, ...], str, str], ...]]
    before: frozenset[str]
    behind: frozenset[str]
    after_unit: frozenset[str]
    change: frozenset[str]


@lru_cache(maxsize=1)
def table() -> Table:
    data = tomllib.loads((resources.files("grammar") / "figures.toml").read_text("utf-8"))
    found: dict[str, list[tuple[tuple[str, ...], str, str]]] = {}
    for kind in _KINDS:
        for means, phrases in data[kind].items():
            for phrase in phrases:
                words = tuple(phrase.split())
                found.setdefault(words[0], []).append((words, kind, means))
    ordered = {w: tuple(sorted(rows, key=lambda row: -len(row[0]))) for w, rows in found.items()}
    before, behind, after = (frozenset(data["counted"][key]) for key in ("before", "behind", "after_unit"))
    return Table(ordered, before, behind, after, frozenset(data["change"]["words"]))


_READABLE = frozenset({
    "NUM", "FILL", "END", "UNIT", "QUANTITY", "COND", "PHASE", "SETTING", "UP", "LESS", "MORE", "SYM",
    "VERDICT", "GOOD",
    "CAR", "GONE", "SEP", "RUN", "CREW", "MOVE", "POOR", "PLACE", "TRAP", "STILL", "SEV", "ATMOST", "NEW",
    "LACK", "STAGE",
    "NEG", "OTHER", "BAL",
})  # fmt: skip
"""Kinds of pieces whose words may be a mark all the same; numbers stay what the vocabulary calls them."""


TENTHS = frozenset({"tenth", "tenths", "hundredths", "second", "seconds"})
"""Before one of these a number is no corner ("fell off three tenths")."""
_AMERICAN = {"tyre": "tire", "tyres": "tires", "centre": "center", "litre": "liter", "litres": "liters"}
"""The tables are written in the spelling of the ovals."""
_EDGES = {"in": "inside", "out": "outside"}


def marks(cut: Cut, kinds: Mapping[int, str], first: int, last: int) -> list[Mark]:
    """The words of a sentence as marks; signs between numbers say nothing."""
    found: list[Mark] = []
    place = first
    plain = tuple([_AMERICAN.get(word, word) for word in cut.plain])
    while place <= last:
        mark = _mark(plain, kinds, place, last, found[-1] if found else None)
        if mark is not None:
            found.append(mark)
        place = mark.last + 1 if mark is not None else place + 1
    return _runs(found)


def _mark(
    plain: Sequence[str], kinds: Mapping[int, str], place: int, last: int, before: Mark | None
) -> Mark | None:
    kind = kinds.get(place)
    measured = before is not None and before.kind == "NUM" and before.values[0] >= 80
    if measured and plain[place] in _EDGES and (place == last or kinds.get(place + 1) in ("MARK", "NUM")):
        return Mark("POINT", _EDGES[plain[place]], place, place)
    if kind == "MARK":
        return Mark("COMMA", "comma", place, place)
    under = kind == "LIMIT" and plain[place] == "under"
    if kind is not None and kind not in _READABLE and not under:
        return Mark("OTHER", plain[place], place, place)
    if kind in ("PHASE", "PLACE", "FILL") and not TENTHS.isdisjoint(plain[place + 1 : place + 3]):
        kind = None
    if kind in ("NUM", None) and (number := number_at(plain, place)) and number[1] <= last:
        return Mark("NUM", plain[place], place, number[1], (number[0],))
    side = before is not None and before.kind == "PREP" and before.means == "on"
    if side and plain[place] == "the" and _phrase(plain, place + 1, last, tyre=True):
        return Mark("LINK", "the", place, place)
    matched = _phrase(plain, place, last, side=side)
    if matched is None:
        return None if plain[place] in ("/", "&", "=", "+") else Mark("OTHER", plain[place], place, place)
    size, name, means = matched
    return Mark("TYRE" if name == "SIDE" else name, means, place, place + size - 1)


def _phrase(
    plain: Sequence[str], place: int, last: int, side: bool = False, tyre: bool = False
) -> tuple[int, str, str] | None:
    """The longest phrase of figures.toml that begins here: how many words, its kind and meaning."""
    rows = table().phrases.get(plain[place]) if place <= last else None
    for words, kind, means in rows or ():
        size = len(words)
        fits = size == 1 or (place + size - 1 <= last and tuple(plain[place : place + size]) == words)
        if fits and (side or kind != "SIDE") and (not tyre or kind == "TYRE"):
            return size, kind, means
    return None


def _runs(found: Sequence[Mark]) -> list[Mark]:
    """Three or four numbers in a row are one reading: across a tyre, or one a tyre."""
    joined: list[Mark] = []
    number = 0
    while number < len(found):
        run, end = [found[number]], number + 1
        while run[0].kind == "NUM" and end < len(found):
            gap = end + (found[end].kind in ("COMMA", "UNIT") or found[end].means in ("and", "past"))
            if gap >= len(found) or found[gap].kind != "NUM":
                break
            run.append(found[gap])
            end = gap + 1
        if len(run) < 3:
            joined.append(found[number])
            number += 1
            continue
        values = tuple(value for mark in run for value in mark.values)
        joined.append(Mark("NUM", run[0].means, run[0].first, run[-1].last, values))
        number = end
    return joined
