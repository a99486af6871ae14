"""A part of a complaint: a piece, or several that belong together."""

from typing import Any

from grammar.lexing import Piece


class Part:
    """One thing said: a piece, or several that belong together.

    `kind` is the piece's, or FAULT (an end of the car gives up), QUALITY (grip or turning, wanted or
    missing), AMOUNT,
    LIMIT. `end` is front, rear, drive or None; `pieces` are all pieces it was made of, in order, `first` and
    `last` the places of their words."""

    __slots__ = ("end", "first", "kind", "last", "means", "pieces")

    def __init__(self, kind: str, means: str, pieces: tuple[Piece, ...], end: str | None = None) -> None:
        self.kind, self.means, self.pieces, self.end = kind, means, pieces, end
        self.first, self.last = pieces[0].first, pieces[-1].last

    def extra(self, key: str) -> Any:
        """A row key of the piece that gave the meaning (the last one), or None."""
        return self.pieces[-1].row.extra.get(key)
