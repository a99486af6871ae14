"""What a report does to the session: the list counts as done, symptoms close or stay, the belief hears it."""

from collections.abc import Iterable
from dataclasses import asdict

from engine.car import Car
from engine.hearing import listen
from engine.style import style_from
from engine.track import Track
from grammar.intent import Reading, Symptom
from service.advising import Answered, advice_on, plain_advice
from service.outcomes import carried_out, judged, left_open, refusal, speaks_of_balance
from service.recall import pushes_of
from service.state import Given, stored
from service.turn import Turn

__all__ = ["acknowledged", "note_done", "note_report", "note_work"]


def note_done(turn: Turn, last: Given, reading: Reading, car: Car) -> str | None:
    """Write down what was done of the last list; a question when the driver's words leave it open."""
    done = carried_out(last, reading.outcomes, car)
    if done.unclear:
        return done.unclear
    pushes = pushes_of(last, done.changes, car)
    turn.add("done", {"about": last.number, "changes": done.changes, "how": done.how, "pushes": pushes})
    if done.refused:
        note_work(turn, reading, turn.state.open, refused=done.refused)
        names = ", ".join(car.setting(key).label for key in done.refused)
        turn.notes.append(f"Leaving alone from now on, as you did not do it: {names}.")
    elif not reading.outcomes:
        turn.notes.append('Took the last list as done; say "undo that" if it was not.')
    return None


def note_report(turn: Turn, reading: Reading) -> None:
    """Write down the verdicts, what the belief hears, and the symptoms left to work on."""
    if not speaks_of_balance(reading):
        named = reading.live()
        kept = tuple(s for s in turn.state.open if s.kind == "balance" and s not in named)
        note_work(turn, reading, (*named, *kept), fresh=True)
        return
    last = turn.state.last if turn.state.last and turn.state.last.fate in ("done", "partly") else None
    worked = last.symptoms if last else ()
    verdicts = judged(last, reading) if last else {}
    left = left_open(turn.state.open, verdicts, reading)
    intervals, stages = listen(left, worked, verdicts, reading.good, style_from(turn.state.style).stage)
    turn.add(
        "reported",
        {
            "about": last.number if last else None,
            "verdicts": verdicts,
            "heard": [asdict(one) for one in intervals],
            "stages": sorted(stages),
        },
    )
    note_work(turn, reading, left, fresh=True)


def note_work(
    turn: Turn,
    reading: Reading,
    symptoms: Iterable[Symptom],
    refused: tuple[str, ...] = (),
    fresh: bool = False,
) -> None:
    """Write down the symptoms to work on and the limits that stand; limits go when everything is cured."""
    work = tuple(symptoms)
    standing = turn.state.limits if work else ()
    said = tuple(limit for limit in reading.limits if limit.kind in ("not", "keep"))
    own = (refusal(refused, reading.text),) if refused else ()
    limits = tuple(dict.fromkeys((*standing, *said, *own)))
    if work != turn.state.open or limits != turn.state.limits or (fresh and turn.state.passed):
        data = {"symptoms": [stored(s) for s in work], "limits": [stored(x) for x in limits], "fresh": fresh}
        turn.add("worked", data)


def acknowledged(
    turn: Turn, last: Given, reading: Reading, car: Car, track: Track, alternatives: int
) -> Answered:
    """The answer to "did it", "only half", "didn't do that"; a list refused as a whole is replaced at
    once."""
    made = turn.state.given[last.number - 1]
    if made.fate == "refused" and turn.state.open:
        return advice_on(turn, reading, car, track, alternatives)
    now = ", ".join(
        f"{car.setting(key).label} {turn.state.setup.get(key, value):g} {car.setting(key).unit}"
        for key, value in made.after.items()
    )
    return plain_advice("no_change", f"Noted: {now}. Run it and say what the car does.", reading, car, track)
