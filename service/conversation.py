"""A conversation that remembers: one complaint in, an `Advice` out, everything written to the logbook.

The road: what the session is (fold) → reading, or the answer to our open question → what became of the last
list → the symptoms still open → the same advising road as everyone else → the logbook.
"""

from collections.abc import Mapping
from dataclasses import asdict

from engine.car import Car
from engine.style import style_from
from engine.track import Track
from grammar.intent import Reading
from grammar.reader import answer as completed
from grammar.reader import read
from service.advising import Answered, advice_on, plain_advice
from service.asked import another, take_back, why
from service.contract import Advice
from service.library import Library
from service.logbook import Logbook
from service.outcomes import is_report
from service.reporting import acknowledged, note_done, note_report, note_work
from service.state import SessionState
from service.turn import Sheet, Turn, begin, save, set_context

__all__ = ["check_style", "converse", "forget"]


def converse(
    logbook: Logbook,
    library: Library,
    session: str,
    text: str,
    *,
    car: Sheet = None,
    track: Sheet = None,
    setup: Mapping[str, float] | None = None,
    style: Mapping[str, str] | None = None,
    alternatives: int = 2,
    learning: bool = True,
) -> Advice:
    """Answer `text` in the light of the session. A car, track or set-up given here holds from now on.

    Raises what reading and the sheets raise (TextTooLong, UnknownName, ValueOutside ...), and then nothing is
    written. A logbook that cannot be read or written does not stop the answer: its `notes` say so."""
    turn = begin(logbook, session, learning)
    set_context(turn, car, track, setup, style)
    the_car, the_track = library.pair(turn.state.car, turn.state.track)
    the_car.complete(turn.state.setup)
    reading, texts = _read(turn.state, text)
    turn.add("said", {"text": text, "reading": asdict(reading)})
    answered = _respond(turn, reading, the_car, the_track, alternatives)
    if answered.advice.status == "question":
        turn.add("asked", {"texts": texts})
    advice = answered.advice.model_copy(update={"session": session})
    shown = advice.model_dump(mode="json", by_alias=True)
    turn.add("advised", {"advice": shown, "kept": answered.kept[0] if answered.kept else {}})
    return advice.model_copy(update={"notes": [*turn.notes, *advice.notes, *save(logbook, turn)]})


def check_style(style: Mapping[str, str] | None) -> None:
    """Raises UnknownName for a style or a value that there is none of."""
    style_from(style or {})


def forget(logbook: Logbook, session: str) -> None:
    """Reset what was learned of the car in this session; the events stay."""
    logbook.append(session, "forgotten", {})


def _read(state: SessionState, text: str) -> tuple[Reading, list[str]]:
    """The reading, and the texts it took: a text that stands on its own is a new complaint, else it answers
    our question."""
    fresh = read(text)
    whole = any(s.phase_said and s.direction for s in fresh.live()) or fresh.outcomes or fresh.stop
    if not state.question or whole:
        return fresh, [text]
    before = read(state.question[0])
    for earlier in state.question[1:]:
        before = completed(before, earlier)
    after = completed(before, text)
    if after != fresh and after.questions != before.questions:
        return after, [*state.question, text]
    return fresh, [text]


def _respond(turn: Turn, reading: Reading, car: Car, track: Track, alternatives: int) -> Answered:
    """Settle what became of the last list, then answer."""
    kinds = {request.kind for request in reading.requests}
    if reading.stop or reading.questions:
        return advice_on(turn, reading, car, track, alternatives)
    if "undo" in kinds:
        return take_back(turn, reading, car, track)
    last = turn.state.last
    reported = is_report(reading)
    if last and last.fate == "pending" and (reported or reading.outcomes):
        unclear = note_done(turn, last, reading, car)
        if unclear:
            return plain_advice("question", unclear, reading, car, track)
    if reported:
        note_report(turn, reading)
    else:
        note_work(turn, reading, turn.state.open)
    if last and reading.outcomes and not reported:
        return acknowledged(turn, last, reading, car, track, alternatives)
    if last and "another" in kinds:
        return another(turn, last, reading, car, track)
    if last and "why" in kinds and not reported:
        return why(last, reading, car, track)
    return advice_on(turn, reading, car, track, alternatives)
