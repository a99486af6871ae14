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

from grammar.errors import TableError
from grammar.lexing import Piece
from grammar.vocabulary import Row, vocabulary


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


_AT_END = {("rear", "nervous"), ("rear", "no-grip"), ("front", "no-grip"), ("front", "slow-response")}
"""Complaints that, said of one end of the car, are balance: a nervous rear is loose, a numb front is
tight."""


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
    if tail.kind == "BAL" and tail.row.extra.get("motion") and _WANTS[tail.means] != end.means:
        return [*links, Part("FAULT", "slide", (end, tail), end.means)]
    if tail.kind == "BAL":
        return [*links, Part("BAL", tail.means, (end, tail), end.means)]
    if tail.kind == "SYM" and (end.means, tail.means) not in _AT_END:
        return [*links, Part("SYM", tail.means, (end, tail), end.means)]
    kind = "FAULT" if tail.kind in ("MOVE", "GONE", "SYM", "POOR") else "QUALITY"
    which = "front" if tail.kind == "TURN" else end.means
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
    return _bare_ends(parts, plain)


def _bare_ends(parts: list[Part], plain: Sequence[str]) -> list[Part]:
    """ "No front end", "lost the rear": an end that is missing is its grip missing."""
    for n, part in enumerate(parts):
        if part.kind == "MOVE" and (end := _end_before(parts, n)):
            parts[n] = Part("FAULT", part.means, part.pieces, end)
        elif part.kind == "END" and part.end in ("front", "rear"):
            after = parts[n + 1] if n + 1 < len(parts) else None
            if after is not None and after.kind == "TRAP" and after.extra("doubt"):
                parts[n : n + 2] = [Part("FAULT", "slide", (*part.pieces, *after.pieces), part.end)]
            elif _unable(parts, n, plain):
                parts[n : n + 2] = [parts[n + 1], Part("QUALITY", "grip", part.pieces, part.end)]
            elif _quits(parts, n, plain) or _is_not(parts, n):
                parts[n : n + 2] = [Part("FAULT", "slide", part.pieces, part.end)]
            elif after is not None and after.kind == "VERDICT" and after.means == "worse":
                parts[n] = Part("FAULT", "slide", part.pieces, part.end)
    return [
        _completed(part, n, parts, plain) if part.kind in _COMPLETED else part for n, part in enumerate(parts)
    ]


_COMPLETED = frozenset({"QUALITY", "SYM", "END"})


def _unable(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "The rear tires aren't attached", "the front won't stay with me": whatever an end of the car is denied
    to do, by a word no table knows, it should do. Of one tyre alone it may be its wear or heat."""
    part = parts[number]
    after = parts[number + 1] if number + 1 < len(parts) else None
    if (
        after is None
        or after.kind != "NEG"
        or plain[after.last] not in _DENYING
        or after.first - part.last > 2
    ):
        return False
    behind = number + 2
    while behind < len(parts) and parts[behind].kind in ("STILL", "UP", "CAR"):
        behind += 1
    end = parts[behind].first if behind < len(parts) else len(plain)
    said = end - after.last - 1 - sum(p.kind == "CAR" for p in parts[number + 2 : behind])
    closed = behind >= len(parts) or parts[behind].kind in (
        "MARK",
        "SEP",
        "PHASE",
        "STAGE",
        "PLACE",
        "TRIGGER",
    )
    return said > 0 and closed and not _SINGLE & set(plain[part.first : part.last + 1])


_DENYING = frozenset(
    {"wont", "cant", "cannot", "doesnt", "dont", "isnt", "arent", "aint", "wouldnt", "couldnt"}
)
_SINGLE = frozenset({"left", "right", "lf", "rf", "lr", "rr"})


def _is_not(parts: Sequence[Part], number: int) -> bool:
    """ "The rear follows, the front does not": what one end does well the other does not."""
    after = parts[number + 1 : number + 3]
    if not after or after[0].kind != "NEG" or (len(after) > 1 and after[1].kind not in ("MARK", "SEP")):
        return False
    other = {"front": "rear", "rear": "front"}[str(parts[number].end)]
    return any(part.kind == "QUALITY" and part.end == other for part in parts[:number])


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
        if part.end in ("front", "rear") and part.means != "turn":
            return part.end
    return None


def _missing(part: Part, end: Sequence[str]) -> bool:
    """Whether the part before an end says that the end is missing or wanted; one tyre alone may be wanted
    for its air."""
    if part.kind == "NEED":
        return not {"left", "right", "lf", "rf", "lr", "rr"} & set(end)
    return part.kind in ("LACK", "MORE", "POOR") or (part.kind == "NEG" and part.means == "no")
