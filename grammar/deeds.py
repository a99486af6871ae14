"""What the driver says was done of a change list: the whole of it, named changes, nothing, or something else.

The words are put on one line with every setting as a mark ("we didnt do <0> , still tight off"), and phrases
of that line are looked for. An outcome names one setting key; `done` or `refused` without a key is about
everything on the list that no other outcome names ("only did the wedge" = done wedge, refused the rest).
"""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources

from grammar.amounts import Spans
from grammar.intent import Outcome
from grammar.lexing import COMMA, Cut, Piece, apart
from grammar.lexing import cut as cut_up
from grammar.lines import Line, compiled, spelled
from grammar.tidying import tidy

__all__ = ["Deeds", "deeds", "settings_named", "without"]


@dataclass(frozen=True, slots=True)
class _Row:
    """One meaning: its patterns, the words without which none of them holds, whether they name settings, what
    it says of the rest of the list, and whether it holds only behind another deed."""

    means: str
    patterns: tuple[re.Pattern[str], ...]
    triggers: frozenset[str]
    names: bool
    rest: str | None
    after: bool


@dataclass(slots=True)
class Deeds:
    """`outcomes` about the change, and the places of words they were read from (first to last)."""

    outcomes: list[Outcome] = field(default_factory=list)
    places: list[tuple[int, int]] = field(default_factory=list)


def settings_named(text: str) -> tuple[str, ...]:
    """Keys of every setting a text names, in order."""
    pieces = cut_up(apart(tidy(text))).pieces
    keys = [k for p in pieces if p.kind == "SETTING" for k in p.row.extra.get("settings", ())]
    return tuple(dict.fromkeys(keys))


def without(places: Sequence[tuple[int, int]], pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces that lie outside some places (first and last word of each), a comma in each one's place: the
    "not" of what was read there is not the symptom's."""
    if not places:
        return list(pieces)
    kept = [p for p in pieces if not any(a <= p.last and p.first <= b for a, b in places)]
    gaps = [Piece(COMMA, first, first) for first, _ in places]
    return sorted((*kept, *gaps), key=lambda p: p.first)


def deeds(cut: Cut, spans: Spans) -> Deeds:
    """What a text says was done. Pure; empty when it says nothing of it."""
    found = Deeds()
    settings = any(piece.kind == "SETTING" for piece in cut.pieces)
    rows = [row for row in _table() if (settings or not row.names) and not row.triggers.isdisjoint(cut.plain)]
    if not rows:
        return found
    line = Line(cut)
    for row in rows:
        if not row.after or found.outcomes:
            _every(row, line, found, spans)
    return found


def _every(row: _Row, line: Line, found: Deeds, spans: Spans) -> None:
    for match in line.free(row.patterns, found.places):
        first, last = line.places(*match.span())
        found.places.append((first, last))
        for piece in line.named(match["s"]) if row.names else ():
            end = max(piece.last, first)
            for key in piece.row.extra.get("settings", ()):
                span = spans(min(first, piece.first), end)
                found.outcomes.append(Outcome(row.means, None, (), key, None, span))
        rest = row.rest if row.names else row.means
        if rest and not any(o.verdict == rest and o.setting is None for o in found.outcomes):
            found.outcomes.append(Outcome(rest, None, (), None, None, spans(first, last)))


@lru_cache(maxsize=1)
def _table() -> tuple[_Row, ...]:
    """The rows of deeds.toml. TableError if one is broken."""
    table = tomllib.loads((resources.files("grammar") / "deeds.toml").read_text("utf-8"))
    words = spelled(table["words"])
    rows = []
    for entry in table["row"]:
        patterns = compiled("deeds.toml", entry, words)
        names = all("(?P<s>" in say for say in entry["say"])
        triggers = frozenset(entry.get("triggers", table["triggers"]))
        rest, after = entry.get("rest"), entry.get("after", False)
        rows.append(_Row(entry["means"], patterns, triggers, names, rest, after))
    return tuple(rows)
