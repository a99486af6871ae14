"""A conversation that remembers: one complaint in, an `Advice` out, everything written to the logbook.

The road: what the session is (fold) → reading, or the answer to our open question → what became of the last list →
the symptoms still open → the same advising road as everyone else → the logbook.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from engine.car import Car
from engine.track import Track
from grammar.intent import Limit, Reading
from grammar.reader import answer as completed
from grammar.reader import read
from service.advising import advice_on, plain_advice
from service.contract import Advice, ReadingOut
from service.library import Library
from service.logbook import Event, Logbook, LogbookError
from service.outcomes import Done, carried_out, is_report, judged, left_open, refusal
from service.state import Given, SessionState, current, fold, stored

__all__ = ["converse", "forget"]

Sheet = str | Mapping[str, Any] | None


@dataclass
class Turn:
    """One turn in the making: the state as it grows, and the events to write."""

    session: str
    state: SessionState
    entries: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, kind: str, data: dict[str, Any]) -> None:
        """Take one more event into account."""
        self.entries.append((kind, data))
        self.state = fold(self.state, [Event(self.state.last_id, self.session, kind, "", data)])


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
) -> Advice:
    """Answer `text` in the light of the session. A car, track or set-up given here holds from now on.

    Raises what reading and the sheets raise (TextTooLong, UnknownName, ValueOutside ...); a logbook that cannot be read
    or written does not stop the answer: its `notes` say so."""
    turn = _begin(logbook, session)
    _set_context(turn, car, track, setup, style)
    the_car, the_track = library.car(turn.state.car), library.track(turn.state.track)
    the_car.complete(turn.state.setup)
    reading, texts = _read(turn.state, text)
    turn.add("said", {"text": text, "reading": asdict(reading)})
    advice = _respond(turn, reading, the_car, the_track, alternatives)
    if advice.status == "question":
        turn.add("asked", {"texts": texts})
    advice = advice.model_copy(update={"session": session, "reading": shown(reading)})
    turn.add("advised", {"advice": advice.model_dump(mode="json", by_alias=True, exclude={"alternatives", "why_not"})})
    notes = [*turn.notes, *advice.notes, *_save(logbook, turn)]
    return advice.model_copy(update={"notes": notes})


def forget(logbook: Logbook, session: str) -> None:
    """Reset what was learned of the car in this session; the events stay."""
    logbook.append(session, "forgotten", {})


def shown(reading: Reading) -> ReadingOut:
    """A reading in the shape clients see."""
    return ReadingOut.model_validate(asdict(reading))


def _begin(logbook: Logbook, session: str) -> Turn:
    try:
        return Turn(session, current(logbook, session))
    except LogbookError as error:
        known = logbook.cache.get(session)
        turn = Turn(session, known if isinstance(known, SessionState) else SessionState())
        turn.notes.append(f"{error}; what was said before is not remembered")
        return turn


def _save(logbook: Logbook, turn: Turn) -> list[str]:
    """Write the turn as one; on failure keep it in memory for this process and say so."""
    try:
        logbook.append_all(turn.session, turn.entries)
    except LogbookError as error:
        logbook.cache[turn.session] = turn.state
        return [f"{error}; this answer is right, but it is not kept"]
    return []


def _set_context(
    turn: Turn, car: Sheet, track: Sheet, setup: Mapping[str, float] | None, style: Mapping[str, str] | None
) -> None:
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


def _read(state: SessionState, text: str) -> tuple[Reading, list[str]]:
    """The reading, and the texts it took. A text that stands on its own is a new complaint; otherwise it is the answer to
    the question we asked."""
    fresh = read(text)
    whole = any(s.phase_said and s.direction for s in fresh.live()) or fresh.outcomes or fresh.stop
    if not state.question or whole:
        return fresh, [text]
    before = read(state.question[0])
    for earlier in state.question[1:]:
        before = completed(before, earlier)
    after = completed(before, text)
    if len(after.questions) < len(before.questions) or after.live() != before.live():
        return after, [*state.question, text]
    return fresh, [text]


def _respond(turn: Turn, reading: Reading, car: Car, track: Track, alternatives: int) -> Advice:
    if reading.stop:
        return advice_on(turn.state, reading, car, track, alternatives)
    last = turn.state.last
    kinds = {r.kind for r in reading.requests}
    if "undo" in kinds:
        return _undo(turn, car, track, reading)
    if last and last.fate == "pending" and (is_report(reading) or reading.outcomes):
        done = carried_out(last, reading.outcomes, car)
        if done.unclear:
            return plain_advice("question", done.unclear, reading, car, track)
        _note_done(turn, last, done, reading, car)
    if last and is_report(reading):
        verdicts = judged(last, reading)
        turn.add("reported", {"about": last.number, "verdicts": verdicts})
    else:
        verdicts = {}
    _note_work(turn, reading, verdicts)
    if not is_report(reading) and reading.outcomes and last:
        return _acknowledged(turn, reading, last, car, track)
    if "another" in kinds and last:
        return _another(turn, reading, last, car, track)
    return advice_on(turn.state, reading, car, track, alternatives)


def _note_work(turn: Turn, reading: Reading, verdicts: Mapping[str, str]) -> None:
    """Write down the symptoms to work on and the limits that stand; both go when everything is cured."""
    fresh = is_report(reading)
    symptoms = left_open(turn.state.open, verdicts, reading) if fresh else turn.state.open
    standing = [*(turn.state.limits if symptoms else ()), *(x for x in reading.limits if x.kind in ("not", "keep"))]
    limits: list[Limit] = list(dict.fromkeys(standing))
    turn.add("worked", {"symptoms": [stored(s) for s in symptoms], "limits": [stored(x) for x in limits], "fresh": fresh})


def _note_done(turn: Turn, last: Given, done: Done, reading: Reading, car: Car) -> None:
    turn.add("done", {"about": last.number, "changes": done.changes, "how": done.how})
    if done.refused:
        limit = refusal(done.refused, reading.text)
        turn.add("worked", {
            "symptoms": [stored(s) for s in turn.state.open],
            "limits": [stored(x) for x in (*turn.state.limits, limit)],
            "fresh": False,
        })
        turn.notes.append(f"Leaving alone from now on, as you would not do it: {_labels(car, done.refused)}.")
    elif not any(o.verdict in ("done", "partly-done") for o in reading.outcomes) and not reading.outcomes:
        turn.notes.append("Took the last list as done; say \"didn't do it\" if it was not.")


def _acknowledged(turn: Turn, reading: Reading, last: Given, car: Car, track: Track) -> Advice:
    made = turn.state.given[last.number - 1]
    if made.fate == "refused" and turn.state.open:
        return advice_on(turn.state, reading, car, track, 2)
    now = ", ".join(f"{car.setting(k).label} {turn.state.setup.get(k, v):g} {car.setting(k).unit}" for k, v in made.after.items())
    return plain_advice("no_change", f"Noted: {now}. Run it and say what the car does.", reading, car, track)


def _undo(turn: Turn, car: Car, track: Track, reading: Reading) -> Advice:
    back = next((g for g in reversed(turn.state.given) if g.fate in ("pending", "done", "partly")), None)
    if back is None:
        return plain_advice("no_change", "There is no change of ours to take back.", reading, car, track)
    turn.add("done", {"about": back.number, "changes": dict(back.before), "how": "undo"})
    turn.add("worked", {"symptoms": [stored(s) for s in back.symptoms], "limits": [stored(x) for x in turn.state.limits],
                        "fresh": False})
    steps = ", ".join(f"{car.setting(k).label} back to {v:g} {car.setting(k).unit}" for k, v in back.before.items())
    return plain_advice("no_change", f"Take it back: {steps}.", reading, car, track)


def _another(turn: Turn, reading: Reading, last: Given, car: Car, track: Track) -> Advice:
    turn.add("passed", {"settings": sorted(last.after), "about": last.number})
    wanted = len(turn.state.passed)
    advice = advice_on(turn.state, reading, car, track, wanted + 2)
    sets = [frozenset(c.setting for c in advice.changes), *(frozenset(c.setting for c in p.changes) for p in advice.alternatives)]
    for index, moved in enumerate(sets):
        if moved and moved not in turn.state.passed:
            if index == 0:
                return advice
            plan = advice.alternatives[index - 1]
            rest = advice.alternatives[index:]
            return advice.model_copy(update={
                "changes": plan.changes, "expected": plan.expected, "summary": plan.summary, "alternatives": rest,
            })
    return plain_advice("no_change", "That was all: no other list within the limits cures this.", reading, car, track)


def _labels(car: Car, keys: tuple[str, ...]) -> str:
    return ", ".join(car.setting(key).label for key in keys)
