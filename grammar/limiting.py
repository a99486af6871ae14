"""What narrows the answer and what opens it again: "leave the brakes alone", "only air and wedge", "we're in
the garage now".

Phrases of `limiting.toml` are looked for in the line of words (`lines`). Beside settings a limit may name a
group ("the front end", "left rear"), whose keys stand in the table; elsewhere in a complaint the words of a
group mean nothing of the kind.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from grammar.amounts import Spans
from grammar.intent import Limit
from grammar.lexing import Cut
from grammar.lines import Line, by_trigger, compiled, spelled

__all__ = ["Limits", "said_limits"]

_COUNTS = {"one": 1, "a": 1, "two": 2, "three": 3, "four": 4, "five": 5, "couple": 2, "a couple": 2}
_COUNT = r"(?:one|two|three|four|five|a couple|couple|[1-9])(?: of)?"


@dataclass(frozen=True, slots=True)
class _Row:
    """One kind of limit: its patterns, the words without which none of them holds, and the words one of which
    a text without a setting must have (None: it may go without)."""

    means: str
    patterns: tuple[re.Pattern[str], ...]
    triggers: frozenset[str]
    groups: frozenset[str] | None


@dataclass(frozen=True, slots=True)
class _Table:
    rows: tuple[_Row, ...]
    index: Mapping[str, tuple[int, ...]]
    """The places of the rows that a word is a trigger of."""
    bare: frozenset[str]
    item: re.Pattern[str]
    """One setting or group; the name of the group that matched is that of its key in `groups`."""
    groups: dict[str, tuple[str, ...]]


@dataclass(slots=True)
class Limits:
    """`limits` in the order they were said, and the places of words they were read from (first to last)."""

    limits: list[Limit]
    places: list[tuple[int, int]]


def said_limits(cut: Cut, spans: Spans, taken: Sequence[tuple[int, int]] = ()) -> Limits:
    """The limits and liftings a text speaks of in phrases. `taken` are places that were read otherwise.
    Pure."""
    found = Limits([], list(taken))
    table = _table()
    words = frozenset(cut.plain)
    places = {place for word in words for place in table.index.get(word, ())}
    rows = [table.rows[place] for place in sorted(places)]
    if rows and "SETTING" not in [piece.kind for piece in cut.pieces]:
        rows = [row for row in rows if row.groups is None or not row.groups.isdisjoint(words)]
    if not rows:
        return Limits([], [])
    line = Line(cut, table.bare)
    for row in rows:
        for match in line.free(row.patterns, found.places):
            first, last = line.places(*match.span())
            first = _opening(cut, first)
            if (limit := _limit(row, match, line, table, spans, (first, last))) is not None:
                found.limits.append(limit)
                found.places.append((first, last))
    found.limits.sort(key=lambda limit: limit.span.start)
    return Limits(found.limits, found.places[len(taken) :])


_OPENERS = frozenset(
    {"okay", "ok", "alright", "well", "fine", "yeah", "yes", "yep", "so", "now", "right", "all", "hey"}
)


def _opening(cut: Cut, first: int) -> int:
    """Where a limit begins with what only opens it: "okay you can use the springs" praises nothing."""
    place = first
    while place and cut.plain[place - 1] in _OPENERS:
        place -= 1
    return place if not place or not cut.plain[place - 1].isalnum() else first


def _limit(
    row: _Row, match: re.Match[str], line: Line, table: _Table, spans: Spans, place: tuple[int, int]
) -> Limit | None:
    said = match.groupdict()
    span = spans(*place)
    if number := said.get("n"):
        word = number.removesuffix(" of")
        return Limit(row.means, (), _COUNTS.get(word) or int(word), span)
    if "s" not in said:
        return Limit(row.means, (), None, span)
    keys: list[str] = []
    for one in table.item.finditer(said["s"]):
        group = one.lastgroup or "mark"
        named = table.groups.get(group)
        if named is None:
            named = line.settings[int(one["mark"])].row.extra["settings"]
        keys += [key for key in named if key not in keys]
    kind = "keep" if row.means == "not" and len(keys) == 2 and "split" in span.text.lower() else row.means
    return Limit(kind, tuple(keys), None, span) if keys else None


@lru_cache(maxsize=1)
def _table() -> _Table:
    """The rows of limiting.toml. TableError if one is broken."""
    data = tomllib.loads((resources.files("grammar") / "limiting.toml").read_text("utf-8"))
    groups = data["group"]
    mark = r"<\d+>"
    thing = "|".join([mark, *(group["say"] for group in groups.values())])
    part = "|".join([mark, *(group["say"] for group in groups.values() if group.get("part"))])
    words = {"thing": rf"(?:{thing})(?!\S)", "part": rf"(?:{part})(?!\S)"}
    words = spelled(data["words"], {**words, "count": _COUNT})
    rows = []
    for entry in data["row"]:
        patterns = compiled("limiting.toml", entry, words)
        alike: dict[frozenset[str] | None, list[re.Pattern[str]]] = {}
        for say, pattern in zip(entry["say"], patterns, strict=True):
            alike.setdefault(_needs(say, groups), []).append(pattern)
        triggers = frozenset(entry["triggers"])
        rows += [_Row(entry["means"], tuple(ways), triggers, needs) for needs, ways in alike.items()]
    named = "|".join(f"(?P<{name}>{group['say']})" for name, group in groups.items())
    item = re.compile(rf"(?<!\S)(?:<(?P<mark>\d+)>|{named})(?!\S)")
    keys = {name: tuple(group["settings"]) for name, group in groups.items()}
    return _Table(
        tuple(rows), by_trigger([row.triggers for row in rows]), frozenset(data["bare"]), item, keys
    )


def _needs(say: str, groups: Mapping[str, Mapping[str, Any]]) -> frozenset[str] | None:
    """The words of the groups that a pattern can name (none where it takes settings alone), or None where it
    names nothing."""
    if "(?P<s>" not in say:
        return None
    ends, parts = "{many}" in say, "{partly}" in say or "{sized}" in say or "brake" in say
    named = [group["say"] for group in groups.values() if ends or (parts and group.get("part"))]
    ways = [way for one in named for way in re.sub(r"\(\?:[^)]*\)\?", "", one).split("|")]
    last = {way.split()[-1] for way in ways}
    return frozenset({form for word in last for form in (word.rstrip("?"), re.sub("[a-z][?]$", "", word))})
