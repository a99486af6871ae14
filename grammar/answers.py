"""Completing an open reading: pure steps that `reader.answer` takes once the short answer has been read."""

from dataclasses import replace

from grammar.intent import Reading, Symptom

_UNITS = {
    "f": "F",
    "fahrenheit": "F",
    "c": "C",
    "celsius": "C",
    "psi": "psi",
    "kpa": "kPa",
    "bar": "bar",
}


def with_phases(open_reading: Reading, phases: tuple[str, ...]) -> Reading:
    """The first live balance symptom without a phase gets `phases`."""
    done = False
    symptoms: list[Symptom] = []
    for symptom in open_reading.symptoms:
        if (
            not done
            and symptom.kind == "balance"
            and symptom.state in ("live", "worse")
            and not symptom.phase_said
        ):
            symptom, done = replace(symptom, phases=phases, phase_said=True), True
        symptoms.append(symptom)
    return replace(open_reading, symptoms=tuple(symptoms), questions=())


def with_symptom(open_reading: Reading, symptom: Symptom) -> Reading:
    """A symptom whose direction was asked for; its span is the place the question pointed at."""
    span = open_reading.questions[0].span or symptom.span
    symptoms = (*open_reading.symptoms, replace(symptom, span=span))
    return replace(open_reading, symptoms=symptoms, questions=())


def with_unit(open_reading: Reading, text: str) -> Reading | None:
    """Measurements without a unit get the one named in `text`, or None if it names none."""
    unit = next((_UNITS[w] for w in text.lower().replace("°", " ").split() if w in _UNITS), None)
    if unit is None:
        return None
    measured = tuple(replace(m, unit=m.unit or unit) for m in open_reading.measurements)
    return replace(open_reading, measurements=measured, questions=())
