"""Completing an open reading: pure steps that `reader.answer` takes once the short answer has been read."""

from dataclasses import replace

from grammar.amounts import tyre_in
from grammar.intent import TYRES, Measurement, Reading, Symptom

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


def with_tyres(open_reading: Reading, text: str) -> Reading | None:
    """The measurement whose tyre was asked for gets the one named in `text`, or four values one each in the
    order named;
    None if that is not what it names."""
    words = text.lower().replace(",", " ").split()
    named = [w.upper() for w in words if w.upper() in TYRES]
    if not named and (one := tyre_in(words)):
        named = [one]
    found: list[Measurement] = []
    placed = False
    for measured in open_reading.measurements:
        open_one = not placed and measured.tyre is None and measured.quantity.startswith("tyre-")
        if open_one and len(named) == len(measured.values) == 4 and len(set(named)) == 4:
            pairs = zip(named, measured.values, strict=True)
            found += [replace(measured, tyre=tyre, values=(value,)) for tyre, value in pairs]
        elif open_one and len(named) == 1 and len(measured.values) < 4:
            found.append(replace(measured, tyre=named[0]))
        else:
            found.append(measured)
            continue
        placed = True
    return replace(open_reading, measurements=tuple(found), questions=()) if placed else None
