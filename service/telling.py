"""A verdict in the shape and words clients see."""

from collections.abc import Iterable
from typing import Any

from engine.car import Car
from engine.memo import Memo
from engine.sources import used
from engine.track import Track
from engine.verdict import Change, ClashView, Cure, Effect, Fact, PlanView, Verdict, WhyNot
from grammar.intent import Question
from service.contract import Advice, ReadingOut
from service.sentences import say
from service.words import PHASE, label_of, need_words, unit_of

__all__ = ["told"]


Told = dict[str, Any]
"""A shape of `service.contract` as plain data: the whole answer is checked in one go, which is much faster
than piece by piece."""
_TOLD: Memo[Told] = Memo(256, plans=True)


def told(verdict: Verdict, reading: ReadingOut, car: Car, track: Track, session: str | None) -> Advice:
    """The whole answer, an `Advice` of its own each time; the wording of the same change lists is
    remembered."""
    if verdict.plan or verdict.alternatives:
        worded = _TOLD.get((verdict, car, track), None, lambda: _worded(verdict, car, track))
    else:
        worded = _worded(verdict, car, track)
    return Advice.model_validate({**worded, "reading": reading, "session": session})


def _worded(verdict: Verdict, car: Car, track: Track) -> Told:
    """All of an answer that does not hang on the text or the session."""
    plan = verdict.plan
    shown = plan or (
        verdict.alternatives[0] if verdict.status == "no_change" and verdict.alternatives else None
    )
    return {
        "status": verdict.status,
        "summary": _summary(verdict, car),
        "changes": [_change(c, car) for c in plan.changes] if plan else [],
        "expected": _expected(shown) if shown else {},
        "alternatives": [_plan(p, car) for p in verdict.alternatives],
        "questions": [*map(_question, verdict.questions), *_both_ways(verdict, car)],
        "why_not": [_why_not(w, car) for w in verdict.why_not],
        "clash": _clash(verdict.clash, car) if verdict.clash else None,
        "cautions": [say(f, car) for f in verdict.cautions],
        "notes": [say(f, car) for f in verdict.notes],
        "sources": _sources(verdict),
        "car": car.id,
        "track": track.id,
    }


def _summary(verdict: Verdict, car: Car) -> str:
    """The answer in one sentence."""
    plan = verdict.plan
    if verdict.status == "stop":
        return say(verdict.notes[0], car)
    if verdict.status == "question":
        return "One question first."
    if verdict.status == "not_possible" and plan is not None:
        near = f" The nearest: {steps(plan, car)}." if plan.changes else ""
        return f"Not possible within your wishes and the car's limits.{near}"
    if plan is not None and plan.changes:
        return plan_summary(plan, car)
    if verdict.alternatives:
        return f"If you did: {steps(verdict.alternatives[0], car)}. Nothing is changed."
    return "No change."


def plan_summary(plan: PlanView, car: Car) -> str:
    """How many changes, which, and what they are for."""
    count = len({c.move for c in plan.changes})
    against = [complaint_words(c) for c in plan.cures if c.met]
    for_what = f" Against: {', '.join(against)}." if against else ""
    return f"{count} change{'s' if count != 1 else ''}: {steps(plan, car)}.{for_what}"


def complaint_words(cure: Cure) -> str:
    """The complaint behind a need: "tight coming off at half fuel", "running hot"."""
    place = need_words(cure.need)
    if cure.need.split("/")[0] not in PHASE:
        return place
    return f"{'tight' if cure.wanted < 0 else 'loose'} {place}"


def steps(plan: PlanView, car: Car) -> str:
    """The changes in one line; settings that move together are one change."""
    moves = dict.fromkeys(c.move for c in plan.changes)
    return "; ".join(" with ".join(step_words(c, car) for c in plan.changes if c.move == m) for m in moves)


def step_words(change: Change, car: Car) -> str:
    """One change: "Cross-weight from 50.5 to 50 %, 1 click down"."""
    setting = car.setting(change.setting)
    clicks = abs(change.clicks)
    way = "up" if change.clicks > 0 else "down"
    return (
        f"{setting.label} from {change.before:g} to {change.after:g} {setting.unit}, "
        f"{clicks} click{'s' if clicks != 1 else ''} {way}"
    )


def _change(change: Change, car: Car) -> Told:
    setting = car.setting(change.setting)
    return {
        "setting": change.setting,
        "label": setting.label,
        "unit": setting.unit,
        "from": change.before,
        "to": change.after,
        "clicks": change.clicks,
        "where": setting.where,
        "reasons": [_reason(f, car) for f in change.reasons],
        "effects": [{"channel": e.channel, **_values(e)} for e in change.effects],
    }


def _reason(fact: Fact, car: Car) -> Told:
    numbers = {key: round(value, 4) for key, value in fact.numbers.items()}
    return {"kind": fact.kind, "text": say(fact, car), "numbers": numbers, "sources": list(fact.sources)}


def _values(effect: Effect) -> Told:
    """An effect as `BeforeAfter`."""
    unit = unit_of(effect.channel)
    return {"before": round(effect.before, 4), "after": round(effect.after, 4), "unit": unit}


def _expected(plan: PlanView) -> Told:
    return {e.channel: _values(e) for e in plan.expected}


def _plan(plan: PlanView, car: Car) -> Told:
    return {
        "changes": [_change(c, car) for c in plan.changes],
        "expected": _expected(plan),
        "summary": plan_summary(plan, car),
    }


def _why_not(why: WhyNot, car: Car) -> Told:
    label, numbers = label_of(car, why.move), why.fact.numbers
    return {"move": why.move, "label": label, "text": say(why.fact, car), "numbers": numbers}


def _question(question: Question) -> Told:
    span = question.span
    place = {"start": span.start, "end": span.end, "text": span.text} if span else None
    choices = [{"answer": c.answer, "label": c.label} for c in question.choices]
    return {"about": question.about, "text": question.text, "choices": choices, "span": place}


def _both_ways(verdict: Verdict, car: Car) -> list[Told]:
    """The question that settles a complaint that pulls both ways at one place."""
    found: list[Told] = []
    for fact in verdict.notes:
        if fact.kind == "both-ways":
            where = PHASE[fact.names["channel"].split("/")[1]]
            words = [f"{way} {where}" for way in ("tight", "loose")]
            choices = [{"answer": word, "label": word} for word in words]
            text = f"{say(fact, car)} Which is it?"
            found.append({"about": "direction", "text": text, "choices": choices})
    return found


def _clash(clash: ClashView, car: Car) -> Told:
    members = [say(f, car) for f in clash.members]
    reached = say(clash.summary, car)
    text = f"These cannot all hold: {'; '.join(members)}. With them {reached}."
    repair = say(clash.repair, car) if clash.repair else None
    if clash.repair and repair:
        repair += ", and it works" if clash.repair.names.get("cures") else ", and more of it can be had"
    return {"members": members, "text": text, "repair": repair}


def _sources(verdict: Verdict) -> list[Told]:
    """The sources the answer used, once each, in order of use."""
    plans = [p for p in (verdict.plan, *verdict.alternatives) if p]
    facts: Iterable[Fact] = [f for p in plans for c in p.changes for f in c.reasons]
    keys = dict.fromkeys(key for fact in facts for key in fact.sources)
    return [{"key": s.key, "title": s.title, "where": s.where, "mark": s.mark} for s in used(keys)]
