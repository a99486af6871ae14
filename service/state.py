"""What a session is now: a fold over its events. Pure; the logbook is only read by `current`.

Events and what they carry:
context   car, track (id or sheet), setup (values laid over the base set-up), style
said      text, reading; the driver's words, as read
done      changes (setting → value), how ("as advised", "partly", "refused", "undo"), pushes; the real set-up
moves reported  verdicts (phase → verdict) on the list numbered `about` (None for a first complaint), and what
the belief hears worked    symptoms still open, limits standing: what the next list is for advised   the
answer as given (an `Advice`), and `kept`: what learning needs of it asked     texts whose reading is waiting
for an answer, and the question passed    the change list was turned down ("something else"): move sets not to
offer again forgotten learning was reset
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from engine.learning import UNKNOWN, Heard, Knowledge, Push, carried, drifted, heard
from engine.sheets import DEFAULT_CAR
from grammar.intent import Choice, Limit, Span, Symptom
from service.logbook import Event, Logbook
from service.plain import plain

KEPT = 64
"""Folded sessions kept at hand."""
BY_HAND = 0.5
"""Deviation by which a set-up change of the driver's own may have moved the balance, feel (judgement)."""
__all__ = ["Given", "SessionState", "current", "fold", "limit_from", "remember", "stored", "symptom_from"]


@dataclass(frozen=True, slots=True)
class Given:
    """A change list that was handed out: its number in the session (from 1), values before and after, the
    whole answer (of an older one only its steps), and what became of it. `fate`: pending, done, partly,
    refused, undone, passed."""

    number: int
    before: Mapping[str, float]
    after: Mapping[str, float]
    symptoms: tuple[Symptom, ...]
    advice: Mapping[str, Any]
    kept: Mapping[str, Any]
    fate: str = "pending"
    verdicts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SessionState:
    """The session now. `setup` None means the car's base set-up; `given` is every list handed out, oldest
    first."""

    last_id: int = 0
    car: str | Mapping[str, Any] | None = None
    track: str | Mapping[str, Any] | None = None
    setup: Mapping[str, float] = field(default_factory=dict)
    style: Mapping[str, str] = field(default_factory=dict)
    open: tuple[Symptom, ...] = ()
    limits: tuple[Limit, ...] = ()
    given: tuple[Given, ...] = ()
    question: tuple[str, ...] = ()
    """The texts (complaint, then answers so far) whose reading waits for an answer."""
    choices: tuple[Choice, ...] = ()
    """Answers to an open question about the last list."""
    passed: tuple[frozenset[str], ...] = ()
    turns: int = 0
    knowledge: Knowledge = UNKNOWN
    """What the reports so far teach of this car and driver."""

    @property
    def last(self) -> Given | None:
        """The newest change list, if any."""
        return self.given[-1] if self.given else None


def current(logbook: Logbook, session: str) -> SessionState:
    """State of a session; only events newer than the last look are read."""
    seen = logbook.cache.get(session)
    state = seen if isinstance(seen, SessionState) else SessionState()
    state = fold(state, logbook.events(session, after=state.last_id))
    remember(logbook, session, state)
    return state


def remember(logbook: Logbook, session: str, state: SessionState) -> None:
    """Keep a folded state at hand; the sessions least lately spoken in are let go (they can be folded
    again)."""
    logbook.cache.pop(session, None)
    logbook.cache[session] = state
    while len(logbook.cache) > KEPT:
        logbook.cache.pop(next(iter(logbook.cache)), None)


def fold(state: SessionState, events: Iterable[Event]) -> SessionState:
    """The state after some more events; kinds it does not know are skipped."""
    for event in events:
        step = _STEPS.get(event.kind)
        state = replace(step(state, event) if step else state, last_id=event.id)
    return state


def symptom_from(data: Mapping[str, Any]) -> Symptom:
    """A symptom as it was stored."""
    return Symptom(**{**data, "phases": tuple(data["phases"]), "span": Span(**data["span"])})


def limit_from(data: Mapping[str, Any]) -> Limit:
    """A limit as it was stored."""
    return Limit(**{**data, "settings": tuple(data["settings"]), "span": Span(**data["span"])})


def stored(thing: Symptom | Limit) -> dict[str, Any]:
    """The plain-JSON form of a symptom or a limit."""
    data: dict[str, Any] = plain(thing)
    return data


def _context(state: SessionState, event: Event) -> SessionState:
    data = event.data
    moved = (data.get("car") or state.car or DEFAULT_CAR) != (state.car or DEFAULT_CAR)
    setup = data["setup"] if data.get("setup") is not None else {} if moved else state.setup
    fresh = (
        replace(state, open=(), given=(), question=(), choices=(), passed=(), limits=(), knowledge=UNKNOWN)
        if moved
        else state
    )
    if not moved and dict(setup) != dict(state.setup):
        fresh = replace(fresh, knowledge=drifted(state.knowledge, BY_HAND))
    return replace(
        fresh,
        car=data.get("car", state.car),
        track=data.get("track", state.track),
        setup=dict(setup),
        style=data.get("style") or state.style,
    )


def _said(state: SessionState, event: Event) -> SessionState:
    return replace(state, turns=state.turns + 1, question=(), choices=())


def _done(state: SessionState, event: Event) -> SessionState:
    setup = {**state.setup, **event.data["changes"]}
    about, how = event.data.get("about"), event.data["how"]
    fate = {"as advised": "done", "undo": "undone"}.get(how, how)
    given = tuple(_with_fate(g, fate, event.data["changes"]) if g.number == about else g for g in state.given)
    if how == "undo":
        given = tuple(replace(g, fate="passed") if g.fate == "pending" else g for g in given)
    pushes = [
        Push(p["lever"], p["clicks"], tuple(p["step"]), tuple(p["doubt"]), tuple(p.get("other", ())))
        for p in event.data.get("pushes", ())
    ]
    known = carried(state.knowledge, pushes)
    own = next((set(event.data["changes"]) - set(g.after) for g in given if g.number == about), set())
    return replace(state, setup=setup, given=given, knowledge=drifted(known, BY_HAND) if own else known)


def _with_fate(given: Given, fate: str, changes: Mapping[str, float]) -> Given:
    """The list with what became of it; where it was done in part, `after` is what was done."""
    if fate != "partly":
        return replace(given, fate=fate)
    return replace(given, fate=fate, after={k: changes.get(k, v) for k, v in given.after.items()})


def _reported(state: SessionState, event: Event) -> SessionState:
    about, verdicts = event.data["about"], event.data["verdicts"]
    given = tuple(
        replace(g, verdicts={**g.verdicts, **verdicts}) if g.number == about else g for g in state.given
    )
    intervals = [
        Heard(tuple(h["channels"]), h["low"], h["high"], h["change"]) for h in event.data.get("heard", ())
    ]
    known = heard(drifted(state.knowledge), intervals, event.data.get("stages", ()))
    return replace(state, given=given, knowledge=known if intervals else state.knowledge)


def _worked(state: SessionState, event: Event) -> SessionState:
    return replace(
        state,
        open=tuple(symptom_from(s) for s in event.data["symptoms"]),
        limits=tuple(limit_from(x) for x in event.data["limits"]),
        passed=() if event.data.get("fresh", True) else state.passed,
    )


def _advised(state: SessionState, event: Event) -> SessionState:
    advice = event.data["advice"]
    if not advice["changes"]:
        return state
    given = Given(
        number=len(state.given) + 1,
        before={c["setting"]: c["from"] for c in advice["changes"]},
        after={c["setting"]: c["to"] for c in advice["changes"]},
        symptoms=state.open,
        advice=advice,
        kept=event.data.get("kept", {}),
    )
    return replace(state, given=(*map(_older, state.given), given))


def _older(given: Given) -> Given:
    """A list that is no longer the newest: what it said is let go (the logbook has it), what undoing it needs
    stays. One that was never done is passed."""
    steps = [{"setting": c["setting"], "to": c["to"]} for c in given.advice["changes"]]
    fate = "passed" if given.fate == "pending" else given.fate
    return replace(given, advice={"changes": steps}, fate=fate)


def _asked(state: SessionState, event: Event) -> SessionState:
    choices = tuple(Choice(**one) for one in event.data.get("choices", ()))
    return replace(state, question=tuple(event.data["texts"]), choices=choices)


def _passed(state: SessionState, event: Event) -> SessionState:
    given = tuple(
        replace(g, fate="passed") if g.number == event.data.get("about") else g for g in state.given
    )
    return replace(state, given=given, passed=(*state.passed, frozenset(event.data["settings"])))


def _forgotten(state: SessionState, event: Event) -> SessionState:
    return replace(state, knowledge=UNKNOWN)


_STEPS = {
    "context": _context,
    "said": _said,
    "done": _done,
    "reported": _reported,
    "worked": _worked,
    "advised": _advised,
    "asked": _asked,
    "passed": _passed,
    "forgotten": _forgotten,
}
