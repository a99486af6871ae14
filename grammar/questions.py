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


def ask(
    reading: Reading, doubts: Sequence[Span] = (), numbers: Sequence[Span] = (), bare: Sequence[Span] = ()
) -> Reading:
    """The reading with the one question that matters most, if any. `doubts` are places that speak of trouble
    without saying which way, `numbers` figures of a tyre that nothing was made of, `bare` other
    numbers. A reading that says stop is not questioned."""
    question = None if reading.stop else _question(reading, doubts, numbers, bare)
    if question is None and not reading.questions:
        return reading
    return replace(reading, questions=(question,) if question else ())


def _question(
    reading: Reading, doubts: Sequence[Span], numbers: Sequence[Span], bare: Sequence[Span]
) -> Question | None:
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
    if (question := _tyre(reading)) is not None:
        return question
    if numbers:
        return _number(numbers[0])
    if doubts and not reading.live():
        return Question("direction", "Is it tight or loose there?", DIRECTION_CHOICES, doubts[0])
    if bare and not any(s.kind == "balance" for s in reading.live()) and _alone(bare, reading):
        return _number(bare[0])
    if not _anything(reading):
        return _meaning(reading)
    return None


_ORDERS = (
    Choice("LF RF LR RR", "left front, right front, left rear, right rear"),
    Choice("LF LR RF RR", "left front, left rear, right front, right rear"),
)
_TYRES = (
    Choice("RF", "right front"),
    Choice("RR", "right rear"),
    Choice("LF", "left front"),
    Choice("LR", "left rear"),
)


def _tyre(reading: Reading) -> Question | None:
    """Which tyre a figure is of, or in which order four of them are."""
    for one in reading.measurements:
        if one.tyre or not one.quantity.startswith("tyre-") or (reading.live() and len(one.values) != 4):
            continue
        what = one.quantity.replace("tyre-", "")
        if len(one.values) == 4:
            return Question("tyre", f"In which order are the {what}s {one.span.text}?", _ORDERS, one.span)
        return Question("tyre", f"Which tyre's {what} is {one.span.text}?", _TYRES, one.span)
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


_OF_TYRES = (Choice("pressure", "pressure"), Choice("temperature", "temperature"), Choice("wear", "wear"))
_OF_ENGINE = (
    Choice("water", "water temperature"),
    Choice("oil", "oil temperature"),
    Choice("temperature", "tyre temperature"),
    Choice("pressure", "tyre pressure"),
)
_TYRE = re.compile(
    r"\b(?:[lr][fr]|(?:right|left) (?:front|rear)|fronts?|rears?|rights?|lefts?)\b", re.IGNORECASE
)
_HOT_ENGINE = range(140, 321)
"""degF that a bare number may be of an engine; sizes common practice."""


def _number(span: Span) -> Question:
    """A bare number ("RF 22 RR 14", "it was 230"): what it measures is asked, not guessed."""
    digits = re.search(r"\d+", span.text)
    engine = digits is not None and int(digits.group()) in _HOT_ENGINE
    choices = _OF_TYRES if _TYRE.search(span.text) or not engine else _OF_ENGINE
    if "deg" in span.text.lower() and not _TYRE.search(span.text):
        choices = _OF_ENGINE[:3]
    labels = [choice.label for choice in choices]
    asked = f"{', '.join(labels[:-1])} or {labels[-1]}"
    return Question("meaning", f"What is {span.text!r}: {asked}?", choices, span)


def _alone(bare: Sequence[Span], reading: Reading) -> bool:
    """Whether a number has a unit, or nothing else of the text is not understood."""
    if any(" " in span.text for span in bare):
        return True
    return all(any(b.start <= span.start < b.end for b in bare) for span in reading.unknown)


_THANKS = re.compile(
    r"\b(?:thanks?|copy|roger|ten[- ]four|10-4|appreciate|obliged|cheers|(?:good|great|nice) (?:job|work))\b",
    re.IGNORECASE,
)


def _meaning(reading: Reading) -> Question:
    """Nothing understood: point at the first unknown words and offer the nearest known ones, or ways to
    start."""
    place = reading.unknown[0] if reading.unknown else None
    near = known_words_near(place.text) if place else ()
    choices = tuple(Choice(word, word) for word in near or _STARTERS)
    if place is None and _THANKS.search(reading.text):
        return Question("meaning", "Copy. What does the car do?", choices, None)
    said = (
        f"I do not know what {place.text!r} means for the car." if place else "I found no complaint in that."
    )
    return Question("meaning", f"{said} What does the car do?", choices, place)
