"""What a driver can ask about the last list: take it back, another one, why."""

from engine.car import Car
from engine.track import Track
from grammar.intent import Reading
from service.advising import Answered, advice_on, plain_advice
from service.contract import BeforeAfter, SourceOut
from service.recall import pushes_of
from service.reporting import note_work
from service.state import Given
from service.turn import Turn

__all__ = ["another", "take_back", "why"]


def take_back(turn: Turn, reading: Reading, car: Car, track: Track) -> Answered:
    """Undo: the set-up goes back to before the newest list that was done; its symptoms are open again. A list
    that was never done has nothing to take back; it falls away when the one before it goes."""
    back = next((g for g in reversed(turn.state.given) if g.fate in ("done", "partly")), None)
    waiting = turn.state.last is not None and turn.state.last.fate == "pending"
    if back is None:
        rest = "; the last list has not been done and still stands" if waiting else ""
        text = f"Nothing is done that could be undone: there is no change of ours to take back{rest}."
        return plain_advice("no_change", text, reading, car, track)
    if waiting:
        turn.notes.append("The newest list was never done, so the one before it is taken back.")
    named = {key for request in reading.requests if request.kind == "undo" for key in request.settings}
    before = {key: value for key, value in back.before.items() if not named or key in named}
    if not before:
        steps = ", ".join(car.setting(key).label for key in back.before)
        return plain_advice(
            "no_change", f"That was not changed in the last list, which was: {steps}.", reading, car, track
        )
    whole = len(before) == len(back.before)
    taken = {key: back.after[key] if key in before else value for key, value in back.before.items()}
    pushes = pushes_of(back, taken, car, -1.0)
    data = {"about": back.number, "changes": before, "how": "undo" if whole else "partly", "pushes": pushes}
    turn.add("done", data)
    note_work(turn, reading, back.symptoms if whole else turn.state.open or back.symptoms)
    steps = ", ".join(
        f"{car.setting(key).label} back to {value:g} {car.setting(key).unit}" for key, value in before.items()
    )
    return plain_advice("no_change", f"Take it back: {steps}.", reading, car, track)


def another(turn: Turn, last: Given, reading: Reading, car: Car, track: Track) -> Answered:
    """Something else: the next best list whose settings are not those of a list turned down."""
    turn.add("passed", {"settings": sorted(last.after), "about": last.number})
    found = advice_on(turn, reading, car, track, len(turn.state.passed) + 2)
    lists = [found.advice.changes, *(plan.changes for plan in found.advice.alternatives)]
    for index, changes in enumerate(lists):
        moved = frozenset(change.setting for change in changes)
        if moved and moved not in turn.state.passed:
            return found if index == 0 else _brought_forward(found, index)
    text = "That was all: no other list within the limits cures this."
    return plain_advice("no_change", text, reading, car, track)


def _brought_forward(found: Answered, index: int) -> Answered:
    advice, plan = found.advice, found.advice.alternatives[index - 1]
    update = {
        "changes": plan.changes,
        "expected": plan.expected,
        "summary": plan.summary,
        "alternatives": advice.alternatives[index:],
    }
    return Answered(advice.model_copy(update=update), found.kept[index:])


def why(last: Given, reading: Reading, car: Car, track: Track) -> Answered:
    """The last list again with its reasons; nothing is computed anew."""
    blank = plain_advice("no_change", "", reading, car, track)
    shown = last.advice
    reasons = [reason["text"] for change in shown["changes"] for reason in change.get("reasons", ())]
    update = {
        "summary": " ".join(reasons) or shown["summary"],
        "expected": {key: BeforeAfter.model_validate(pair) for key, pair in shown["expected"].items()},
        "sources": [SourceOut.model_validate(source) for source in shown.get("sources", ())],
    }
    return Answered(blank.advice.model_copy(update=update))
