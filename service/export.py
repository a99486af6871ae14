"""A session's events as complaint records: one complaint a line, with its context, reading, plan and outcome.

A record stands for one turn. `events` are what the turn wrote besides the words and the answer; from the
records of a session its state at any line can be folded again, so every line can be replayed as it was met.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from service.logbook import Event, Logbook
from service.state import Given, SessionState, fold

__all__ = ["complaint_lines", "exported", "forgettings", "plan_of", "records", "state_after"]


def complaint_lines(logbook: Logbook, session: str) -> Iterator[str]:
    """The session as JSON Lines, one complaint a line."""
    for record in records(logbook.events(session)):
        yield json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def exported(session: str, events: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """The same from events as JSON objects (id, kind, at, data), as a service hands them out."""
    for record in records(Event(e["id"], session, e["kind"], e["at"], e["data"]) for e in events):
        yield json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def records(events: Iterable[Event]) -> list[dict[str, Any]]:
    """Complaint records of one session's events, in order; events that belong to no complaint go with the
    next one."""
    made: list[dict[str, Any]] = []
    state = SessionState()
    for turn in _turns(events):
        before = fold(state, [e for e in turn if e.kind == "context"])
        if len(before.given) < len(state.given):  # another car: its lists are numbered from 1 again
            _settle(made, state.given)
        state = fold(state, turn)
        said = next((e for e in turn if e.kind == "said"), None)
        if said is None:
            continue
        advised = next((e.data for e in turn if e.kind == "advised"), None)
        plan = plan_of(advised["advice"], advised.get("kept", {})) if advised else None
        made.append(
            {
                "session": said.session,
                "turn": len(made) + 1,
                "at": said.at,
                "context": {
                    "car": before.car,
                    "track": before.track,
                    "setup": dict(before.setup),
                    "style": dict(before.style),
                },
                "text": said.data["text"],
                "reading": said.data["reading"],
                "plan": plan,
                "outcome": None,
                "events": [[e.kind, e.data] for e in turn if e.kind not in ("said", "advised")],
                "list": len(state.given) if plan and plan["changes"] else None,
            }
        )
    _settle(made, state.given)
    return made


def _settle(made: Iterable[dict[str, Any]], lists: Sequence[Given]) -> None:
    """Write into the records that are not settled yet what became of their lists."""
    for record in made:
        number = record.pop("list", None)
        if number:
            given = lists[number - 1]
            record["outcome"] = {"fate": given.fate, "verdicts": dict(given.verdicts)}


def plan_of(advice: Mapping[str, Any], kept: Mapping[str, Any]) -> dict[str, Any]:
    """What a record holds of an answer (`Advice` as JSON): status, changes, what is expected, and what
    learning keeps."""
    return {
        "status": advice["status"],
        "summary": advice["summary"],
        "changes": [_change(change) for change in advice["changes"]],
        "expected": advice["expected"],
        "kept": kept,
    }


def _change(change: Mapping[str, Any]) -> dict[str, Any]:
    kept = {key: change[key] for key in ("setting", "from", "to", "clicks")}
    return {**kept, "reasons": [{"text": reason["text"]} for reason in change["reasons"]]}


def forgettings(record: Mapping[str, Any]) -> list[list[Any]]:
    """What was forgotten on request just before a recorded turn: the turn itself does not write it."""
    return [[kind, data] for kind, data in record.get("events", ()) if kind == "forgotten"]


def state_after(state: SessionState, record: Mapping[str, Any]) -> SessionState:
    """The session's state after a recorded turn."""
    session, at = record["session"], record.get("at", "")
    events = [(kind, data) for kind, data in record.get("events", ())]
    ahead = [e for e in events if e[0] in ("context", "forgotten")]
    rest = [e for e in events if e[0] not in ("context", "forgotten")]
    whole = [*ahead, ("said", {"text": record["text"], "reading": record.get("reading")}), *rest]
    if record.get("plan"):
        whole.append(("advised", {"advice": record["plan"], "kept": record["plan"].get("kept", {})}))
    return fold(state, [Event(state.last_id, session, kind, at, data) for kind, data in whole])


def _turns(events: Iterable[Event]) -> Iterator[list[Event]]:
    """Events turn by turn: a turn ends with its answer, or where the next words begin."""
    turn: list[Event] = []
    for event in events:
        ended = any(e.kind == "advised" for e in turn)
        if turn and (ended or (event.kind == "said" and any(e.kind == "said" for e in turn))):
            yield turn
            turn = []
        turn.append(replace(event, id=0))
    if turn:
        yield turn
