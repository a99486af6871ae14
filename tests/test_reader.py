"""Reading: the traps, spans, bounds, questions and their answers."""

import pytest

from grammar.errors import EmptyText, TextTooLong
from grammar.intent import PHASE_GROUPS, PHASES, Symptom
from grammar.reader import answer, read
from grammar.wording import say, say_symptom


def live(text: str) -> list[tuple[str | None, tuple[str, ...], bool]]:
    """Direction, phases and whether they were said, of each live balance symptom."""
    return [(s.direction, s.phases, s.phase_said) for s in read(text).live() if s.kind == "balance"]


def test_the_first_example() -> None:
    reading = read("loose in, tight off at half fuel")

    assert [(s.direction, s.phases, s.stage, s.state) for s in reading.symptoms] == [
        ("loose", PHASE_GROUPS["entry"], "half", "live"),
        ("tight", PHASE_GROUPS["exit"], "half", "live"),
    ]
    assert reading.questions == () and reading.unknown == ()


@pytest.mark.parametrize("text", ["", "   ", "\n\t"])
def test_nothing_to_read(text: str) -> None:
    with pytest.raises(EmptyText):
        read(text)


def test_too_many_characters() -> None:
    with pytest.raises(TextTooLong, match=r"2,001 characters, allowed: 1 to 2,000") as caught:
        read("x" * 2001)

    assert (caught.value.measured, caught.value.allowed, caught.value.unit) == (2001, 2000, "characters")
    read("x" * 2000)


def test_too_many_words() -> None:
    with pytest.raises(TextTooLong, match="201 words"):
        read("go " * 201)
    read("go " * 200)


TRAPS = {
    # reference/vocabulary.md, "Traps", in its order; the sentences are ours.
    "1 one and two is a place": ("loose in one and two", [("loose", PHASES, False)]),
    "1 into one is entry": ("loose into one", [("loose", PHASE_GROUPS["entry"], True)]),
    "2 a request names the opposite": (
        "loosen entry and tighten exit",
        [("tight", PHASE_GROUPS["entry"], True), ("loose", PHASE_GROUPS["exit"], True)],
    ),
    "3 a change made is no symptom": ("we tightened it up", []),
    "4 pretty good is praise": ("it's pretty good in the middle", []),
    "4 pretty loose is a severity": ("it's pretty loose off", [("loose", PHASE_GROUPS["exit"], True)]),
    "5 push hard": ("I was pushing hard to catch him", []),
    "5 push a car": ("I pushed the 22 car down the straight", []),
    "5 lose my fronts": ("I lose my fronts at the end", []),
    "6 off the front row": ("we started off the front row", []),
    "6 middle of the run": ("it was fine in the middle of the run", []),
    "7 not loose until late": ("it was not loose until late", [("loose", PHASES, False)]),
    "7 not any looser": ("it's not any looser", []),
    "7 not as loose": ("it's not as loose", []),
    "9 nothing we do changes it": ("nothing we do changes it", []),
    "10 stop words": ("I've got a loose wheel", []),
    "11 tight belts": ("my belts are too tight", []),
    "13 first then now": (
        "first it was tight off, now it's loose off",
        [("loose", PHASE_GROUPS["exit"], True)],
    ),
}


@pytest.mark.parametrize(("text", "symptoms"), TRAPS.values(), ids=TRAPS)
def test_traps(text: str, symptoms: list[tuple[str, tuple[str, ...], bool]]) -> None:
    assert live(text) == symptoms


@pytest.mark.parametrize(
    ("text", "severity"),
    [
        ("a little too tight off", "slight"),
        ("way too tight off", "severe"),
        ("too tight off", "plain"),
        ("tight off", "plain"),
    ],
)
def test_the_word_beside_too_decides(text: str, severity: str) -> None:
    """Trap 8."""
    assert [s.severity for s in read(text).symptoms] == [severity]


@pytest.mark.parametrize(
    ("text", "unit"),
    [("water is 240", "F"), ("water is 95", "C"), ("rf pressure 30", "psi"), ("rf pressure 210", "kPa")],
)
def test_the_size_of_a_bare_number_tells_its_unit(text: str, unit: str) -> None:
    """Trap 12: 240 °F and 95 °C are both hot water; 30 psi and 210 kPa are both race pressures."""
    (measured,) = read(text).measurements

    assert measured.unit == unit


def test_a_number_that_could_be_either_unit_is_asked_about() -> None:
    reading = read("tire temps rf 110")
    (question,) = reading.questions

    assert reading.measurements[0].unit is None
    assert question.about == "unit" and [c.answer for c in question.choices] == ["F", "C"]
    assert answer(reading, "celsius").measurements[0].unit == "C"


@pytest.mark.parametrize(
    ("reply", "phases"),
    [
        ("entry", PHASE_GROUPS["entry"]),
        ("in", PHASE_GROUPS["entry"]),
        ("off", PHASE_GROUPS["exit"]),
        ("centre", ("centre",)),
        ("in the middle", ("centre",)),
        ("everywhere", PHASES),
        ("mostly off the corner", PHASE_GROUPS["exit"]),
        ("it's tight off", PHASE_GROUPS["exit"]),
    ],
)
def test_a_short_answer_completes_the_open_complaint(reply: str, phases: tuple[str, ...]) -> None:
    open_reading = read("it's a little tight on the long run")
    done = answer(open_reading, reply)

    assert [q.about for q in open_reading.questions] == ["phase"]
    assert [(s.direction, s.phases, s.phase_said, s.severity, s.stage) for s in done.symptoms] == [
        ("tight", phases, True, "slight", "late")
    ]
    assert done.questions == ()


def test_every_choice_offered_is_an_answer() -> None:
    for text in ("tight", "it's not good in the middle"):
        reading = read(text)
        for choice in reading.questions[0].choices:
            assert answer(reading, choice.answer).questions == (), (text, choice)


def test_another_complaint_in_place_of_an_answer_is_read_afresh() -> None:
    done = answer(read("tight"), "no, it's loose in")

    assert [(s.direction, s.phases) for s in done.live()] == [("loose", PHASE_GROUPS["entry"])]


def test_trouble_without_a_direction_is_asked_about_and_not_guessed() -> None:
    reading = read("it's not good in the middle")

    assert reading.live() == ()
    assert [q.about for q in reading.questions] == ["direction"]
    assert [(s.direction, s.phases) for s in answer(reading, "loose").live()] == [("loose", ("centre",))]


@pytest.mark.parametrize(
    ("text", "phases"),
    [
        ("man, I can't get to the throttle", ("exit-first-throttle",)),
        ("I have to feather it off four", PHASE_GROUPS["exit"]),
        ("good in but I have to wait to get back on the gas", ("exit-first-throttle",)),
    ],
)
def test_what_the_car_makes_the_driver_do_asks_which_way_and_keeps_its_place(
    text: str, phases: tuple[str, ...]
) -> None:
    reading = read(text)

    assert [q.about for q in reading.questions] == ["direction"]
    assert [(s.direction, s.phases) for s in answer(reading, "tight").live()] == [("tight", phases)]


def test_a_denial_no_table_knows_is_asked_about_beside_praise() -> None:
    reading = read("nice car, but late in the run I can't get it to bloom in the middle")

    assert [q.about for q in reading.questions] == ["direction"]
    assert [(s.direction, s.phases) for s in answer(reading, "tight").live()] == [("tight", ("centre",))]
    assert read("nice car, I can't believe it").questions == ()


@pytest.mark.parametrize(("reply", "quantity"), [("wear", "tyre-wear"), ("pressure", "tyre-pressure")])
def test_a_bare_number_beside_a_tyre_is_asked_about(reply: str, quantity: str) -> None:
    reading = read("RF 22 RR 14")

    assert reading.measurements == () and reply in [c.answer for c in reading.questions[0].choices]
    assert [(m.quantity, m.tyre, m.values) for m in answer(reading, reply).measurements] == [
        (quantity, "RF", (22.0,)),
        (quantity, "RR", (14.0,)),
    ]


def test_minutes_and_seconds_are_a_lap_time() -> None:
    assert [(m.quantity, m.values, m.unit) for m in read("lap time 1:02.3").measurements] == [
        ("lap-time", (62.3,), "s")
    ]


def test_nothing_understood_points_at_the_place_and_offers_words() -> None:
    (question,) = read("underster").questions or read("frobnicate").questions
    (question,) = read("frobnicate").questions

    assert question.about == "meaning"
    assert question.span is not None and question.span.text == "frobnicate"
    assert question.choices


def test_a_correction_is_shown() -> None:
    reading = read("tihgt in the cneter")

    assert [(c.span.text, c.read_as) for c in reading.corrections] == [
        ("tihgt", "tight"),
        ("cneter", "center"),
    ]
    assert live("tihgt in the cneter") == [("tight", ("centre",), True)]


def test_a_stop_word_is_not_questioned() -> None:
    reading = read("it's tight and the brakes are gone")

    assert reading.stop == "brakes" and reading.questions == ()


@pytest.mark.parametrize("text", ["almost hit the wall", "he hit the wall", "not on fire"])
def test_a_stop_that_did_not_happen_to_us(text: str) -> None:
    assert read(text).stop is None


def _all_symptoms() -> list[Symptom]:
    from grammar.intent import Span

    spots = (
        *(PHASE_GROUPS.values()),
        PHASES,
        ("centre", *PHASE_GROUPS["exit"]),
        ("entry-braking",),
        ("exit-full-throttle",),
    )
    return [
        Symptom("balance", way, spot, True, None, severity, stage, state, None, None, Span(0, 0, ""))
        for way in ("tight", "loose")
        for spot in spots
        for severity in ("slight", "plain", "severe")
        for stage in ("start", "half", "late", None)
        for state in ("live", "gone", "feared")
    ]


@pytest.mark.parametrize("direction", ["tight", "loose"])
def test_wording_reads_back_to_the_same_symptom(direction: str) -> None:
    for symptom in _all_symptoms():
        if symptom.direction != direction:
            continue
        reading = read(say_symptom(symptom))
        (found,) = reading.symptoms

        assert (found.direction, found.phases, found.stage, found.state) == (
            symptom.direction,
            symptom.phases,
            symptom.stage,
            symptom.state,
        )
        assert say(reading) == say_symptom(found)


@pytest.mark.parametrize(
    ("text", "stages"),
    [
        ("tight off on fresh tires, okay later", ("late",)),
        ("fine at the start, pushes in the middle at the end", ("start",)),
        ("loose off on long run, good on fresh tires", ("start",)),
        ("tight off late, not good early", ()),
        ("tight off all run, good car otherwise", ()),
        ("good all run", ()),
    ],
)
def test_a_run_stage_called_good_is_heard_beside_a_complaint(text: str, stages: tuple[str, ...]) -> None:
    assert read(text).good_stages == stages
