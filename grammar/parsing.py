"""Pieces to parts: the grammar file run over the pieces, and its result as a flat list of parts."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from lark import Lark, Token, Transformer
from lark.lexer import Lexer

from grammar.lexing import Piece


@dataclass(frozen=True, slots=True)
class Part:
    """One thing said: a piece, or several that belong together.

    `kind` is the piece's, or FAULT (an end of the car gives up), QUALITY (grip or turning, wanted or
    missing), AMOUNT,
    LIMIT. `end` is front, rear, drive or None; `pieces` are all pieces it was made of, in order."""

    kind: str
    means: str
    pieces: tuple[Piece, ...]
    end: str | None = None

    @property
    def first(self) -> int:
        return self.pieces[0].first

    @property
    def last(self) -> int:
        return self.pieces[-1].last

    def extra(self, key: str) -> Any:
        """A row key of the piece that gave the meaning (the last one), or None."""
        return self.pieces[-1].row.extra.get(key)


class _Pieces(Lexer):
    """Hands the parser pieces that were cut beforehand: each token's value is its piece."""

    def __init__(self, lexer_conf: object) -> None:
        pass

    def lex(self, pieces: Any) -> Iterator[Token]:  # type: ignore[override]
        for piece in pieces:
            token = Token(piece.row.kind, "")
            token.value = piece
            yield token


_AT_END = {("rear", "nervous"), ("rear", "no-grip"), ("front", "no-grip"), ("front", "slow-response")}
"""Complaints that, said of one end of the car, are balance: a nervous rear is loose, a numb front is
tight."""


_WANTS = {"tight": "front", "loose": "rear"}
"""The end a word of motion speaks of; said of the other end ("the rear slides up") that end gives up."""


def _pieces_of(tokens: Sequence[Any]) -> list[Piece]:
    return [token.value for token in tokens]


class _Parts(Transformer[Token, list[Part]]):
    """Builds the parts while the parser runs; holds nothing between runs."""

    def start(self, parts: list[list[Part]]) -> list[Part]:
        return [part for group in parts for part in group]

    def alone(self, tokens: list[Token]) -> list[Part]:
        piece = tokens[0].value
        return [Part(piece.kind, piece.means, (piece,))]

    link = alone

    def end_talk(self, children: list[Any]) -> list[Part]:
        """The links between end and tail keep their own parts, before the part that carries the end."""
        end: Piece = children[0].value
        links = [part for child in children[1:] if isinstance(child, list) for part in child]
        tail = next((child.value for child in children[1:] if isinstance(child, Token)), None)
        if tail is None:
            return [Part("END", end.means, (end,), end.means), *links]
        if tail.kind == "BAL" and tail.row.extra.get("motion") and _WANTS[tail.means] != end.means:
            return [*links, Part("FAULT", "slide", (end, tail), end.means)]
        if tail.kind == "BAL":
            return [*links, Part("BAL", tail.means, (end, tail), end.means)]
        if tail.kind == "SYM" and (end.means, tail.means) not in _AT_END:
            return [*links, Part("SYM", tail.means, (end, tail), end.means)]
        kind = "FAULT" if tail.kind in ("MOVE", "GONE", "SYM", "POOR") else "QUALITY"
        which = "front" if tail.kind == "TURN" else end.means
        return [*links, Part(kind, tail.means, (end, tail), which)]

    def loss(self, tokens: list[Token]) -> list[Part]:
        pieces = _pieces_of(tokens)
        if len(pieces) == 1:
            end = pieces[0].row.extra.get("default")
            return [Part("FAULT" if end else "MOVE", pieces[0].means, (pieces[0],), end)]
        return [Part("FAULT", pieces[0].means, tuple(pieces), pieces[1].means)]

    def quality(self, tokens: list[Token]) -> list[Part]:
        pieces = _pieces_of(tokens)
        head = pieces[0]
        if head.kind == "TURN":
            return [Part("QUALITY", "turn", (head,), "front")]
        end = head.means if head.means != "grip" else (pieces[1].means if len(pieces) > 1 else None)
        return [Part("QUALITY", "grip", tuple(pieces), end)]

    def limit(self, tokens: list[Token]) -> list[Part]:
        """Settings belong to the limit; what trails behind the last of them stands alone."""
        pieces = _pieces_of(tokens)
        kept = (
            max(
                (n for n, piece in enumerate(pieces) if piece.kind == "SETTING"),
                default=0,
            )
            + 1
        )
        after = [Part(p.kind, p.means, (p,), p.means if p.kind == "END" else None) for p in pieces[kept:]]
        return [Part("LIMIT", pieces[0].means, tuple(pieces[:kept])), *after]

    def amount(self, tokens: list[Token]) -> list[Part]:
        pieces = _pieces_of(tokens)
        unit = pieces[-1].means if pieces[-1].kind == "UNIT" else ""
        return [Part("AMOUNT", unit, tuple(pieces))]


@lru_cache(maxsize=1)
def _parser() -> Lark:
    grammar = (resources.files("grammar") / "phrases.lark").read_text("utf-8")
    return Lark(grammar, parser="lalr", lexer=_Pieces, transformer=_Parts())


def parse(pieces: Sequence[Piece], plain: Sequence[str]) -> list[Part]:
    """Parts of a cut text, in order. Every sequence of pieces parses."""
    parts: Any = _parser().parse(pieces)
    return _bare_ends(parts, plain)


def _bare_ends(parts: list[Part], plain: Sequence[str]) -> list[Part]:
    """ "No front end", "lost the rear": an end that is missing is its grip missing."""
    for n, part in enumerate(parts):
        if part.kind == "MOVE" and (end := _end_before(parts, n)):
            parts[n] = Part("FAULT", part.means, part.pieces, end)
        elif part.kind == "END" and part.end in ("front", "rear") and _quits(parts, n, plain):
            parts[n : n + 2] = [Part("FAULT", "slide", part.pieces, part.end)]
    return [_completed(part, n, parts, plain) for n, part in enumerate(parts)]


def _quits(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "The front quits in the middle": nothing that it quits doing is named."""
    after = parts[number + 1] if number + 1 < len(parts) else None
    if after is None or after.kind != "NEG" or plain[after.last] not in ("quit", "quits", "stops", "stopped"):
        return False
    alone = after.last + 1 >= len(plain) or plain[after.last + 1] not in ("me", "us", "it")
    behind = parts[number + 2].kind if number + 2 < len(parts) else "MARK"
    return alone and behind in ("MARK", "SEP", "PHASE", "STAGE", "PLACE")


def _completed(part: Part, number: int, parts: Sequence[Part], plain: Sequence[str]) -> Part:
    """Grip takes the end named later in its clause; an end that is missing or asked for is its grip."""
    if (part.kind == "QUALITY" and part.end is None) or (part.kind == "SYM" and len(part.pieces) == 1):
        for after in parts[number + 1 :]:
            if after.kind in ("SEP", "MARK", "BAL", "FAULT", "QUALITY", "CAR", "CREW"):
                break
            if after.kind == "END":
                if part.kind == "QUALITY":
                    return Part("QUALITY", part.means, part.pieces, after.end)
                return (
                    Part("FAULT", part.means, part.pieces, after.end)
                    if (after.end, part.means) in _AT_END
                    else part
                )
    if part.kind == "QUALITY" and part.end is None:
        return Part("QUALITY", part.means, part.pieces, _end_before(parts, number))
    if part.kind == "END" and number and _missing(parts[number - 1], plain[part.first : part.last + 1]):
        return Part("QUALITY", "grip", part.pieces, part.end)
    return part


def _end_before(parts: Sequence[Part], number: int) -> str | None:
    """The end of the car spoken of earlier in the sentence ("the rear tires chirp and slide")."""
    for part in reversed(parts[:number]):
        if part.means == "stop":
            return None
        if part.end in ("front", "rear"):
            return part.end
    return None


def _missing(part: Part, end: Sequence[str]) -> bool:
    """Whether the part before an end says that the end is missing or wanted; one tyre alone may be wanted
    for its air."""
    if part.kind == "NEED":
        return not {"left", "right", "lf", "rf", "lr", "rr"} & set(end)
    return part.kind in ("LACK", "MORE", "POOR") or (part.kind == "NEG" and part.means == "no")
