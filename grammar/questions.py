"""One question at a time: what must be asked before the complaint can be answered."""

from dataclasses import replace

from grammar.intent import Choice, Question, Reading

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


def ask(reading: Reading) -> Reading:
    """The reading with the one question that matters most, if any."""
    for symptom in reading.live():
        if symptom.kind == "balance" and not symptom.phase_said:
            text = f"Where in the corner is it {symptom.direction}?"
            return replace(reading, questions=(Question("phase", text, PHASE_CHOICES, symptom.span),))
    return reading
