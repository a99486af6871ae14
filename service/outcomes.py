"""What a report means for the last change list: which symptoms close, ease or stay. Pure.

Verdicts per phase: fixed, better, no-change, worse, too-far as said; `quiet` for a phase the driver did not
mention.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from grammar.intent import PHASES, Reading, Symptom
from service.state import Given

__all__ = ["is_report", "judged", "left_open", "speaks_of_balance"]

ABOUT_THE_CHANGE = ("done", "partly-done", "refused")
_EASED = {"severe": "plain", "plain": "slight", "slight": "slight"}
_WORSE = {"slight": "plain", "plain": "severe", "severe": "severe"}
_OTHER = {"tight": "loose", "loose": "tight"}


def is_report(reading: Reading) -> bool:
    """True when the text tells how the car was on the track (an outcome, or a symptom of any state)."""
    return bool(
        reading.symptoms or reading.good or any(o.verdict not in ABOUT_THE_CHANGE for o in reading.outcomes)
    )


def speaks_of_balance(reading: Reading) -> bool:
    """True when the text judges the balance: then what it does not mention is fine. "It runs hot" alone says
    nothing of the balance."""
    told = any(o.verdict not in ABOUT_THE_CHANGE for o in reading.outcomes)
    return told or bool(reading.good) or any(s.kind == "balance" for s in reading.symptoms)


def judged(last: Given, reading: Reading) -> dict[str, str]:
    """Verdict per phase on `last`. A verdict without a phase is about every phase that was complained of."""
    worked = {phase for s in last.symptoms for phase in s.phases if phase in PHASES}
    before = {phase: s.direction for s in last.symptoms if s.direction for phase in s.phases}
    verdicts = dict.fromkeys(PHASES, "quiet")
    for outcome in reading.outcomes:
        if outcome.verdict not in ABOUT_THE_CHANGE:
            for phase in outcome.phases or sorted(worked):
                verdicts[phase] = outcome.verdict
    for symptom in reading.symptoms:
        for phase in symptom.phases:
            told = {"gone": "fixed", "eased": "better", "worse": "worse"}.get(symptom.state)
            if told:
                verdicts[phase] = told
            elif symptom.state == "live" and verdicts.get(phase) == "quiet":
                turned = phase in before and symptom.direction not in (None, before[phase])
                verdicts[phase] = "too-far" if turned else "still"
    verdicts |= {phase: "fixed" for phase in reading.good if verdicts.get(phase) == "quiet"}
    return verdicts


def left_open(
    before: Iterable[Symptom], verdicts: Mapping[str, str], reading: Reading
) -> tuple[Symptom, ...]:
    """The symptoms to work on now: those just named, then the old ones the report did not close.

    An old symptom closes when it is fixed or the report names other trouble and not this one; it eases one
    degree on "better", grows one on "worse", turns round (slight) on "too far", stays on "no change"."""
    named = reading.live()
    covered = {(s.kind, phase) for s in named for phase in s.phases}
    kept = [_after(s, verdicts, covered, bool(named)) for s in before]
    return (*named, *(s for s in kept if s is not None))


def _after(
    symptom: Symptom, verdicts: Mapping[str, str], covered: set[tuple[str, str]], others: bool
) -> Symptom | None:
    phases = tuple(p for p in symptom.phases if (symptom.kind, p) not in covered)
    told = [verdicts.get(p, "quiet") for p in phases]
    kept = [v for v in told if v in ("better", "no-change", "worse", "too-far")]
    if not phases or not kept:
        return None
    phases = tuple(p for p, v in zip(phases, told, strict=True) if v in kept)
    verdict = kept[0]
    if verdict == "better":
        # Better, with other trouble named, is good enough for now; better and nothing else asks for the rest.
        return (
            None
            if others
            else replace(symptom, phases=phases, severity=_EASED[symptom.severity], state="live")
        )
    if verdict == "too-far" and symptom.direction:
        return replace(
            symptom, phases=phases, direction=_OTHER[symptom.direction], severity="slight", state="live"
        )
    worse = _WORSE[symptom.severity] if verdict == "worse" else symptom.severity
    return replace(symptom, phases=phases, severity=worse, state="live")
