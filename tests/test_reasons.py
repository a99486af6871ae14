"""Reasons are true: every number in every sentence is a number of its fact, and every fact is computed
again here."""

import re

import pytest

from engine.adviser import advise
from engine.alone import each_alone
from engine.channels import CHANNELS
from engine.model import channels, find_pace, rows_of
from engine.sensitivity import respond
from engine.sheets import shipped_cars, shipped_tracks
from engine.verdict import Fact, Verdict
from grammar.intent import PHASES, STAGES, TYRES
from grammar.reader import read
from service.sentences import ROWS, say

CAR, TRACK = shipped_cars()["tern-premier"], shipped_tracks()["stonecup"]
PHRASES = (
    "loose in, tight off at half fuel",
    "a little tight everywhere",
    "really loose off late in the run",
    "tight in the middle, not the wedge",
    "wheelspin off the corner",
    "running hot",
    "put the front bar to 1.5",
    "tight off, only what we can do on a stop",
)
FORMS = ("{:.0f}", "{:.1f}", "{:.2f}", "{:g}")


def verdict(phrase: str) -> Verdict:
    """The verdict on a phrase at the base set-up."""
    return advise(read(phrase), CAR, TRACK, CAR.base_setup())


def facts(found: Verdict) -> list[Fact]:
    """Every fact of a verdict."""
    plans = [p for p in (found.plan, *found.alternatives) if p]
    told = [f for p in plans for c in p.changes for f in c.reasons]
    clash = [*found.clash.members, found.clash.summary] if found.clash else []
    repair = [found.clash.repair] if found.clash and found.clash.repair else []
    return [*told, *(w.fact for w in found.why_not), *clash, *repair, *found.notes, *found.cautions]


def said_numbers(text: str) -> list[str]:
    """The numbers in a sentence as they stand."""
    return re.findall(r"(?<![\w.])\d+(?:\.\d+)?", text)


@pytest.mark.parametrize("phrase", PHRASES)
def test_every_number_said_is_a_number_of_the_fact(phrase: str) -> None:
    for fact in facts(verdict(phrase)):
        text = say(fact, CAR)
        for key in ("setting", "move"):
            text = text.replace(str(fact.names.get(key, "\0")), "")
        allowed = {form.format(abs(round(v, 3))) for v in fact.numbers.values() for form in FORMS}
        allowed |= {form.format(abs(v)) for v in fact.numbers.values() for form in FORMS}
        assert set(said_numbers(text)) <= allowed, (fact, text)


@pytest.mark.parametrize("phrase", PHRASES)
def test_paths_and_wear_are_those_of_the_change_alone(phrase: str) -> None:
    found, base = verdict(phrase), CAR.base_setup()
    assert found.plan is not None
    start = {
        **base,
        **{c.setting: c.after for c in found.plan.changes if c.reasons and c.reasons[0].kind == "asked"},
    }
    for move in {c.move for c in found.plan.changes}:
        mine = [c for c in found.plan.changes if c.move == move]
        changed = {**start, **{c.setting: c.after for c in mine}}
        alone = each_alone(CAR, TRACK, start, [changed], find_pace(CAR, TRACK))[0]
        for fact in mine[0].reasons:
            if fact.kind.startswith("path-load"):
                stage, phase = STAGES.index(fact.names["stage"]), PHASES.index(fact.names["phase"])
                tyre = TYRES.index(fact.names["tyre"])
                assert fact.numbers["load_before"] == pytest.approx(alone.load[0, tyre, stage, phase])
                assert fact.numbers["load_after"] == pytest.approx(alone.load[1, tyre, stage, phase])
                assert fact.numbers["rear_after"] == pytest.approx(100 * alone.rear[1, stage, phase])
            if fact.kind == "wear":
                tyre = TYRES.index(fact.names["tyre"])
                assert fact.numbers["after"] == pytest.approx(alone.worn[1, tyre])


@pytest.mark.parametrize("phrase", PHRASES)
def test_what_is_expected_is_the_full_models_difference_with_the_rules_share(phrase: str) -> None:
    """before → after = the full model's difference, plus what rules of thumb add to it on a straight line."""
    found, base = verdict(phrase), CAR.base_setup()
    assert found.plan is not None
    changed = {**base, **{c.setting: c.after for c in found.plan.changes}}
    both = channels(CAR, TRACK, rows_of(CAR, [base, changed]))
    response = respond(CAR, TRACK, base)
    rows = {m.key: i for i, m in enumerate(response.moves)}
    true = both[1] - both[0]
    asked = [c for c in found.plan.changes if c.move not in dict(found.plan.moves)]
    for key, clicks in (*found.plan.moves, *((c.setting, c.clicks) for c in asked)):
        true = true + clicks * (response.step[rows[key]] - response.model[rows[key]])
    for effect in found.plan.expected:
        assert effect.delta == pytest.approx(true[CHANNELS.index(effect.channel)], abs=0.02)


@pytest.mark.parametrize("phrase", PHRASES)
def test_the_balance_before_is_what_the_driver_said(phrase: str) -> None:
    """+1 is a plain "tight", 0 a phase he did not complain of, at the run stage in question."""
    found, reading = verdict(phrase), read(phrase)
    assert found.plan is not None
    before = {e.channel: e.before for e in found.plan.expected}
    size = {"slight": 0.5, "plain": 1.0, "severe": 2.0}
    for symptom in reading.live():
        if symptom.kind == "balance":
            said = size[symptom.severity] * (1 if symptom.direction == "tight" else -1)
            for name in symptom.phases:
                assert before[f"balance/{name}/{symptom.stage or 'half'}"] == pytest.approx(said)


def test_a_lone_change_brings_all_that_the_plan_brings() -> None:
    found = verdict("a little tight everywhere").plan
    assert found is not None
    told = [f.numbers["got"] for c in found.changes for f in c.reasons if f.kind == "cure"]
    assert told == pytest.approx([cure.got for cure in found.cures])


def test_every_kind_that_is_said_has_a_row() -> None:
    kinds = {fact.kind for phrase in PHRASES for fact in facts(verdict(phrase))}
    assert kinds <= set(ROWS)
