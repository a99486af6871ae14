"""One question at a time: what must be asked before the complaint can be answered."""

import re
from collections.abc import Sequence
from dataclasses import replace

from grammar.intent import Choice, Question, Reading, Span
from grammar.nearest import known_words_near

PHASE_CHOICES = (
    Choice("entry", "getting in"),
    Choice("centre", "in the middle"),
    Choice("exit", "coming off"),
    Choice("everywhere", "all the way through"),
)
DIRECTION_CHOICES = (
    Choice("tight", "tight: the front will not turn"),
    Choice("loose", "loose: the rear wants to come around"),
)
_UNIT_CHOICES = {
    "temperature": (Choice("F", "degrees Fahrenheit"), Choice("C", "degrees Celsius")),
    "pressure": (
        Choice("psi", "psi"),
        Choice("kPa", "kilopascal"),
        Choice("bar", "bar"),
    ),
}
_STARTERS = (
    "loose in",
    "tight in the middle",
    "loose off",
    "a little tight everywhere",
)


def ask(reading: Reading, doubts: Sequence[Span] = ()) -> Reading:
    """The reading with the one question that matters most, if any. `doubts` are places that speak of trouble
    without saying which way. A reading that says stop is not questioned."""
    question = None if reading.stop else _question(reading, doubts)
    if question is None and not reading.questions:
        return reading
    return replace(reading, questions=(question,) if question else ())


def _question(reading: Reading, doubts: Sequence[Span]) -> Question | None:
    for symptom in reading.live():
        if symptom.kind == "balance" and not symptom.phase_said:
            return Question(
                "phase",
                f"Where in the corner is it {symptom.direction}?",
                PHASE_CHOICES,
                symptom.span,
            )
    for measurement in reading.measurements:
        if measurement.unit is None:
            what = measurement.quantity.replace("-", " ")
            choices = next(
                (c for key, c in _UNIT_CHOICES.items() if key in measurement.quantity),
                (),
            )
            return Question(
                "unit",
                f"In what unit is the {what} {measurement.span.text}?",
                choices,
                measurement.span,
            )
    if doubts and not reading.live():
        return Question("direction", "Is it tight or loose there?", DIRECTION_CHOICES, doubts[0])
    if not _anything(reading):
        return _number(reading) or _meaning(reading)
    return None


def _anything(reading: Reading) -> bool:
    found = (
        reading.symptoms,
        reading.outcomes,
        reading.measurements,
        reading.limits,
        reading.requests,
        reading.good,
    )
    return any(found) or reading.driver


_NUMBER_CHOICES = (
    Choice("pressure", "pressure"),
    Choice("temperature", "temperature"),
    Choice("wear", "wear"),
)
_TYRE_NUMBER = re.compile(
    r"\b(?:[lr][fr]|(?:right|left) (?:front|rear)|fronts?|rears?)\b[^\d.,;!?]{0,20}(\d+(?:\.\d+)?)",
    re.IGNORECASE,
)


def _number(reading: Reading) -> Question | None:
    """A bare number beside a tyre ("RF 22 RR 14"): what it measures is asked, not guessed."""
    found = _TYRE_NUMBER.search(reading.text)
    if found is None or reading.unknown:
        return None
    span = Span(found.start(), found.end(), found.group())
    return Question(
        "meaning", f"What is {found.group()!r}: pressure, temperature or wear?", _NUMBER_CHOICES, span
    )


def _meaning(reading: Reading) -> Question:
    """Nothing understood: point at the first unknown words and offer the nearest known ones, or ways to
    start."""
    place = reading.unknown[0] if reading.unknown else None
    near = known_words_near(place.text) if place else ()
    choices = tuple(Choice(word, word) for word in near or _STARTERS)
    said = (
        f"I do not know what {place.text!r} means for the car." if place else "I found no complaint in that."
    )
    return Question("meaning", f"{said} What does the car do?", choices, place)
