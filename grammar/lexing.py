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
_Keys = Sequence[tuple[str, ...]]
"""What the vocabulary knows each word by: nothing for a mark, nor behind the last word."""
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
        if word.plain in ("fronts", "rears") and found and found[-1].plain in ("left", "right"):
            new = True
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
    plain = tuple([word.plain for word in words])
    if slips:
        plain = tuple([slips.get(place, word) for place, word in enumerate(plain)])
    keys = [
        () if word.kind == "mark" else table.keys.get(said) or (said,)
        for word, said in zip(words, plain, strict=True)
    ]
    keys.append(())
    pieces: list[Piece] = []
    unknown: list[int] = []
    place = 0
    while place < len(words):
        piece = _longest(words, plain, keys, place, table.tree) or _single(words[place], place)
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
        elif plain == "then" and _compares(words, place):
            slips[place] = "than"
        elif (said := _HEARD_AS.get(plain)) and _before_the_car(words, place, plain):
            slips[place] = said
        elif plain not in table.words and word.kind == "word" and (better := correct(plain)) is not None:
            slips[place] = better
    return slips


def _compares(words: Sequence[Word], place: int) -> bool:
    """ "Tighter through the middle then it was": a slip for "than"."""
    behind = words[place + 1].plain if place + 1 < len(words) else ""
    before = {word.plain for word in words[max(0, place - 5) : place]}
    return behind in ("it", "before", "last") and not before.isdisjoint(_COMPARATIVES)


def _before_the_car(words: Sequence[Word], place: int, plain: str) -> bool:
    """ "On the breaks", "halfway threw the corner": as a machine that listens writes it."""
    before = words[place - 1].plain if place else ""
    behind = words[place + 1].plain if place + 1 < len(words) else ""
    return behind in ("the", "there") if plain == "threw" else before in ("the", "on", "under", "my")


_HEARD_AS = {"threw": "through", "breaks": "brakes", "breaking": "braking", "break": "brake"}


_COMPARATIVES = frozenset({"tighter", "looser", "freer", "better", "worse", "more", "snugger", "pushier"})


def _single(word: Word, place: int) -> Piece | None:
    if word.kind == "mark":
        return Piece(COMMA if word.plain[0] in ",—–-" else _STOPS, place, place)
    if word.kind == "number":
        return Piece(_NUMBER, place, place)
    return None


def _longest(
    words: Sequence[Word], plain: Sequence[str], keys: _Keys, place: int, tree: Node
) -> Piece | None:
    """The longest phrase that starts at `place` and whose neighbours do not forbid it."""
    found: list[tuple[int, Row]] = []
    _walk(tree, keys, place, found)
    if len(found) > 1:
        found.sort(key=itemgetter(0), reverse=True)
    for last, row in found:
        if not row.fussy or _fits(row, words, plain, keys, place, last):
            return Piece(row, place, last)
    return None


def _walk(node: Node, keys: _Keys, place: int, found: list[tuple[int, Row]]) -> None:
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
                while keys[ahead] in _STEPPED_OVER:
                    ahead += 1
                _walk(after, keys, ahead, found)


def _fits(row: Row, words: Sequence[Word], plain: Sequence[str], keys: _Keys, first: int, last: int) -> bool:
    """Whether the neighbours of a phrase allow its row."""
    behind = plain[first - 1] if first and keys[first - 1] else ""
    if behind in row.not_after or (row.only_after and behind not in row.only_after):
        return False
    guarded = row.extra.get("known_next") and last + 1 < len(plain) and words[last + 1].kind == "word"
    if guarded and plain[last + 1] not in vocabulary().words:
        return False
    ahead = _ahead(plain, keys, last + 1) if row.minds.intersection(plain[last + 1 : last + 2]) else []
    if row.only_before and row.only_before.isdisjoint(ahead):
        closed = last + 1 >= len(plain) or not keys[last + 1]
        if not (closed and "" in row.only_before):
            return False
    return row.not_before.isdisjoint(ahead) or not set(ahead).isdisjoint(row.extra.get("though_before", ()))


def _ahead(plain: Sequence[str], keys: _Keys, place: int) -> list[str]:
    """The next word, the next two and the next three, up to a mark."""
    ahead: list[str] = []
    for word, known in zip(plain[place : place + 3], keys[place : place + 3], strict=False):
        if not known:
            break
        ahead.append(f"{ahead[-1]} {word}" if ahead else word)
    return ahead


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
        if bare and kept and kept[-1].kind in _AFTER_CHANGE and not any(p.kind == "BAL" for p in kept[-4:]):
            continue
        kept.append(piece)
    return kept
