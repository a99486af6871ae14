"""The words of a text on one line, with every setting as a mark ("we didnt do <0> , still tight off")."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from grammar.errors import TableError
from grammar.lexing import Cut, Piece

__all__ = ["Line", "by_trigger", "compiled", "over", "spelled"]


class Line:
    """The line, and the way back from its characters to words and settings. Settings said in one of the words
    of `bare` stay words."""

    def __init__(self, cut: Cut, bare: frozenset[str] = frozenset()) -> None:
        said = list(cut.plain)
        self.settings = [
            p for p in cut.pieces if p.kind == "SETTING" and " ".join(said[p.first : p.last + 1]) not in bare
        ]
        for piece in cut.pieces:
            if piece.kind == "MARK":
                said[piece.first] = "," if piece.means == "comma" else "."
        self.words = list(range(len(said)))
        for number, piece in reversed(list(enumerate(self.settings))):
            said[piece.first : piece.last + 1] = [f"<{number}>"]
            self.words[piece.first : piece.last + 1] = [piece.first]
        self.text = " ".join(said)

    def places(self, begin: int, end: int) -> tuple[int, int]:
        """First and last word of a stretch of the line."""
        first, last = (self.words[self.text.count(" ", 0, at)] for at in (begin, max(begin, end - 1)))
        inside = next((p.last for p in self.settings if p.first == last), last)
        return first, inside

    def named(self, listed: str) -> Iterator[Piece]:
        """The settings of a stretch."""
        return (self.settings[int(n)] for n in re.findall(r"<(\d+)>", listed))

    def free(
        self, patterns: Iterable[re.Pattern[str]], heard: Sequence[tuple[int, int]]
    ) -> Iterator[re.Match[str]]:
        """Matches on words nothing was read from yet; `heard` may grow meanwhile."""
        for pattern in patterns:
            for match in pattern.finditer(self.text):
                if not over(self.places(*match.span()), heard):
                    yield match


def over(place: tuple[int, int], heard: Iterable[tuple[int, int]]) -> bool:
    """Whether a stretch of words shares one with any of some others; first and last word of each."""
    return any(first <= place[1] and place[0] <= last for first, last in heard)


def spelled(named: Mapping[str, str], words: Mapping[str, str] | None = None) -> dict[str, str]:
    """Names of a table → their patterns, each with the names before it filled in; `words` are names known
    already."""
    found = dict(words or {})
    for name, pattern in named.items():
        found[name] = filled(pattern, found)
    return found


def compiled(
    file: str, entry: Mapping[str, Any], words: Mapping[str, str], opening: str = ""
) -> tuple[re.Pattern[str], ...]:
    """The patterns of a row, as whole words, `opening` in front of each. TableError if one is broken."""
    try:
        return tuple([re.compile(rf"(?<!\S){opening}{filled(say, words)}(?!\S)") for say in entry["say"]])
    except (re.error, KeyError) as error:
        raise TableError(file, str(entry["means"]), f"has a broken pattern: {error}") from error


def filled(pattern: str, words: Mapping[str, str]) -> str:
    """A pattern with every `{name}` replaced by what the name stands for."""
    return re.sub(r"\{([a-z]+)\}", lambda match: words[match[1]], pattern)


def by_trigger(rows: Iterable[frozenset[str]]) -> dict[str, tuple[int, ...]]:
    """Word → the places of the rows that it is a trigger of."""
    found: dict[str, tuple[int, ...]] = {}
    for place, triggers in enumerate(rows):
        for word in triggers:
            found[word] = (*found.get(word, ()), place)
    return found
