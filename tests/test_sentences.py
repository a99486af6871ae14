"""The table of sentences: every row can be worded, in plain text, and says only what a fact can hold."""

import re
from string import Formatter

import pytest

from engine.channels import CHANNELS
from engine.needs import complaints
from engine.refusal import ORDER, REPAIRS
from engine.sheets import shipped_cars
from engine.verdict import Fact
from grammar.reader import read
from service.sentences import ROWS, STOPS, say
from service.words import channel_words, need_words, unit_of

CAR = shipped_cars()["tern-premier"]
NAMES = {
    "channel": "balance/centre/half",
    "side": "balance/centre/half",
    "side_channel": "balance/centre/half",
    "side_unit": "feel",
    "unit": "feel",
    "need": "entry/half",
    "setting": "cross_weight",
    "first": "spring_lr",
    "second": "spring_rr",
    "tyre": "RF",
    "way": "tighter",
    "side_way": "tight",
    "complaint": "bottoming",
    "why": "smoke",
    "label": "Cross-weight",
    "direction": "up",
    "link": "rear split",
    "move": "cross_weight",
    "where": "centre",
}


@pytest.mark.parametrize("kind", [k for k in ROWS if "@" not in k])
def test_every_row_can_be_worded(kind: str) -> None:
    fields = [(name, spec or "") for _, name, spec, _ in Formatter().parse(ROWS[kind]) if name]
    numbers = {name: -1.25 for name, spec in fields if spec}
    names = {
        name.lower(): NAMES.get(name.lower(), "x")
        for name, spec in fields
        if not spec and name not in numbers
    }
    if names.pop("where", None):
        names |= {"phase": "centre", "stage": "half"}
    if kind.startswith("spoils"):
        names |= {"side": NAMES["side"], "channel": NAMES["channel"]}
    text = say(Fact(kind, numbers, names), CAR)
    assert "{" not in text
    assert "  " not in text


def test_every_channel_has_words_and_a_unit() -> None:
    for channel in CHANNELS:
        assert channel_words(channel)
        assert unit_of(channel)


def test_every_stop_the_grammar_knows_is_worded() -> None:
    for why in ("brakes", "wheel", "smoke", "tyre-down", "crash", "fire"):
        assert why in STOPS


def test_needs_are_said_by_place_and_stage() -> None:
    assert need_words("entry/half") == "getting in at half fuel"
    assert need_words("tyre-wear/RF") == "right front tyre wear"


def test_every_member_of_a_clash_and_every_repair_has_a_row() -> None:
    assert set(ORDER) <= set(ROWS)
    assert {f"repair-{kind}" for kind in REPAIRS} <= set(ROWS)


def test_every_check_of_the_table_of_complaints_has_a_row() -> None:
    assert {f"check-{row['check']}" for row in complaints().values() if "check" in row} <= set(ROWS)


@pytest.mark.parametrize(
    "example",
    sorted({e for k, row in ROWS.items() if k.startswith("check-") for e in re.findall("'(.+?)'", row)}),
)
def test_what_a_check_tells_the_driver_to_say_is_understood(example: str) -> None:
    found = read(example)
    assert found.live()
    assert not found.unknown
