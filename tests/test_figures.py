"""Figures read off the car: how they are said, what is asked about them, what a difference asks for."""

from itertools import permutations

import pytest

from engine.car import Limits
from engine.measured import weigh
from grammar.counting import number_at
from grammar.reader import answer, read

LIMITS = Limits(water_temperature=245.0, top_rpm=8600.0)
SPOKEN = {
    "two forty five": 245,
    "two ten": 210,
    "one oh five": 105,
    "a hundred and ninety": 190,
    "seventy two hundred": 7200,
    "nine thousand four hundred": 9400,
    "thirty point two": 30.2,
    "fifteen forty two": 15.42,
    "six and a half": 6.5,
    "half a pound": 0.5,
    "twenty five": 25,
    "3/8": 0.375,
    "1:05.3": 65.3,
}
"""As numbers are said in the pits (common practice, no source): "two forty five" is one number."""


@pytest.mark.parametrize(("said", "value"), SPOKEN.items())
def test_spoken_numbers(said: str, value: float) -> None:
    found = number_at(tuple(said.split()), 0)

    assert found is not None
    assert found[0] == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "asked", "reply", "quantity", "tyre"),
    [
        ("it was 230", "meaning", "water", "water-temperature", None),
        ("right front came in at 250", "meaning", "temperature", "tyre-temperature", "RF"),
        ("pressure was 48", "tyre", "right front", "tyre-pressure", "RF"),
        ("RF 22", "meaning", "wear", "tyre-wear", "RF"),
    ],
)
def test_a_number_nobody_can_place_is_asked_about(
    text: str, asked: str, reply: str, quantity: str, tyre: str | None
) -> None:
    reading = read(text)

    assert [question.about for question in reading.questions] == [asked]
    (measured,) = answer(reading, reply).measurements
    assert (measured.quantity, measured.tyre) == (quantity, tyre)


NAMES = {
    "inside": ("inside", "inside edge", "inner edge"),
    "middle": ("middle", "center"),
    "outside": ("outside",),
}
TYRES = {"LF": "left front", "RF": "right front", "LR": "LR", "RR": "right rear"}
ORDERS = (
    "{tyre} is {a} {x} {b} {y} and {c} {z}",
    "{a} {x}, {b} {y}, {c} {z} on the {tyre}",
    "the {x} of the {tyre} is {a}, {y} {b}, {z} {c}",
    "{x} {a} {y} {b} {z} {c} on the {tyre}",
    "on the {tyre} we had {a} on the {x}, {b} on the {y} and {c} on the {z}",
)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("points", list(permutations(NAMES)))
def test_points_in_any_order_are_inside_middle_outside(order: str, points: tuple[str, ...]) -> None:
    """The contract of a reading: three temperatures stand inside, middle, outside, however said."""
    values = {"inside": 240.0, "middle": 225.0, "outside": 210.0}
    for tyre, said in TYRES.items():
        for turn in range(3):
            x, y, z = (NAMES[point][turn % len(NAMES[point])] for point in points)
            a, b, c = (f"{values[point]:g}" for point in points)
            text = order.format(tyre=said, x=x, y=y, z=z, a=a, b=b, c=c)

            assert [(m.tyre, m.values) for m in read(text).measurements] == [
                (tyre, tuple(values.values()))
            ], text


@pytest.mark.parametrize("number", ["48", "63", "118", "230", "1.5", "two forty"])
@pytest.mark.parametrize(
    "text",
    [
        "right front {}",
        "it was {}",
        "tight off and the right rear is {}",
        "{} on the left",
        "we had {} over there",
    ],
)
def test_no_number_of_a_tyre_disappears(text: str, number: str) -> None:
    reading = read(text.format(number))

    unknown = {word for span in reading.unknown for word in span.text.split()}
    told = (*reading.measurements, *reading.requests, *reading.outcomes, *reading.limits)
    assert told or unknown & set(number.split())


def test_a_small_number_beside_a_tyre_is_asked_about_too() -> None:
    assert [question.about for question in read("right front 7").questions] == ["meaning"]
    assert [span.text for span in read("right front 7").unknown] == ["7"]


def test_four_pressures_are_asked_for_their_order() -> None:
    reading = read("hot pressures 31 48 30 46")

    assert [question.about for question in reading.questions] == ["tyre"]
    measured = answer(reading, "LF LR RF RR").measurements
    assert [(m.tyre, m.values) for m in measured] == [
        ("LF", (31.0,)),
        ("LR", (48.0,)),
        ("RF", (30.0,)),
        ("RR", (46.0,)),
    ]


def test_a_number_that_is_left_over_is_not_called_understood() -> None:
    reading = read("tight in the middle, right front was 238")

    assert "238" in [span.text for span in reading.unknown]
    assert reading.questions


@pytest.mark.parametrize(
    "text",
    [
        "tight off two after 15 laps",
        "we're a seven out of ten loose in",
        "put 25 in the right rear",
        "car 48 is loose",
    ],
)
def test_a_number_that_counts_something_else_is_no_figure(text: str) -> None:
    assert read(text).measurements == ()


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("the right front wore 9 percent more than the right rear", -1),
        ("the right rear wore 9 percent more than the right front", 1),
    ],
)
def test_a_difference_in_wear_asks_for_the_same_as_the_two_figures(text: str, sign: int) -> None:
    """The tyre worn more is at the end that slides: a worn right front asks for a looser car, as in
    `engine.measured` (S63 and common practice)."""
    (need,) = weigh(read(text).measurements, {}, LIMITS, dict).needs

    assert need.target * sign > 0


def test_other_differences_ask_for_nothing_and_that_is_said() -> None:
    texts = (
        "right rear is 25 hotter than the left rear",
        "right front built 11 pounds",
        "oil's 20 hotter than the water",
    )
    for text in texts:
        measured = weigh(read(text).measurements, {}, LIMITS, dict)
        assert (measured.needs, measured.tries) == ((), ())
        assert all(kind.startswith("measured-noted") for kind, _, _ in measured.told)


def test_edges_alone_ask_for_camber_and_say_nothing_of_the_air() -> None:
    """A right front hotter outside wants more lean (S52 for the sense)."""
    outside = weigh(
        read("the outside of the right front is 240 and the inside 200").measurements, {}, LIMITS, dict
    )
    even = weigh(
        read("the outside of the right front is 202 and the inside 205").measurements, {}, LIMITS, dict
    )

    assert [key for one in outside.tries for key, _ in one.options] == ["camber_rf"]
    assert even.tries == ()
