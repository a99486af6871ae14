"""Completion: what may come next, from the text before the cursor."""

import pytest

from grammar.completion import complete
from grammar.reader import read


@pytest.mark.parametrize(
    ("text", "word"),
    [("ti", "tight"), ("loose in and ti", "tight"), ("underst", "understeer"), ("w", "wedge")],
)
def test_an_unfinished_word_is_finished(text: str, word: str) -> None:
    assert word in complete(text)


def test_after_a_balance_word_come_places() -> None:
    assert complete("the car is loose ")[:2] == ["in", "off"]


def test_an_empty_line_offers_a_start() -> None:
    assert "loose" in complete("")


@pytest.mark.parametrize("text", ["", " ", "x\x00", "loose ", "‮", "é" * 50, "1 2 3 ", "(", "\n"])
def test_anything_gives_at_most_a_dozen_and_no_repeats(text: str) -> None:
    offers = complete(text)

    assert len(offers) <= 12 and len(set(offers)) == len(offers)


@pytest.mark.parametrize("start", list("abcdefghilmnoprstuvw"))
def test_every_offer_is_known_to_the_reader(start: str) -> None:
    for offer in complete(start):
        assert offer.startswith(start)
        assert read(offer).unknown == ()
