"""One turn of a conversation in the making: the state as it grows, and the events to write at its end, all or
none."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from grammar.intent import Choice
from service.logbook import Event, Logbook, LogbookError
from service.state import SessionState, current, fold, remember

__all__ = ["Sheet", "Turn", "begin", "save", "set_context"]

Sheet = str | Mapping[str, Any] | None


@dataclass
class Turn:
    """The session's name, its state so far, the events to write, and what must be said besides the answer."""

    session: str
    state: SessionState
    learning: bool = True
    """Whether the answer may lean on what was learned; it is written down either way."""
    entries: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    choices: tuple[Choice, ...] = ()
    """Answers to the question about the last list that this turn asks."""

    def add(self, kind: str, data: dict[str, Any]) -> None:
        """Take one more event into account."""
        self.entries.append((kind, data))
        self.state = fold(self.state, [Event(self.state.last_id, self.session, kind, "", data)])


def begin(logbook: Logbook, session: str, learning: bool = True) -> Turn:
    """A turn on the session as it is now; when the logbook cannot be read, on what this process remembers."""
    try:
        return Turn(session, current(logbook, session), learning)
    except LogbookError as error:
        known = logbook.cache.get(session)
        turn = Turn(session, known if isinstance(known, SessionState) else SessionState(), learning)
        turn.notes.append(f"{error}; what was said before may be missing")
        return turn


def save(logbook: Logbook, turn: Turn) -> list[str]:
    """Write the turn as one; on failure keep it in memory for this process. What to say about it."""
    try:
        logbook.append_all(turn.session, turn.entries)
    except LogbookError as error:
        remember(logbook, turn.session, turn.state)
        return [f"{error}; the answer stands, but it is not kept"]
    return []


def set_context(
    turn: Turn, car: Sheet, track: Sheet, setup: Mapping[str, float] | None, style: Mapping[str, str] | None
) -> None:
    """Note a car, track, set-up or style that is new."""
    state = turn.state
    data: dict[str, Any] = {}
    if car is not None and car != state.car:
        data["car"] = car
    if track is not None and track != state.track:
        data["track"] = track
    if setup is not None and dict(setup) != dict(state.setup):
        data["setup"] = dict(setup)
    if style is not None and dict(style) != dict(state.style):
        data["style"] = dict(style)
    if data:
        turn.add("context", data)
