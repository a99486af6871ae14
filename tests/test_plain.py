"""Plain data is what the standard library's `dataclasses.asdict` gives: the logbook's format hangs on it."""

import json
from dataclasses import asdict

import pytest

from engine.learning import Heard, Push
from grammar.reader import read
from service.plain import plain


@pytest.mark.parametrize(
    "text",
    [
        "really loose in, tight off at half fuel but not the wedge",
        "better in but still tight off, went halfway on the wedge",
        "hot right front 35 psi, run a 1.25 bar",
        "tight",
    ],
)
def test_a_reading_is_written_as_the_standard_library_writes_it(text: str) -> None:
    reading = read(text)
    assert plain(reading) == asdict(reading)
    assert json.dumps(plain(reading)) == json.dumps(asdict(reading))


def test_pushes_and_what_was_heard_too() -> None:
    for one in (Push("front_bar", 1.0, (0.5,) * 15, (0.4,) * 5), Heard((0, 1), -0.5, 0.5)):
        assert plain(one) == asdict(one)


def test_other_things_are_handed_on() -> None:
    data = {"a": [1, 2]}
    assert plain(data) is data
