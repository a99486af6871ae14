"""What a report does to the session: the list counts as done, symptoms close or stay, the belief hears it."""

from collections.abc import Iterable, Iterator, Sequence

from engine.car import Car
from engine.hearing import listen
from engine.style import style_from
from engine.track import Track
from engine.wishes import in_force
from grammar.intent import Limit, Reading, Symptom
from service.advising import Answered, advice_on, plain_advice
from service.carried import Done, carried_out, doubted, named_in, refusal
from service.outcomes import ABOUT_THE_CHANGE, judged, left_open, speaks_of_balance
from service.plain import plain
from service.recall import pushes_of
from service.state import Given, stored
from service.turn import Turn

__all__ = ["acknowledged", "note_done", "note_report", "note_undriven", "note_work"]

LASTING = ("not", "keep")
"""Kinds of limits that stand from one report to the next; how many changes, which levers only and only on a
stop are said of the list at hand."""


def note_done(turn: Turn, last: Given, reading: Reading, car: Car) -> Done:
    """Write down what was done of the last list. Nothing is written when the driver's words leave it open, or
    when none of it was done for want of time: then the list stands as it did."""
    unsure = doubted(reading)
    done = Done("partly", {}, unclear=unsure) if unsure else carried_out(last, reading, car)
    if done.unclear:
        return done
    if done.how == "refused" and not done.barred:
        turn.notes.append("Nothing of the last list was done, so nothing is learned from it.")
        return done
    pushes = pushes_of(last, done.changes, car)
    turn.add("done", {"about": last.number, "changes": done.changes, "how": done.how, "pushes": pushes})
    turn.notes += [_stepped(car, key, said, done.changes[key]) for key, said in done.between]
    if done.barred:
        note_work(turn, reading, turn.state.open, refused=done.barred)
        turn.notes.append(f"Leaving alone from now on, as you cannot do it: {named_in(done.barred, car)}.")
    waiting = tuple(key for key in done.refused if key not in done.barred)
    if waiting:
        turn.notes.append(f"Not counted, as it was not done: {named_in(waiting, car)}.")
    elif not any(o.verdict in ABOUT_THE_CHANGE for o in reading.outcomes) and not done.refused:
        turn.notes.append('Took the last list as done; say "undo that" if it was not.')
    return done


def note_undriven(turn: Turn, reading: Reading) -> None:
    """A report on a car that was not changed: what is named now, and of what was open all that it does not
    speak of; nothing is learned."""
    named = reading.live()
    over = {(s.kind, p) for s in reading.symptoms for p in s.phases} | {("balance", p) for p in reading.good}
    kept = tuple(s for s in turn.state.open if not any((s.kind, p) in over for p in s.phases))
    note_work(turn, reading, (*named, *kept))


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
            "heard": [plain(one) for one in intervals],
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
    """Write down the symptoms to work on and the limits that stand: what to leave alone until a report says
    that everything is cured or it is lifted, the others until a new report (`fresh`) or another of their
    kind."""
    work = tuple(symptoms)
    again = {limit.kind for limit in reading.limits}
    standing = [x for x in turn.state.limits if x.kind in LASTING or not (fresh or x.kind in again)]
    own = (refusal(refused, reading.text),) if refused else ()
    held = standing if work or not fresh else []
    limits = in_force((*held, *reading.limits, *own))
    turn.notes += _noted(reading, held, bool(work))
    if work != turn.state.open or limits != turn.state.limits or (fresh and turn.state.passed):
        data = {"symptoms": [stored(s) for s in work], "limits": [stored(x) for x in limits], "fresh": fresh}
        turn.add("worked", data)


def _noted(reading: Reading, held: Sequence[Limit], work: bool) -> Iterator[str]:
    """What to say of a limit when there is nothing to work on, and of a lifting that lifts nothing."""
    for limit in reading.limits:
        if limit.kind.startswith("lift") and in_force(held) == in_force((*held, limit)):
            yield f"Nothing was held back there before ({limit.span.text})."
        elif limit.kind in LASTING and not work:
            yield f"Noted for the lists to come: {limit.span.text}."


def acknowledged(
    turn: Turn, last: Given, reading: Reading, car: Car, track: Track, alternatives: int
) -> Answered:
    """The answer to "did it", "only half", "didn't do that"; a list refused as a whole is replaced at
    once."""
    made = turn.state.given[last.number - 1]
    if made.fate == "refused" and turn.state.open:
        return advice_on(turn, reading, car, track, alternatives)
    if made.fate == "pending":
        steps = ", ".join(_step(car, key, value) for key, value in made.after.items())
        text = f"Noted: nothing of the list is done yet. It still stands: {steps}."
        return plain_advice("no_change", text, reading, car, track)
    told = next((data["changes"] for kind, data in turn.entries if kind == "done"), made.after)
    now = ", ".join(_step(car, key, turn.state.setup.get(key, value)) for key, value in told.items())
    return plain_advice("no_change", f"Noted: {now}. Run it and say what the car does.", reading, car, track)


def _stepped(car: Car, key: str, said: float, taken: float) -> str:
    """That a value of the driver's own was taken to the nearest step."""
    setting = car.setting(key)
    return f"{setting.label} {said:g} {setting.unit} is between two steps: noted as {taken:g} {setting.unit}."


def _step(car: Car, key: str, value: float) -> str:
    setting = car.setting(key)
    return f"{setting.label} {value:g} {setting.unit}"
