"""The words of a text on one line, with every setting as a mark ("we didnt do <0> , still tight off")."""

import re
from collections.abc import Iterable, Iterator, Mapping

from grammar.lexing import Cut, Piece

__all__ = ["Line", "by_trigger", "filled"]


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
