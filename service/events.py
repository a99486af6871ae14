"""Server-sent events of one session, read from the logbook: what another process writes shows up too."""

import asyncio
import json
from collections.abc import AsyncIterator, Iterable

from starlette.responses import Response, StreamingResponse

from service.desk import Call, Desk
from service.errors import Problem
from service.logbook import Event

POLL_SECONDS = 0.3
ALIVE_SECONDS = 15.0
"""A comment is sent after this long without an event, so that dead connections are noticed."""
BEGIN = ("said", "advised")
"""A new listener is told from the newest of each of these kinds on, not the whole history."""


def stream_events(call: Call) -> Response:
    """The stream: from Last-Event-ID (or `?after=`) on, or from the present state if neither is given.

    Problem `unknown_name` if there is no such session, `busy` if too many streams are open."""
    desk, session = call.desk, call.names["session"]
    after = _after(call)
    if not desk.logbook.last_id(session):
        raise Problem(
            "unknown_name",
            f"no session called {session[:100]!r}",
            "session",
            "open it with POST /v1/sessions",
        )
    if desk.streams >= desk.settings.streams:
        raise Problem("busy", f"{desk.streams} event streams are already open", hint="close one", retry=5.0)
    return StreamingResponse(_lines(desk, session, after), media_type="text/event-stream")


def _after(call: Call) -> int | None:
    given = call.query.get("after") or call.headers.get(b"last-event-id", b"").decode("latin-1")
    if not given:
        return None
    if not given.isascii() or not given.isdigit() or len(given) > 15:
        raise Problem("malformed", f"the event id {given[:40]!r} is not a number", "Last-Event-ID")
    return int(given)


async def _lines(desk: Desk, session: str, after: int | None) -> AsyncIterator[str]:
    desk.streams += 1
    try:
        yield "retry: 2000\n\n"
        silent = 0.0
        seen = await desk.clerks.run(_begin, desk, session) if after is None else after
        while not desk.stopping.is_set():
            events = await desk.clerks.run(desk.logbook.events, session, seen)
            for event in events:
                seen = event.id
                yield format_event(event)
            silent = 0.0 if events else silent + POLL_SECONDS
            if silent >= ALIVE_SECONDS:
                silent = 0.0
                yield ": alive\n\n"
            await _pause(desk)
    finally:
        desk.streams -= 1


async def _pause(desk: Desk) -> None:
    try:
        await asyncio.wait_for(desk.stopping.wait(), POLL_SECONDS)
    except TimeoutError:
        return


def _begin(desk: Desk, session: str) -> int:
    return begin_after(desk.logbook.events(session))


def begin_after(events: Iterable[Event]) -> int:
    """The id after which a new listener starts: just before the newest words or list, the older."""
    newest = {event.kind: event.id for event in events}
    starts = [newest[kind] for kind in BEGIN if kind in newest]
    return min(starts) - 1 if starts else 0


def format_event(event: Event) -> str:
    """One event as the stream carries it; its data is the logbook's entry on one line."""
    data = json.dumps({"at": event.at, **event.data}, ensure_ascii=True, allow_nan=False)
    return f"id: {event.id}\nevent: {event.kind}\ndata: {data}\n\n"
