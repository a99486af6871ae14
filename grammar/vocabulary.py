"""The vocabulary tables: loaded once, expanded, checked for clashes, made into one tree for longest-match
look-up.

A table (`vocabulary/*.toml`) has `kind` (the token the grammar file sees) and rows: `means`, `say` (phrases)
and
extras. In a phrase `(a|b)` are alternatives, `[a]` may be left out, `<name>` is a class of `classes.toml`. A
phrase is
matched word by word, by the word as typed or by its base form (`forms.toml`), so "come around" also matches
"came around".
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from itertools import product
from typing import Any

from grammar.errors import TableError


@dataclass(frozen=True, slots=True)
class Row:
    """One meaning of a table. `extra` holds the row's other keys, such as `severity` or `settings`."""

    kind: str
    means: str
    file: str
    extra: Mapping[str, Any] = field(default_factory=dict)
    not_before: frozenset[str] = frozenset()
    """The row does not hold when one of these words (up to three) comes next; the others likewise."""
    not_after: frozenset[str] = frozenset()
    only_before: frozenset[str] = frozenset()
    """"" stands for a mark or the end of the text, here and in `only_after`."""
    only_after: frozenset[str] = frozenset()
    fussy: bool = field(init=False)
    """Whether neighbours can forbid the row."""
    minds: frozenset[str] = field(init=False)
    """The first words of what must or must not come next."""

    def __post_init__(self) -> None:
        fussy = self.not_before or self.not_after or self.only_before or self.only_after
        object.__setattr__(self, "fussy", bool(fussy))
        minds = frozenset(words.split()[0] for words in (*self.not_before, *self.only_before) if words)
        object.__setattr__(self, "minds", minds)


_NOTHING: "dict[str, Node]" = {}
"""What follows a phrase that cannot go on; shared, never written to."""


class Node:
    """A place in the phrase tree: what may follow, the row that ends here, and whether it is filler where
    the row's
    neighbours forbid it."""

    __slots__ = ("filler", "next", "row")

    def __init__(self) -> None:
        self.next: dict[str, Node] = _NOTHING
        self.row: Row | None = None
        self.filler: Row | None = None


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """All tables: the phrase tree, base forms, every known word, the phrases of each kind, the words never
    corrected."""

    tree: Node
    forms: Mapping[str, str]
    words: frozenset[str]
    phrases: tuple[tuple[str, Row], ...]
    protected: frozenset[str]
    keys: Mapping[str, tuple[str, ...]] = field(init=False)
    """What the tree may know a word by that has a base form: as typed, then that form."""

    def __post_init__(self) -> None:
        keys = {word: (word, base) for word, base in self.forms.items() if base != word}
        object.__setattr__(self, "keys", keys)

    def base(self, word: str) -> str:
        """Base form of a word ("sliding" → "slide"), or the word itself."""
        return self.forms.get(word, word)


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """The shipped tables."""
    folder = resources.files("grammar") / "vocabulary"
    tables = {
        f.name: tomllib.loads(f.read_text("utf-8")) for f in folder.iterdir() if f.name.endswith(".toml")
    }
    return build(tables)


def build(tables: Mapping[str, Mapping[str, Any]]) -> Vocabulary:
    """Vocabulary from parsed tables (file name → content). Raises TableError on a clash or a malformed
    row."""
    classes = {name: tuple(words) for name, words in tables.get("classes.toml", {}).items()}
    forms = _forms(tables.get("forms.toml", {}))
    protected = frozenset(tables.get("protected.toml", {}).get("words", ()))
    tree, words, phrases = Node(), set(forms), []
    for file in sorted(set(tables) - {"classes.toml", "forms.toml", "protected.toml"}):
        for row, says in _rows(file, tables[file]):
            for say in says:
                for phrase in _expand(say, classes, file):
                    _plant(tree, phrase, row)
                    phrases.append((phrase, row))
                    words.update(phrase.split())
    return Vocabulary(tree, forms, frozenset(words), tuple(phrases), protected)


_NEIGHBOURS = ("not_before", "not_after", "only_before", "only_after")


def _rows(file: str, table: Mapping[str, Any]) -> Iterator[tuple[Row, list[str]]]:
    for entry in table.get("row", ()):
        extra = dict(entry)
        try:
            kind, means, says = (
                extra.pop("kind", table.get("kind")),
                extra.pop("means"),
                extra.pop("say"),
            )
        except KeyError as missing:
            raise TableError(file, str(entry), f"has no {missing}") from None
        if not kind or not isinstance(says, list):
            raise TableError(file, str(means), "needs a kind and a list of phrases")
        neighbours = [frozenset(extra.pop(key, ())) for key in _NEIGHBOURS]
        yield Row(kind, means, file, extra, *neighbours), says


def _forms(table: Mapping[str, list[str]]) -> dict[str, str]:
    forms: dict[str, str] = {}
    for base, others in table.items():
        for word in others:
            if forms.setdefault(word, base) != base:
                raise TableError(
                    "forms.toml",
                    word,
                    f"is a form of both {forms[word]!r} and {base!r}",
                )
    return forms


def _expand(say: str, classes: Mapping[str, tuple[str, ...]], file: str) -> Iterator[str]:
    """Every plain phrase a table phrase stands for."""
    slots = list(_slots(say, classes, file))
    for choice in product(*slots):
        phrase = " ".join(filter(None, choice))
        if phrase:
            yield phrase


def _slots(part: str, classes: Mapping[str, tuple[str, ...]], file: str) -> Iterator[tuple[str, ...]]:
    if not part:
        return
    for piece in _pieces(part):
        if piece[0] == "(":
            yield tuple(x.strip() for x in piece[1:-1].split("|"))
        elif piece[0] == "[":
            yield ("", *(x.strip() for x in piece[1:-1].split("|")))
        elif piece[0] == "<":
            name = piece[1:-1]
            if name not in classes:
                raise TableError(file, part, f"names the class {name!r}, which classes.toml lacks")
            yield classes[name]
        else:
            yield (piece,)


def _pieces(part: str) -> Iterator[str]:
    """Split a table phrase at its brackets and classes."""
    start = 0
    while start < len(part):
        close = {"(": ")", "[": "]", "<": ">"}.get(part[start])
        if close:
            end = part.index(close, start) + 1
        else:
            opens = [part.find(c, start) for c in "([<"]
            end = min((at for at in opens if at > start), default=len(part))
        if piece := part[start:end].strip():
            yield piece
        start = end


def _plant(tree: Node, phrase: str, row: Row) -> None:
    node = tree
    for word in phrase.split():
        if node.next is _NOTHING:
            node.next = {}
        after = node.next.get(word)
        if after is None:
            after = node.next[word] = Node()
        node = after
    if row.kind == "FILL" and node.row is not row:
        node.filler = row
        if node.row is None or node.row.fussy:
            return
    if node.row is not None and node.row != row:
        other = node.row
        problem = f"is claimed by {other.file} ({other.means}) and by {row.file} ({row.means})"
        raise TableError(row.file, phrase, problem)
    node.row = row
