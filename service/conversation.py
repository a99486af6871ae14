"""A conversation that remembers: one complaint in, an `Advice` out, everything written to the logbook.

The road: what the session is (fold) → reading, or the answer to our open question → what became of the last
list → the symptoms still open → the same advising road as everyone else → the logbook.
"""

from collections.abc import Mapping
from dataclasses import replace

from engine.car import Car
from engine.style import style_from
from engine.track import Track
from grammar.intent import Question, Reading
from grammar.reader import answer as completed
from grammar.reader import read
from service.advising import Answered, advice_on, plain_advice
from service.asked import another, take_back, why
from service.carried import answered
from service.contract import Advice
from service.library import Library
from service.logbook import Logbook
from service.outcomes import is_report
from service.plain import plain
from service.reporting import acknowledged, note_done, note_report, note_undriven, note_work
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
    turn.add("said", {"text": text, "reading": plain(reading)})
    answered = _respond(turn, reading, the_car, the_track, alternatives)
    if answered.advice.status == "question":
        choices = [plain(c) for c in turn.choices]
        turn.add("asked", {"texts": texts, **({"choices": choices} if choices else {})})
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
    if (meant := answered(state.choices, text)) is not None:
        return read(meant), [meant]
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
    undriven = False
    if last and last.fate == "pending" and (reported or reading.outcomes):
        done = note_done(turn, last, reading, car)
        if done.unclear:
            return _asking(turn, done.unclear, reading, car, track)
        undriven = done.how == "refused"
    if reported and undriven:
        note_undriven(turn, reading)
    elif reported:
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


def _asking(turn: Turn, question: Question, reading: Reading, car: Car, track: Track) -> Answered:
    """One question about the last list; what was said waits for the answer."""
    turn.choices = question.choices
    return plain_advice("question", question.text, replace(reading, questions=(question,)), car, track)
