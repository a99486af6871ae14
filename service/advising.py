"""The advising road as a conversation takes it: the session's history and what was learned go in, what
learning needs comes out."""

from dataclasses import dataclass, replace
from typing import Any

from engine.adviser import advise
from engine.car import Car
from engine.channels import BALANCE
from engine.learning import Push
from engine.style import style_from
from engine.track import Track
from engine.verdict import PlanView, Verdict
from engine.wishes import in_force
from grammar.intent import PHASES, Reading
from service.answering import reading_out
from service.contract import Advice
from service.plain import plain
from service.recall import history_of
from service.telling import told
from service.turn import Turn

__all__ = ["Answered", "advice_on", "plain_advice"]


@dataclass(frozen=True, slots=True)
class Answered:
    """An answer, and per change list (the first, then the alternatives) what learning keeps of it."""

    advice: Advice
    kept: tuple[dict[str, Any], ...] = ({},)


def advice_on(turn: Turn, reading: Reading, car: Car, track: Track, alternatives: int) -> Answered:
    """The answer to the symptoms open in the session, with the limits that stand; `reading` adds what was
    just said."""
    state = turn.state
    asked = replace(
        reading,
        symptoms=state.open,
        limits=in_force((*state.limits, *reading.limits)),
    )
    verdict = advise(
        asked,
        car,
        track,
        car.complete(state.setup),
        history=history_of(state),
        knowledge=state.knowledge if turn.learning and state.knowledge.reports else None,
        style=style_from(state.style),
        alternatives=alternatives,
    )
    plans = (verdict.plan, *verdict.alternatives)
    advice = told(verdict, reading_out(reading), car, track, None)
    return Answered(advice, tuple(_kept(plan, car) for plan in plans))


def plain_advice(status: str, summary: str, reading: Reading, car: Car, track: Track) -> Answered:
    """An answer without a change list."""
    blank = told(Verdict(status), reading_out(reading), car, track, None)
    return Answered(blank.model_copy(update={"summary": summary}))


def _kept(plan: PlanView | None, car: Car) -> dict[str, Any]:
    """`pushes`, and per setting how much it pushes each phase at half fuel (feel)."""
    if plan is None or not plan.pushes:
        return {}
    parts = {move.key: tuple(move.parts) for move in car.moves}
    sizes = {key: _sizes(push) for push in plan.pushes for key in parts.get(push.lever, (push.lever,))}
    return {"pushes": [plain(push) for push in plan.pushes], "sizes": sizes}


def _sizes(push: Push) -> dict[str, float]:
    half = push.step[len(BALANCE) // 3 :]
    return {phase: round(abs(push.clicks * size), 4) for phase, size in zip(PHASES, half, strict=False)}
