"""Words to pieces: the longest phrase the vocabulary knows at each place, each piece with its words."""

from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter

from grammar.spelling import correct
from grammar.tidying import Word
from grammar.vocabulary import Node, Row, Vocabulary, vocabulary

HESITATIONS = frozenset({"uh", "um", "umm", "uhh", "er", "erm", "ah", "eh", "hmm", "mm"})
_STEPPED_OVER = frozenset((word,) for word in HESITATIONS)
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


class Piece:
    """A phrase the vocabulary knows: words `first` to `last`, inclusive; `kind` and `means` are its row's."""

    __slots__ = ("first", "kind", "last", "means", "row")

    def __init__(self, row: Row, first: int, last: int) -> None:
        self.row, self.first, self.last = row, first, last
        self.kind, self.means = row.kind, row.means


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
    known = vocabulary().words
    found: list[Word] = []
    for word in words:
        new = word.plain not in known and word.kind == "word" and word.plain.endswith("s")
        if new and word.end - word.start == len(word.plain) + 1:
            found.append(Word(word.start, word.end - 2, word.plain[:-1], "word"))
            found.append(Word(word.end - 2, word.end, "is", "word"))
        else:
            found.append(word)
    return found


def cut(words: Sequence[Word]) -> Cut:
    """Cut words into pieces, left to right, longest phrase first."""
    table = vocabulary()
    slips = _slips(words, table)
    plain = tuple([slips.get(place, word.plain) for place, word in enumerate(words)])
    keys = [_keys(word.kind, said, table) for word, said in zip(words, plain, strict=True)]
    pieces: list[Piece] = []
    unknown: list[int] = []
    place = 0
    while place < len(words):
        piece = _longest(plain, words, keys, place, table) or _single(words[place], place)
        if piece is None:
            unknown.append(place)
            place += 1
        else:
            pieces.append(piece)
            place = piece.last + 1
    return Cut(tuple(pieces), tuple(unknown), slips, plain)


def _slips(words: Sequence[Word], table: Vocabulary) -> dict[int, str]:
    """Slips of spelling: the place of each and the word meant."""
    slips: dict[int, str] = {}
    for place, word in enumerate(words):
        plain = word.plain
        if plain in _LOSE and place and words[place - 1].plain in _BEFORE_LOOSE:
            slips[place] = "loose"
        elif plain not in table.words and word.kind == "word" and (better := correct(plain)) is not None:
            slips[place] = better
    return slips


def _keys(kind: str, plain: str, table: Vocabulary) -> tuple[str, ...]:
    """What the tree knows a word by: as typed, then its base form; a mark by nothing."""
    if kind == "mark":
        return ()
    base = table.forms.get(plain)
    return (plain,) if base is None or base == plain else (plain, base)


def _single(word: Word, place: int) -> Piece | None:
    if word.kind == "mark":
        return Piece(COMMA if word.plain[0] in ",—–-" else _STOPS, place, place)
    if word.kind == "number":
        return Piece(_NUMBER, place, place)
    return None


def _longest(
    plain: Sequence[str],
    words: Sequence[Word],
    keys: Sequence[tuple[str, ...]],
    place: int,
    table: Vocabulary,
) -> Piece | None:
    """The longest phrase that starts at `place` and whose neighbours do not forbid it."""
    found: list[tuple[int, Row]] = []
    _walk(table.tree, keys, place, found)
    if len(found) > 1:
        found.sort(key=_length, reverse=True)
    for last, row in found:
        if not row.fussy or _fits(row, plain, words, place, last):
            return Piece(row, place, last)
    return None


_length = itemgetter(0)


def _walk(node: Node, keys: Sequence[tuple[str, ...]], place: int, found: list[tuple[int, Row]]) -> None:
    """Follow the tree by the keys of each word; hesitations inside a phrase are stepped over."""
    following = node.next
    for key in keys[place]:
        after = following.get(key)
        if after is not None:
            if after.row is not None:
                found.append((place, after.row))
            if after.filler is not None:
                found.append((place, after.filler))
            if after.next:
                ahead = place + 1
                while ahead < len(keys) and keys[ahead][:1] in _STEPPED_OVER:
                    ahead += 1
                if ahead < len(keys):
                    _walk(after, keys, ahead, found)


def _fits(row: Row, plain: Sequence[str], words: Sequence[Word], first: int, last: int) -> bool:
    """Whether the neighbours of a phrase allow its row."""
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
