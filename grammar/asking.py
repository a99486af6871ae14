"""Changes asked for in phrases of their own: "put a round in it", "more rear brake", "run me a softer right
front".

Phrases of `asking.toml` are looked for in the line of words (`lines`); what they hold is taken out before the
rest is read, so "move the brakes back" speaks of no end of the car.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from grammar.amounts import Spans, tyre_in
from grammar.counting import number_at
from grammar.intent import Request, Span
from grammar.lexing import Cut
from grammar.lines import Line, by_trigger, compiled, spelled

__all__ = ["Asked", "asked_changes"]

_WHAT_IF = (
    r"(?P<if>(?:what if|what happens with|what would happen with|what happens when|what happens if"
    r"|what would happen if|what about if|how about if|suppose|say|would it help if|would it help to"
    r"|what do i get if|should)(?: (?:i|we|you))?|how about|what about) "
)
_DONE_BY = frozenset(
    {"i", "we", "they", "he", "crew", "guys", "you", "weve", "ive", "theyve", "just", "already", "only"}
)
"""Behind one of these a change is told, not asked for ("we put a round in")."""
_ASKS_ALL_THE_SAME = ("need", "want", "like", "could use")


@dataclass(frozen=True, slots=True)
class _Row:
    """One kind of change: the settings it is of where its patterns name none (`of` a tyre), and the kind of
    piece without which none of them holds."""

    means: str
    patterns: tuple[re.Pattern[str], ...]
    triggers: frozenset[str]
    settings: tuple[str, ...]
    of: str | None
    needs: str | None


@dataclass(frozen=True, slots=True)
class _Table:
    """`verbs`: without any of these a text asks for no change."""

    rows: tuple[_Row, ...]
    index: Mapping[str, tuple[int, ...]]
    bare: frozenset[str]
    verbs: frozenset[str]


@dataclass(slots=True)
class Asked:
    """The requests, and the places of the words they were read from (first to last)."""

    requests: list[Request]
    places: list[tuple[int, int]]


def asked_changes(cut: Cut, spans: Spans, taken: Sequence[tuple[int, int]] = ()) -> Asked:
    """The changes a text asks for in phrases. `taken` are places that were read otherwise. Pure."""
    found = Asked([], list(taken))
    table = _table()
    words = frozenset(cut.plain)
    places = {place for word in words for place in table.index.get(word, ())}
    if not places or table.verbs.isdisjoint(words):
        return Asked([], [])
    kinds = {piece.kind for piece in cut.pieces}
    rows = [table.rows[place] for place in sorted(places)]
    rows = [row for row in rows if row.needs is None or row.needs in kinds]
    if not rows:
        return Asked([], [])
    line = Line(cut, table.bare)
    for row in rows:
        for match in line.free(row.patterns, found.places):
            place = line.places(*match.span())
            if _told(cut, place[0], match):
                continue
            if (request := _request(row, match, line, spans(*place))) is not None:
                found.requests.append(request)
                found.places.append(place)
    return Asked(found.requests, found.places[len(taken) :])


def _told(cut: Cut, first: int, match: re.Match[str]) -> bool:
    """Whether the words in front make it a report or a denial."""
    before = cut.plain[first - 1] if first else ""
    asks = any(word in match.group() for word in _ASKS_ALL_THE_SAME)
    return before in ("dont", "not", "didnt", "cant", "never", "without") or (
        before in _DONE_BY
        and not asks
        and match["if"] is None
        and cut.plain[max(0, first - 2)] not in ("can", "could", "should")
    )


def _request(row: _Row, match: re.Match[str], line: Line, span: Span) -> Request | None:
    said = {name: text for name, text in match.groupdict().items() if text}
    keys = row.settings
    tyre = tyre_in(said["tyre"].split()) if "tyre" in said else None
    if "s" in said:
        keys = tuple(key for piece in line.named(said["s"]) for key in piece.row.extra["settings"])
        keys = tuple(k for k in keys if tyre is None or k.endswith(f"_{tyre.lower()}"))
    elif row.of and tyre:
        keys = (f"{row.of}_{tyre.lower()}",)
    if not keys:
        return None
    if row.means in ("undo", "why-not"):
        return Request(row.means, keys, None, None, False, None, span)
    amount = said.get("n") or said.get("m") or ""
    value = _value(amount)
    kind = (
        "what-if" if "if" in said or "q" in said else "set" if value is None or row.means == "to" else "step"
    )
    relative = value is not None and row.means != "to"
    way = None if row.means == "to" else row.means
    return Request(kind, keys, value, _unit(amount), relative, way, span)


_UNITS = {
    "round": "round",
    "turn": "round",
    "click": "click",
    "pound": "lb",
    "psi": "psi",
    "percent": "%",
    "%": "%",
    "point": "%",
    "inch": "in",
    "inches": "in",
}


def _value(amount: str) -> float | None:
    words = amount.replace("half of", "half").split()
    if not words:
        return None
    if words[0] in ("a", "an") and len(words) > 1 and any(w.rstrip("s") in _UNITS for w in words[1:2]):
        return 1.5 if words[-3:] == ["and", "a", "half"] else 1.0
    found = number_at(tuple(words), 0)
    return None if found is None else found[0]


def _unit(amount: str) -> str | None:
    return next(
        (
            _UNITS[base]
            for word in amount.split()
            if (base := word if word in _UNITS else word.rstrip("s")) in _UNITS
        ),
        None,
    )


@lru_cache(maxsize=1)
def _table() -> _Table:
    """The rows of asking.toml. TableError if one is broken."""
    data = tomllib.loads((resources.files("grammar") / "asking.toml").read_text("utf-8"))
    words = spelled(data["words"])
    rows = []
    for entry in data["row"]:
        patterns = compiled("asking.toml", entry, words, rf"(?:{_WHAT_IF})?")
        triggers, keys = frozenset(entry["triggers"]), tuple(entry.get("settings", ()))
        named = all(r"<\d+>)" in say for say in entry["say"])
        counted = all("{rounds}" in say or r"(?P<n>\d" in say for say in entry["say"])
        needs = "SETTING" if named else "NUM" if counted else None
        rows.append(_Row(entry["means"], patterns, triggers, keys, entry.get("of"), needs))
    return _Table(
        tuple(rows),
        by_trigger([row.triggers for row in rows]),
        frozenset(data["bare"]),
        frozenset(data["verbs"]),
    )
