"""Routes of a session: a conversation that remembers, its log, its events."""

import secrets
from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import asdict
from math import isfinite
from typing import Any

from starlette.responses import Response

from engine.car import Car, Setup
from engine.model import predict
from engine.style import style_from
from engine.track import Track
from service.contract import Advice, AdviceRequest, LimitOut, SymptomOut
from service.contract_service import (
    ForgetRequest,
    GivenOut,
    LearnedOut,
    MessageRequest,
    SessionOut,
    SessionRequest,
)
from service.conversation import forget
from service.desk import Call, Desk
from service.errors import Problem
from service.events import stream_events
from service.learned import learned
from service.replying import reply
from service.state import SessionState, current
from service.table import Row

AFTER: Mapping[str, Mapping[str, Any]] = {
    "after": {"type": "integer", "minimum": 0, "maximum": 999_999_999_999_999}
}


def open_session(call: Call) -> SessionOut:
    """Open a session, or lay new context over one that is there. What it names is checked first."""
    asked: SessionRequest = call.body
    desk, name = call.desk, asked.session or f"s-{secrets.token_hex(6)}"
    before = current(desk.logbook, name)
    car = desk.library.car(before.car if asked.car is None else asked.car)
    track = desk.library.track(before.track if asked.track is None else asked.track)
    check_computable(car, track, car.complete(asked.setup), asked)
    style_from(asked.style)
    given = {key: value for key, value in asked.model_dump(exclude={"session"}).items() if value is not None}
    desk.logbook.append(name, "context", given)
    return session_out(name, current(desk.logbook, name))


def check_computable(car: Car, track: Track, setup: Setup, asked: SessionRequest) -> None:
    """Problem `bad_sheet` if the model gives no finite numbers with a sheet that was brought along."""
    brought = [name for name in ("car", "track") if isinstance(getattr(asked, name), dict)]
    if brought and not all(map(isfinite, predict(car, track, setup).values())):
        names = " and ".join(brought)
        raise Problem("bad_sheet", f"the car cannot be computed with the sheet brought as {names}", names)


def show_session(call: Call) -> SessionOut:
    """The session as it stands."""
    name = known(call.desk, call.names["session"])
    return session_out(name, current(call.desk.logbook, name))


def say(call: Call) -> Advice:
    """What the driver says next, answered in the light of the session."""
    known(call.desk, call.names["session"])
    message: MessageRequest = call.body
    return in_turn(call.desk, AdviceRequest.model_construct(session=call.names["session"], **dict(message)))


def in_turn(desk: Desk, asked: AdviceRequest) -> Advice:
    """The answer to a request, once the earlier messages of its session are answered."""
    with desk.turn(asked.session) if asked.session is not None else nullcontext():
        return reply(asked, desk.library, desk.logbook)


def show_learned(call: Call) -> LearnedOut:
    """What the car's answers taught in a session."""
    name = known(call.desk, call.names["session"])
    state = current(call.desk.logbook, name)
    car = call.desk.library.car(state.car)
    return LearnedOut(session=name, car=car.id, reports=state.knowledge.reports, lines=learned(state, car))


def forget_learned(call: Call) -> LearnedOut:
    """Reset what was learned; the events stay in the log. What is then known: nothing."""
    forget(call.desk.logbook, known(call.desk, call.names["session"]))
    return show_learned(call)


def show_log(call: Call) -> Response:
    """The session's events as JSON Lines, oldest first; a saved log is a case that can be replayed."""
    name = known(call.desk, call.names["session"])
    lines = "".join(f"{line}\n" for line in call.desk.logbook.lines(name))
    return Response(lines, media_type="application/jsonl")


def known(desk: Desk, name: str) -> str:
    """The name, if there is such a session; Problem `unknown_name` if not."""
    if not desk.logbook.last_id(name):
        message = f"no session called {name[:100]!r}"
        raise Problem("unknown_name", message, "session", "open one with POST /v1/sessions")
    return name


def session_out(name: str, state: SessionState) -> SessionOut:
    """A session's state as it is shown."""
    return SessionOut(
        session=name,
        car=dict(state.car) if isinstance(state.car, Mapping) else state.car,
        track=dict(state.track) if isinstance(state.track, Mapping) else state.track,
        setup=dict(state.setup),
        style=dict(state.style),
        open=[SymptomOut.model_validate(asdict(symptom)) for symptom in state.open],
        limits=[LimitOut.model_validate(asdict(limit)) for limit in state.limits],
        waiting_for_answer=bool(state.question),
        given=[
            GivenOut(
                number=g.number,
                before=dict(g.before),
                after=dict(g.after),
                fate=g.fate,
                verdicts=dict(g.verdicts),
            )
            for g in state.given
        ],
        turns=state.turns,
        last_id=state.last_id,
    )


_SHEETS = ("unknown_name", "outside_sheet", "bad_sheet", "logbook")
_READ = ("unknown_name", "logbook")
SESSIONS = (
    Row(
        "POST",
        "/v1/sessions",
        "Open a session",
        open_session,
        SessionRequest,
        SessionOut,
        where="clerk",
        status=201,
        errors=_SHEETS,
    ),
    Row(
        "GET",
        "/v1/sessions/{session}",
        "A session as it stands",
        show_session,
        gives=SessionOut,
        where="clerk",
        errors=_READ,
    ),
    Row(
        "POST",
        "/v1/sessions/{session}/messages",
        "Say something in a session",
        say,
        MessageRequest,
        Advice,
        where="solver",
        errors=(*_SHEETS, "no_text"),
    ),
    Row(
        "GET",
        "/v1/sessions/{session}/learned",
        "What the car's answers taught in a session",
        show_learned,
        gives=LearnedOut,
        where="clerk",
        errors=(*_READ, "bad_sheet"),
    ),
    Row(
        "POST",
        "/v1/sessions/{session}/forget",
        "Forget what the car's answers taught in a session",
        forget_learned,
        ForgetRequest,
        LearnedOut,
        where="clerk",
        errors=(*_READ, "bad_sheet"),
    ),
    Row(
        "GET",
        "/v1/sessions/{session}/log",
        "The session's log as JSON Lines",
        show_log,
        media="application/jsonl",
        where="clerk",
        errors=_READ,
    ),
    Row(
        "GET",
        "/v1/sessions/{session}/events",
        "The session's events as they happen",
        stream_events,
        media="text/event-stream",
        where="clerk",
        errors=_READ,
        query=AFTER,
    ),
)
