"""Short cuts of reading give what the long way gives: checked against the long way, on made-up input."""

import random
from collections.abc import Sequence
from difflib import get_close_matches

import pytest

from grammar import deeds, nearest, parsing, spelling
from grammar.ends import bare_ends
from grammar.errors import TableError
from grammar.lexing import Piece, apart, cut
from grammar.lines import Line
from grammar.parts import Part
from grammar.tidying import tidy
from grammar.vocabulary import Row, vocabulary

LETTERS = "abcdefghijklmnopqrstuvwxyz"


def _seen(parts: Sequence[Part]) -> list[tuple[str, str, int, int, str | None]]:
    return [(part.kind, part.means, part.first, part.last, part.end) for part in parts]


@pytest.mark.parametrize("seed", range(20))
def test_pieces_that_go_past_the_parser_come_out_as_from_the_parser(seed: int) -> None:
    """The whole row of kinds read by phrases.lark at once, against the runs that are read apart."""
    chance = random.Random(seed)
    rows = [row for row in {id(row): row for _, row in vocabulary().phrases}.values() if row.kind != "FILL"]
    joining = [row for row in rows if row.kind in parsing._grammar().hold]
    for _ in range(40):
        chosen: list[Row] = [
            chance.choice(chance.choice((rows, joining))) for _ in range(chance.randint(1, 14))
        ]
        pieces = [Piece(row, place, place) for place, row in enumerate(chosen)]
        plain = tuple("word" for _ in pieces)
        whole: list[Part] = []
        number = 0
        for rule, size in parsing._groups.__wrapped__(tuple(piece.kind for piece in pieces)):
            whole += parsing._BUILT.get(rule, parsing._alone)(pieces[number : number + size])
            number += size
        assert number == len(pieces)
        assert _seen(parsing.parse(pieces, plain)) == _seen(bare_ends(whole, plain))


def _slips(seed: int, count: int) -> list[str]:
    chance = random.Random(seed)
    known = sorted(vocabulary().words)
    found = []
    for _ in range(count):
        word = list(chance.choice(known))
        for _ in range(chance.randint(1, 3)):
            place = chance.randrange(len(word) + 1)
            word[place : place + chance.randint(0, 1)] = chance.choice(("", chance.choice(LETTERS)))
        found.append("".join(word) or "x")
    return found


def test_no_word_within_reach_is_passed_over_for_its_letters() -> None:
    """Against every word worth correcting to, measured one by one."""
    for word in _slips(3, 60):
        for target in spelling._meanings():
            allowed = 1 if len(word) < 8 else 2
            near = target[0] == word[0] or target[1] == word[0]
            if near and spelling.distance(word, target, allowed) <= allowed:
                group = dict(spelling._targets()[len(target), word[0]])
                assert (group[target] ^ spelling.letters(word)).bit_count() <= 2 * allowed, (word, target)


def test_near_words_are_those_of_the_whole_list() -> None:
    """Against difflib over every phrase that may be offered."""
    offered = sorted(phrase for group in nearest._offered().values() for phrase, _ in group)
    for text in (*_slips(5, 12), "zxcv", "the quick brown fox", "under steer"):
        assert list(nearest.known_words_near(text)) == get_close_matches(text, offered, n=3, cutoff=0.75), (
            text
        )


@pytest.mark.parametrize(
    "text",
    [
        "we didnt do it", "havent touched the car, tight off", "was not able to get to it",
        "refused to do it",
        "ran out of time", "there was no time", "did not have enough time for it", "no time",
        "nothing got done",
        "did none of it", "none of that got done", "we left it alone", "left everything as it was",
        "skipped all of it", "the changes arent in", "did all of it", "put in the rest", "got everything",
    ],
)  # fmt: skip
def test_a_deed_is_looked_for_wherever_its_patterns_hold(text: str) -> None:
    """Each pattern of each row on each text, against the words without which its row is not tried."""
    pieces = cut(apart(tidy(text)))
    line = Line(pieces)
    hit = [row for row in deeds._table() if any(pattern.search(line.text) for pattern in row.patterns)]
    assert hit
    assert all(not row.triggers.isdisjoint(pieces.plain) for row in hit)


def test_a_kind_that_the_grammar_lacks_stops_the_start() -> None:
    rules = parsing._grammar().parser.rules
    parsing._check(rules, vocabulary().phrases)
    with pytest.raises(TableError, match="GIZMO"):
        parsing._check(rules, [("gizmo", Row("GIZMO", "gizmo", "x.toml"))])
