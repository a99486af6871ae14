"""Where a speaker draws breath: what was dictated has no marks, so hesitations and new subjects part it."""

from collections.abc import Sequence

from grammar.lexing import COMMA, Piece
from grammar.reach import GIVERS

_LONG = 12
"""Words from which a text without a mark is dictated talk and no note."""
_HEADS = frozenset({"BAL", "MOVE", "SYM", "TURN", "GRIP", "END"})
_HESITATES = frozenset({"um", "uh", "er", "erm", "uhm"})
_SUBJECTS = frozenset({"its", "im", "ive", "shes", "weare", "it", "i", "we"})
_OWN = frozenset({"im", "ive", "its", "i"})
""" "I'm already hanging on": a trouble told with its subject in one phrase."""
_HAD = (("had",), ("got",), ("have",))
""" "The push we had": no new subject."""
_CLINGS = frozenset({"looser", "tighter", "freer", "pushier", "snugger", "worse", "less", "without"})
""" "The longer I run the looser it gets": no new subject."""
_HANGS_ON = frozenset({
    "when", "once", "if", "as", "until", "till", "where", "that", "because", "cause", "so", "soon", "time",
    "second", "before", "after", "while", "and", "but", "or", "then", "like", "think", "say", "said",
    "guess", "mean", "know", "than", "what", "how", "why", "minute", "moment", "though", "now", "unless",
    "since", "whenever",
    "feels", "wish", "way",
})  # fmt: skip


def breathe(pieces: Sequence[Piece], plain: Sequence[str]) -> Sequence[Piece]:
    """The pieces with a comma for each breath, where a text of many words has no mark of its own."""
    pieces = _denied_before(_answered(pieces), plain)
    if len(plain) < _LONG or any(piece.kind == "MARK" for piece in pieces):
        return pieces
    found: list[Piece] = []
    said = False
    opened: int | None = None
    last = 0
    for piece in pieces:
        subject = piece.kind in ("CAR", "CREW") and plain[piece.first] in _SUBJECTS
        subject = subject or (piece.kind in _HEADS and plain[piece.first] in _OWN)
        subject = subject and not (plain[piece.first] == "it" and plain[piece.first - 1] in GIVERS)
        subject = subject and not (piece.kind == "CREW" and plain[piece.last + 1 :][:1] in _HAD)
        subject = subject and not (piece.first and plain[piece.first - 1] in _CLINGS)
        hangs = bool(piece.first) and plain[piece.first - 1] in _HANGS_ON
        if found and not _HESITATES.isdisjoint(plain[last : piece.first]):
            found.append(_comma(piece.first - 1))
            said, opened = False, None
        elif subject and said and hangs and opened is None:
            opened = len(found) - (bool(found) and found[-1].kind == "NEW")
        elif subject and said and not hangs:
            place = _turn(found) if opened is None else opened
            found.insert(place, _comma((found[place] if place < len(found) else piece).first - 1))
            said, opened = False, None
        if piece.kind in _HEADS or piece.kind == "SEP":
            said, opened = piece.kind != "SEP", None
        found.append(piece)
        last = piece.last + 1
    return found


def _turn(found: Sequence[Piece]) -> int:
    """Where the new clause begins: at the "then" behind the last trouble, if there is one."""
    for place in range(len(found) - 1, -1, -1):
        if found[place].kind == "NEW":
            return place
        if found[place].kind in _HEADS or found[place].kind == "MARK":
            break
    return len(found)


def _answered(pieces: Sequence[Piece]) -> Sequence[Piece]:
    """ "No I'm not tight": the answer stands for itself and turns nothing round."""
    opens = len(pieces) > 1 and pieces[0].kind == "NEG" and pieces[0].means == "no" and not pieces[0].first
    if not opens or pieces[1].kind not in ("CAR", "CREW", "NEG") or pieces[0].last > 0:
        return pieces
    return [pieces[0], _comma(0), *pieces[1:]]


def _denied_before(pieces: Sequence[Piece], plain: Sequence[str]) -> Sequence[Piece]:
    """ "It ain't it's tight in": what is denied was said before; the new subject opens a clause."""
    if _DENYING.isdisjoint(plain) or _NEW_SUBJECTS.isdisjoint(plain):
        return pieces
    found: list[Piece] = []
    for piece in pieces:
        before = found[-1] if found else None
        if (
            before is not None
            and before.kind == "NEG"
            and before.first == before.last == piece.first - 1
            and plain[before.first] in _DENYING
            and plain[piece.first] in _NEW_SUBJECTS
        ):
            found.append(_comma(before.last))
        found.append(piece)
    return found


_DENYING = frozenset({"aint", "isnt", "wasnt", "not", "dont", "doesnt"})
_NEW_SUBJECTS = frozenset({"its", "im", "weare", "shes", "hes", "thats"})


def _comma(place: int) -> Piece:
    return Piece(COMMA, max(0, place), max(0, place))
