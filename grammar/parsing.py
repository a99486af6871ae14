"""Pieces to parts: the grammar file run over the pieces, and its result as a flat list of parts.

Most pieces combine with nothing, and the few that do make short runs of a few shapes. Only such runs go to
the parser, and how a run of kinds falls into groups is kept: it depends on the grammar file alone.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from lark import Lark, Token
from lark.grammar import Rule
from lark.lexer import Lexer

from grammar.ends import AT_END, bare_ends
from grammar.errors import TableError
from grammar.lexing import Piece
from grammar.parts import Part
from grammar.vocabulary import Row, vocabulary


class _Kinds(Lexer):
    """Hands the parser the kinds of pieces that were cut beforehand."""

    def __init__(self, lexer_conf: object) -> None:
        pass

    def lex(self, kinds: Any) -> Iterator[Token]:  # type: ignore[override]
        for kind in kinds:
            yield Token(kind, kind)


@dataclass(frozen=True, slots=True)
class _Grammar:
    """The parser, and the kinds that open a group, that a group can hold, that link an end to its tail."""

    parser: Lark
    open: frozenset[str]
    hold: frozenset[str]
    links: frozenset[str]


@lru_cache(maxsize=1)
def _grammar() -> _Grammar:
    """The grammar file. Raises TableError where a table has a kind that it does not know."""
    text = (resources.files("grammar") / "phrases.lark").read_text("utf-8")
    parser = Lark(text, parser="lalr", lexer=_Kinds)
    _check(parser.rules, vocabulary().phrases)
    groups = [rule for rule in parser.rules if rule.origin.name != "alone"]
    hold = frozenset(symbol.name for rule in groups for symbol in rule.expansion if symbol.is_term)
    openers, links = (frozenset(_openers(parser.rules, names)) for names in (_BUILT, ("link",)))
    return _Grammar(parser, openers, hold, links)


def _check(rules: Sequence[Rule], phrases: Iterable[tuple[str, Row]]) -> None:
    known = {"FILL"} | {symbol.name for rule in rules for symbol in rule.expansion if symbol.is_term}
    for phrase, row in phrases:
        if row.kind not in known:
            raise TableError(row.file, phrase, f"is {row.kind}, which phrases.lark does not declare")


def _openers(rules: Sequence[Rule], names: Iterable[str]) -> Iterator[str]:
    """Every terminal that one of the named rules can begin with."""
    for rule in rules:
        if rule.origin.name in names and rule.expansion:
            first = rule.expansion[0]
            if first.is_term:
                yield first.name
            elif first.name not in names:
                yield from _openers(rules, {first.name})


@lru_cache(maxsize=2048)
def _groups(kinds: tuple[str, ...]) -> tuple[tuple[str, int], ...]:
    """How a run of pieces falls into groups: the rule of each and how many pieces it takes."""
    tree: Any = _grammar().parser.parse(kinds)
    return tuple((str(group.data), sum(1 for _ in group.scan_values(bool))) for group in tree.children)


_WANTS = {"tight": "front", "loose": "rear"}
"""The end a word of motion speaks of; said of the other end ("the rear slides up") that end gives up."""


def _alone(pieces: Sequence[Piece]) -> list[Part]:
    return [Part(piece.kind, piece.means, (piece,)) for piece in pieces]


def _end_talk(pieces: Sequence[Piece]) -> list[Part]:
    """The links between end and tail keep their own parts, before the part that carries the end."""
    end, tail = pieces[0], pieces[-1]
    if len(pieces) == 1 or tail.kind in _grammar().links:
        return [Part("END", end.means, (end,), end.means), *_alone(pieces[1:])]
    links = _alone(pieces[1:-1])
    if tail.row.extra.get("willing") and end.means == "front":
        return [*links, Part("QUALITY", "turn", (end, tail), "front")]
    if tail.kind == "BAL" and tail.row.extra.get("motion") and _WANTS[tail.means] != end.means:
        return [*links, Part("FAULT", "slide", (end, tail), end.means)]
    if tail.kind == "BAL":
        return [*links, Part("BAL", tail.means, (end, tail), end.means)]
    if tail.kind == "SYM" and (end.means, tail.means) not in AT_END:
        return [*links, Part("SYM", tail.means, (end, tail), end.means)]
    kind = "FAULT" if tail.kind in ("MOVE", "GONE", "SYM", "POOR") else "QUALITY"
    which = "front" if tail.kind == "TURN" and not tail.row.extra.get("grips") else end.means
    return [*links, Part(kind, tail.means, (end, tail), which)]


def _loss(pieces: Sequence[Piece]) -> list[Part]:
    if len(pieces) == 1:
        end = pieces[0].row.extra.get("default")
        return [Part("FAULT" if end else "MOVE", pieces[0].means, tuple(pieces), end)]
    return [Part("FAULT", pieces[0].means, tuple(pieces), pieces[1].means)]


def _quality(pieces: Sequence[Piece]) -> list[Part]:
    head = pieces[0]
    if head.kind == "TURN":
        return [Part("QUALITY", "turn", (head,), "front")]
    end = head.means if head.means != "grip" else (pieces[1].means if len(pieces) > 1 else None)
    return [Part("QUALITY", "grip", tuple(pieces), end)]


def _limit(pieces: Sequence[Piece]) -> list[Part]:
    """Settings belong to the limit; what trails behind the last of them stands alone."""
    kept = 1 + max((n for n, piece in enumerate(pieces) if piece.kind == "SETTING"), default=0)
    after = [Part(p.kind, p.means, (p,), p.means if p.kind == "END" else None) for p in pieces[kept:]]
    return [Part("LIMIT", pieces[0].means, tuple(pieces[:kept])), *after]


def _amount(pieces: Sequence[Piece]) -> list[Part]:
    unit = pieces[-1].means if pieces[-1].kind == "UNIT" else ""
    return [Part("AMOUNT", unit, tuple(pieces))]


_BUILT: Mapping[str, Callable[[Sequence[Piece]], list[Part]]] = {
    "end_talk": _end_talk,
    "loss": _loss,
    "quality": _quality,
    "limit": _limit,
    "amount": _amount,
}
"""What becomes of a group, by the rule it was read with; all else stands alone."""


def parse(pieces: Sequence[Piece], plain: Sequence[str]) -> list[Part]:
    """Parts of a cut text, in order. Every sequence of pieces parses."""
    grammar = _grammar()
    pieces = _likened(_owned(pieces, plain), plain)
    parts: list[Part] = []
    number = 0
    while number < len(pieces):
        piece, end = pieces[number], number + 1
        if piece.kind not in grammar.open:
            parts.append(Part(piece.kind, piece.means, (piece,)))
            number = end
            continue
        while end < len(pieces) and pieces[end].kind in grammar.hold:
            end += 1
        for rule, size in _groups(tuple([piece.kind for piece in pieces[number:end]])):
            parts += _BUILT.get(rule, _alone)(pieces[number : number + size])
            number += size
    return bare_ends(parts, plain)


def _owned(pieces: Sequence[Piece], plain: Sequence[str]) -> Sequence[Piece]:
    """ "It slides its tail": the end is the car's own and no new subject."""
    if "its" not in plain:
        return pieces
    return [
        piece
        for number, piece in enumerate(pieces)
        if not (
            plain[piece.first] == "its"
            and piece.first == piece.last
            and number
            and pieces[number - 1].kind == "MOVE"
            and pieces[number + 1 : number + 2]
            and pieces[number + 1].kind == "END"
        )
    ]


def _likened(pieces: Sequence[Piece], plain: Sequence[str]) -> Sequence[Piece]:
    """ "The rear feels like it's on ice": the end spoken of is meant, not the whole car."""
    if "like" not in plain:
        return pieces
    return [
        piece
        for number, piece in enumerate(pieces)
        if not (
            piece.kind == "CAR"
            and piece.first
            and plain[piece.first - 1] == "like"
            and any(p.kind == "END" and p.last > piece.first - 6 for p in pieces[max(0, number - 2) : number])
        )
    ]
