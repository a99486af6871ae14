"""The vocabulary tables: loaded, checked, and free of words that would drop a meaning."""

import pytest

from grammar.errors import TableError
from grammar.spelling import correct, distance
from grammar.vocabulary import build, vocabulary


def test_a_phrase_claimed_twice_stops_the_start_and_names_both() -> None:
    rows = [
        {"means": "tight", "say": ["stiff in the nose"]},
        {"means": "loose", "say": ["stiff in the nose"]},
    ]

    with pytest.raises(TableError, match=r"claimed by a\.toml \(tight\) and by a\.toml \(loose\)") as caught:
        build({"a.toml": {"kind": "BAL", "row": rows}})

    assert (caught.value.file, caught.value.phrase) == ("a.toml", "stiff in the nose")


def test_a_form_of_two_words_stops_the_start() -> None:
    with pytest.raises(TableError, match="is a form of both 'lay' and 'lie'"):
        build({"forms.toml": {"lay": ["laid"], "lie": ["laid"]}})


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ({"say": ["x"]}, "has no 'means'"),
        ({"means": "x"}, "has no 'say'"),
        ({"means": "x", "say": "not a list"}, "needs a kind and a list"),
        ({"means": "x", "say": ["<nobody> slides"]}, "names the class 'nobody'"),
    ],
)
def test_a_malformed_row_stops_the_start(row: dict[str, object], problem: str) -> None:
    with pytest.raises(TableError, match=problem):
        build({"a.toml": {"kind": "BAL", "row": [row]}})


def test_alternatives_options_and_classes_are_expanded() -> None:
    rows = [{"means": "x", "say": ["[very] (hot|cold) <end>"]}]
    table = build({"a.toml": {"kind": "A", "row": rows}, "classes.toml": {"end": ["nose", "tail"]}})

    assert {phrase for phrase, _ in table.phrases} == {
        f"{very}{heat} {end}"
        for very in ("", "very ")
        for heat in ("hot", "cold")
        for end in ("nose", "tail")
    }


def test_filler_holds_no_word_of_direction_denial_or_place() -> None:
    """Filler is ignored, so a word that alone says tight, loose, not, where or when must not be filler."""
    table = vocabulary()
    filler = {phrase for phrase, row in table.phrases if row.kind == "FILL"}
    telling = {
        phrase
        for phrase, row in table.phrases
        if row.kind in ("BAL", "NEG", "LACK", "STAGE", "MOVE", "SYM", "STOP", "LESS", "FEAR")
        and not row.fussy
    }

    assert filler & telling == set()


@pytest.mark.parametrize(
    ("slip", "word"),
    [
        ("tihgt", "tight"),
        ("losoe", "loose"),
        ("understeeer", "understeer"),
        ("cneter", "center"),
        ("midlle", "middle"),
    ],
)
def test_a_slip_is_read_as_the_nearest_word(slip: str, word: str) -> None:
    assert correct(slip) == word


@pytest.mark.parametrize(
    "word", ["light", "night", "right", "might", "lose", "goose", "house", "close", "those", "bush"]
)
def test_an_english_word_is_never_taken_for_a_slip(word: str) -> None:
    assert correct(word) is None


def test_no_correction_makes_or_removes_a_denial() -> None:
    denials = {word for phrase, row in vocabulary().phrases if row.kind == "NEG" for word in phrase.split()}
    others = {
        word
        for phrase, row in vocabulary().phrases
        if row.kind not in ("NEG", "FILL")
        for word in phrase.split()
    }

    for word in denials - others:
        for slip in (word[1:], word + "e", word[:-1]):
            assert correct(slip) not in denials - others


@pytest.mark.parametrize(
    ("a", "b", "gap"),
    [("tight", "tight", 0), ("tihgt", "tight", 1), ("tigt", "tight", 1), ("loose", "lose", 1)],
)
def test_distance_counts_insertions_changes_and_swaps(a: str, b: str, gap: int) -> None:
    """Optimal string alignment distance, counted by hand."""
    assert distance(a, b, 3) == gap
    assert distance(b, a, 3) == gap
