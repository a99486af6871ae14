"""From a report to intervals the belief can take in: what was named, what was judged, and what was not
mentioned."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from engine.channels import BALANCE
from engine.learning import Heard, Knowledge
from engine.wanted import Needs
from grammar.intent import PHASE_GROUPS, PHASES, STAGES, Symptom

__all__ = ["as_believed", "listen"]

SEEN = {"slight": (0.42, 0.85), "plain": (0.6, 1.6), "severe": (1.3, 5.0)}
"""Severity → balance behind it, feel, towards the direction named (around the design's wants 0.5, 1, 2, and
never less than makes a driver speak)."""
HALF = 0.3
"""The least each half of an entry or exit has, feel, where the whole of it is complained of."""
QUIET, QUIET_ELSEWHERE, GOOD = 0.45, 0.8, 0.35
"""Silence: the balance is within this, feel, at the stage in question, at other stages, and where it was
called good."""
SAME, MOVED, MOST = 0.25, 0.1, 4.0
"""No change: within this; better or worse: by at least this and at most that, feel."""
LEAST = 0.3
"""The least a live complaint asks for, feel."""
LEFT = (-0.3, 0.7)
"""Better, and not complained of any more: what may be left of it, feel."""


def listen(
    left: Sequence[Symptom],
    worked: Sequence[Symptom],
    verdicts: Mapping[str, str],
    good: Iterable[str],
    stage: str,
) -> tuple[tuple[Heard, ...], frozenset[str]]:
    """Intervals of one report, and the stages it names.

    `left` are the symptoms after the report, `worked` those the last list was for, `verdicts` per phase on
    that list, `stage` the stage a symptom is about when none is said."""
    balance = [s for s in left if s.kind == "balance" and s.direction and s.phase_said]
    named = frozenset(s for symptom in balance for s in _stages(symptom, stage))
    found = [*_changes(worked, verdicts, stage), *(h for s in balance for h in _complaint(s, stage))]
    covered = {c for one in found if not one.change for c in one.channels}
    found += _judged(worked, verdicts, stage, covered)
    covered |= {c for one in found if not one.change for c in one.channels}
    return (*found, *_silence(covered, set(good), named | {stage})), named


def as_believed(needs: Needs, knowledge: Knowledge, lean: float) -> Needs:
    """The needs with their size as the reports together put it: a "tight" that eased twice is less than one
    feel.

    The direction said stands, and a complaint is never less than LEAST."""
    mean = {channel: float(knowledge.mean[i]) for i, channel in enumerate(BALANCE)}
    found = []
    for need in needs.needs:
        if need.unit_feel:
            sign = 1.0 if need.target > 0 else -1.0
            size = sign * (lean - sum(weight * mean[channel] for channel, weight in need.parts))
            need = replace(need, target=sign * max(size, LEAST))
        found.append(need)
    return replace(needs, needs=tuple(found))


def _complaint(symptom: Symptom, stage: str) -> list[Heard]:
    low, high = _towards(symptom.direction, *SEEN[symptom.severity])
    found = []
    for one in _stages(symptom, stage):
        for members in PHASE_GROUPS.values():
            phases = [p for p in members if p in symptom.phases]
            if phases:
                found.append(Heard(tuple(_channel(p, one) for p in phases), low, high))
            if len(phases) > 1:
                least, most = _towards(symptom.direction, HALF, SEEN[symptom.severity][1])
                found += [Heard((_channel(p, one),), least, most) for p in phases]
    return found


def _changes(worked: Sequence[Symptom], verdicts: Mapping[str, str], stage: str) -> list[Heard]:
    """What the verdicts say of the change itself, phase by phase."""
    found = []
    for phase, direction in _directions(worked).items():
        verdict = verdicts.get(phase)
        if verdict == "no-change":
            low, high = -SAME, SAME
        elif verdict == "better":
            low, high = _towards(direction, -MOST, -MOVED)
        elif verdict == "worse":
            low, high = _towards(direction, MOVED, MOST)
        else:
            continue
        found.append(Heard((_channel(phase, stage),), low, high, change=True))
    return found


def _judged(
    worked: Sequence[Symptom], verdicts: Mapping[str, str], stage: str, covered: set[int]
) -> list[Heard]:
    """Phases called fixed, or better and not named again."""
    directions = _directions(worked)
    found = []
    for phase, verdict in verdicts.items():
        if phase not in PHASES or _channel(phase, stage) in covered:
            continue
        if verdict == "fixed":
            found.append(Heard((_channel(phase, stage),), -GOOD, GOOD))
        elif verdict == "better" and phase in directions:
            found.append(Heard((_channel(phase, stage),), *_towards(directions[phase], *LEFT)))
    return found


def _silence(covered: set[int], good: set[str], stages: frozenset[str]) -> list[Heard]:
    """What was not mentioned. At a stage not spoken of, a phase that was complained of says nothing."""
    found = []
    spoken = {channel % len(PHASES) for channel in covered}
    for stage in STAGES:
        for phase in PHASES:
            channel = _channel(phase, stage)
            if channel not in covered and (stage in stages or channel % len(PHASES) not in spoken):
                room = (GOOD if phase in good else QUIET) if stage in stages else QUIET_ELSEWHERE
                found.append(Heard((channel,), -room, room))
    return found


def _directions(worked: Sequence[Symptom]) -> dict[str, str]:
    return {
        p: s.direction for s in worked if s.kind == "balance" and s.direction for p in s.phases if p in PHASES
    }


def _stages(symptom: Symptom, stage: str) -> tuple[str, ...]:
    return STAGES if symptom.stage == "whole" else (symptom.stage or stage,)


def _towards(direction: str | None, low: float, high: float) -> tuple[float, float]:
    """The interval on the balance scale (+ = tight) of an amount of `direction`."""
    return (low, high) if direction == "tight" else (-high, -low)


def _channel(phase: str, stage: str) -> int:
    return len(PHASES) * STAGES.index(stage) + PHASES.index(phase)
