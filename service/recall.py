"""What the session tells the engine: the history of changes and what was said of them, and the pushes to
learn from."""

from collections.abc import Mapping
from typing import Any

from engine.car import Car
from engine.history import History, PastStep
from grammar.intent import PHASES
from service.state import Given, SessionState

__all__ = ["history_of", "pushes_of"]


def history_of(state: SessionState) -> History:
    """Every setting moved in the session, oldest first, with the driver's verdict on it."""
    steps = [step for given in state.given for step in _steps(given)]
    return History(tuple(steps), state.passed)


def pushes_of(last: Given, changes: Mapping[str, float], car: Car, sign: float = 1.0) -> list[dict[str, Any]]:
    """What the levers of `last` did when the settings ended at `changes`; a move made in part counts by its
    share."""
    parts = {move.key: tuple(move.parts) for move in car.moves}
    found = []
    for one in last.kept.get("pushes", ()):
        keys = (one["lever"],) if one["lever"] in last.after else parts.get(one["lever"], ())
        shares = [_share(last, changes, key) for key in keys if key in last.after]
        share = sum(shares) / len(shares) if shares else 1.0
        if share:
            found.append({**one, "clicks": sign * share * one["clicks"]})
    return found


def _share(last: Given, changes: Mapping[str, float], key: str) -> float:
    advised = {c["setting"]: c["to"] for c in last.advice.get("changes", ())}
    planned = advised.get(key, last.after[key]) - last.before[key]
    return (changes.get(key, last.after[key]) - last.before[key]) / planned if planned else 0.0


def _steps(given: Given) -> list[PastStep]:
    if given.fate not in ("done", "partly", "undone"):
        return []
    found = []
    for key, after in given.after.items():
        verdict = "undo" if given.fate == "undone" else _verdict(given, key)
        found.append(PastStep(key, given.before[key], after, verdict))
    return found


def _verdict(given: Given, setting: str) -> str:
    """The verdict on the phase the setting was moved for: among those complained of, the one it pushes
    most."""
    worked = [p for s in given.symptoms for p in s.phases if p in PHASES]
    told = [p for p in worked if given.verdicts.get(p)]
    if not told:
        return ""
    size = given.kept.get("sizes", {}).get(setting, {})
    return given.verdicts[max(told, key=lambda p: (size.get(p, 0.0), -PHASES.index(p)))]
