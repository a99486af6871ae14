"""A reading back in plain words, in a form that reads back to the same symptoms."""

from grammar.intent import PHASES, Reading, Symptom

_PHASE_WORDS = {
    "entry-braking": "on the brakes",
    "entry-rolling": "at turn-in",
    "centre": "in the centre",
    "exit-first-throttle": "picking up the throttle",
    "exit-full-throttle": "at full throttle",
    "straight": "down the straight",
}
_GROUPS = (
    (("entry-braking", "entry-rolling"), "in"),
    (("exit-first-throttle", "exit-full-throttle"), "off"),
)
_STAGES = {
    "start": "at the start of the run",
    "half": "at half fuel",
    "late": "late in the run",
    "whole": "all day",
}
_SEVERITIES = {"slight": "a little ", "plain": "", "severe": "really "}
_STATES = {
    "live": "",
    "gone": "not ",
    "eased": "less ",
    "worse": "still ",
    "feared": "afraid of ",
}


def say(reading: Reading) -> str:
    """All symptoms of a reading in one line; "nothing understood" when there are none."""
    return "; ".join(say_symptom(symptom) for symptom in reading.symptoms) or "nothing understood"


def say_symptom(symptom: Symptom) -> str:
    """One symptom, for example "a little loose in at half fuel"."""
    what = symptom.direction or symptom.kind.replace("-", " ")
    place = say_phases(symptom.phases) if symptom.phase_said else ""
    words = [_STATES[symptom.state] + _SEVERITIES[symptom.severity] + what, place]
    if symptom.corner:
        words.append("in " + symptom.corner.replace("-", " and "))
    if symptom.stage:
        words.append(_STAGES[symptom.stage])
    return " ".join(word for word in words if word)


def say_phases(phases: tuple[str, ...]) -> str:
    """Phases in words: "in", "in the centre and off", "everywhere"."""
    if set(PHASES) <= set(phases):
        return "everywhere"
    left, said = list(phases), []
    for group, word in _GROUPS:
        if set(group) <= set(left):
            said.append((PHASES.index(group[0]), word))
            left = [phase for phase in left if phase not in group]
    said += [(PHASES.index(p) if p in PHASES else 9, _PHASE_WORDS[p]) for p in left]
    return " and ".join(word for _, word in sorted(said))
