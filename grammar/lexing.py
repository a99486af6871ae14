"""Words to pieces: the longest phrase the vocabulary knows at each place, each piece with its words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from grammar.spelling import correct
from grammar.tidying import Word
from grammar.vocabulary import Node, Row, Vocabulary, vocabulary

HESITATIONS = frozenset({"uh", "um", "umm", "uhh", "er", "erm", "ah", "eh", "hmm", "mm"})
_LOSE = frozenset({"lose", "looser's", "losse"})
_BEFORE_LOOSE = frozenset(
    [
        "its",
        "is",
        "im",
        "was",
        "were",
        "little",
        "bit",
        "touch",
        "hair",
        "too",
        "really",
        "so",
        "very",
        "pretty",
        "super",
        "way",
        "real",
        "still",
        "gets",
        "felt",
        "feels",
        "shes",
        "be",
    ]
)
"""After these "lose" can only be a slip for "loose" ("its lose off"); "lose my fronts" stays as it is."""
_STOPS = Row("MARK", "stop", "tidying")
COMMA = Row("MARK", "comma", "tidying")
_NUMBER = Row("NUM", "number", "tidying")


class Piece(NamedTuple):
    """A phrase the vocabulary knows: words `first` to `last` (inclusive)."""

    row: Row
    first: int
    last: int

    @property
    def kind(self) -> str:
        return self.row.kind

    @property
    def means(self) -> str:
        return self.row.means


@dataclass(frozen=True, slots=True)
class Cut:
    """A text cut into pieces; `unknown` are places of words no table has, `slips` corrected ones (place →
    read as)."""

    pieces: tuple[Piece, ...]
    unknown: tuple[int, ...]
    slips: dict[int, str]
    plain: tuple[str, ...]


def apart(words: Sequence[Word]) -> list[Word]:
    """ "The hood's loose": a word with 's that no table has is the word and "is"."""
    table = vocabulary()
    found: list[Word] = []
    for word in words:
        short = word.kind == "word" and word.plain.endswith("s")
        if short and word.end - word.start == len(word.plain) + 1 and word.plain not in table.words:
            found.append(Word(word.start, word.end - 2, word.plain[:-1], "word"))
            found.append(Word(word.end - 2, word.end, "is", "word"))
        else:
            found.append(word)
    return found


def cut(words: Sequence[Word]) -> Cut:
    """Cut words into pieces, left to right, longest phrase first."""
    table = vocabulary()
    slips: dict[int, str] = {}
    plain = tuple(_spelled(place, words, table, slips) for place in range(len(words)))
    pieces: list[Piece] = []
    unknown: list[int] = []
    place = 0
    while place < len(words):
        piece = _longest(plain, words, place, table) or _single(words[place], place)
        if piece is None:
            unknown.append(place)
            place += 1
        else:
            pieces.append(piece)
            place = piece.last + 1
    return Cut(tuple(pieces), tuple(unknown), slips, plain)


def _spelled(place: int, words: Sequence[Word], table: Vocabulary, slips: dict[int, str]) -> str:
    word = words[place]
    if word.plain in _LOSE and place and words[place - 1].plain in _BEFORE_LOOSE:
        slips[place] = "loose"
        return "loose"
    if word.kind != "word" or word.plain in table.words:
        return word.plain
    better = correct(word.plain)
    if better is None:
        return word.plain
    slips[place] = better
    return better


def _single(word: Word, place: int) -> Piece | None:
    if word.kind == "mark":
        return Piece(COMMA if word.plain[0] in ",—–-" else _STOPS, place, place)
    if word.kind == "number":
        return Piece(_NUMBER, place, place)
    return None


def _longest(plain: Sequence[str], words: Sequence[Word], place: int, table: Vocabulary) -> Piece | None:
    """The longest phrase that starts at `place` and whose neighbours do not forbid it."""
    found: list[tuple[int, Row]] = []
    _walk(table.tree, plain, words, place, table, found)
    found.sort(key=lambda hit: -hit[0])
    for last, row in found:
        if _fits(row, plain, words, place, last):
            return Piece(row, place, last)
    return None


def _walk(
    node: Node,
    plain: Sequence[str],
    words: Sequence[Word],
    place: int,
    table: Vocabulary,
    found: list[tuple[int, Row]],
) -> None:
    """Follow the tree by the word as typed, then by its base form; hesitations inside a phrase are stepped
    over."""
    if place >= len(plain) or words[place].kind == "mark":
        return
    word = plain[place]
    if word in HESITATIONS and node is not table.tree:
        _walk(node, plain, words, place + 1, table, found)
        return
    base = table.forms.get(word, word)
    for key in (word,) if base == word else (word, base):
        if (after := node.next.get(key)) is not None:
            found.extend((place, row) for row in (after.row, after.filler) if row is not None)
            if after.next:
                _walk(after, plain, words, place + 1, table, found)


def _fits(row: Row, plain: Sequence[str], words: Sequence[Word], first: int, last: int) -> bool:
    """Whether the neighbours of a phrase allow its row."""
    if not row.fussy:
        return True
    ahead: set[str] = set()
    guarded = row.extra.get("known_next") and last + 1 < len(plain) and words[last + 1].kind == "word"
    if guarded and plain[last + 1] not in vocabulary().words:
        return False
    for place in range(last + 1, min(last + 4, len(plain))):
        if words[place].kind == "mark":
            break
        ahead.add(" ".join(plain[last + 1 : place + 1]))
    behind = plain[first - 1] if first and words[first - 1].kind != "mark" else ""
    if row.only_before and not row.only_before & ahead:
        return False
    if row.only_after and behind not in row.only_after:
        return False
    if row.not_before & ahead and ahead.isdisjoint(row.extra.get("though_before", ())):
        return False
    return behind not in row.not_after


_AFTER_CHANGE = frozenset({"SETTING", "UNIT", "NUM"})


def meaningful(pieces: Cut) -> list[Piece]:
    """Pieces without filler; "in" and "off" behind a setting or an amount ("put a round in") are filler
    too."""
    kept: list[Piece] = []
    for piece in pieces.pieces:
        if piece.kind == "FILL":
            continue
        bare = (
            piece.kind == "PHASE"
            and piece.first == piece.last
            and pieces.plain[piece.first] in ("in", "off", "out")
        )
        if bare and kept and kept[-1].kind in _AFTER_CHANGE:
            continue
        kept.append(piece)
    return kept
