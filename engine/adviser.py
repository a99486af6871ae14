"""The one entrance: a reading, a car, a track and a set-up → a `Verdict`.

The road: stop words and open questions first; then needs → response here → smallest plan → checked on the
full model → reasons, why-not, or the clash when it cannot be done.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from engine.alone import best_hot
from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS
from engine.cooling import cooled, left_to_plan, water_doubt
from engine.full import FullModel
from engine.hearing import as_believed
from engine.history import EMPTY, History
from engine.ladder import EASED, found_plans, wider
from engine.learning import Knowledge
from engine.levers import applied
from engine.meaning import known_by, meaning_of
from engine.measured import weigh
from engine.memo import Memo
from engine.model import Pace, find_pace
from engine.needs import find_needs
from engine.outlook import before_values
from engine.over_run import over_the_run
from engine.planning import Draft
from engine.refusal import explain
from engine.requests import Direct, carry_out, shift_of
from engine.response import Response, read_only
from engine.sensitivity import respond
from engine.style import RACE, Style
from engine.task import INDEX, Task, lacking
from engine.track import Track
from engine.verdict import ClashView, Cure, Fact, PlanView, Verdict
from engine.views import Scene, view_direct, views
from engine.wanted import Measured, Needs
from engine.whynot import why_not
from engine.wishes import MOST_MOVES, Wishes, asked_for, gather, steps_missed, values_asked
from grammar.intent import Reading

__all__ = ["advise"]

FAIR = 0.2
"""Share of a need that a round must bring when more rounds will bring the rest."""
OVER = 1.2
"""Share of a need from which too much of it is said as such."""
KEEPS_UP = 0.8
"""Share of the best plan's cure that an alternative must bring to be offered."""


@dataclass(frozen=True)
class Case:
    """One complaint about one car, as it comes in."""

    reading: Reading
    car: Car
    track: Track
    setup: Setup
    history: History
    knowledge: Knowledge | None
    style: Style
    alternatives: int
    max_moves: int

    @cached_property
    def pace(self) -> Pace:
        """The pace everything is compared at."""
        return _pace(self.car, self.track)

    @cached_property
    def response(self) -> Response:
        """The response here, with what was learned."""
        found = _response(self.car, self.track, self.setup, self.pace)
        return applied(self.knowledge, found) if self.knowledge else found

    def best_pressures(self) -> dict[str, float]:
        """The hot pressure each tyre likes best here, psi."""
        return best_hot(self.car, self.track, self.setup, self.pace)

    @cached_property
    def model(self) -> FullModel:
        """The full model at this pace."""
        return FullModel(self.car, self.track, self.pace)


_PACES: Memo[Pace] = Memo(64)
_RESPONSES: Memo[Response] = Memo(128)
_WORN: Memo[Track] = Memo(64)
"""Sheets are read-only, so the same sheets (and the same set-up) have the same pace and response."""
_VERDICTS: Memo[Verdict] = Memo(256, plans=True)
"""The same meaning, at the same sheets and set-up and after the same session, has the same answer. It is
shared: nobody writes to a verdict."""


def _pace(car: Car, track: Track) -> Pace:
    """`find_pace`, remembered."""
    return _PACES.get((car, track), None, lambda: find_pace(car, track))


def _response(car: Car, track: Track, setup: Setup, pace: Pace) -> Response:
    """`respond` at the pace of these sheets, remembered; read-only."""
    here = tuple(setup[s.key] for s in car.settings)
    return _RESPONSES.get((car, track), here, lambda: read_only(respond(car, track, setup, pace=pace)))


def _worn(track: Track, wear: str) -> Track:
    """The track with another wear of the surface; the same object for the same question."""
    return _WORN.get((track,), wear, lambda: track.model_copy(update={"wear": wear}))


def advise(
    reading: Reading,
    car: Car,
    track: Track,
    setup: Setup,
    *,
    history: History = EMPTY,
    knowledge: Knowledge | None = None,
    style: Style = RACE,
    alternatives: int = 2,
    max_moves: int = MOST_MOVES,
) -> Verdict:
    """Answer a reading. `setup` is complete and on the sheet; ValueOutside when a request asks for a
    value that is not."""
    cautions = (Fact("caution-real" if car.real else "caution-simulation"),)
    if reading.stop:
        return Verdict("stop", notes=(Fact("stop", names={"why": reading.stop}),), cautions=cautions)
    if reading.questions:
        return Verdict("question", questions=reading.questions, cautions=cautions)
    if style.wear != "as-track":
        track = _worn(track, style.wear)
    meaning = meaning_of(reading)
    case = Case(meaning, car, track, setup, history, knowledge, style, alternatives, max_moves)
    values = tuple(sorted(setup.items()))
    rest = (meaning, values, history, known_by(knowledge), style, alternatives, max_moves)
    return _VERDICTS.get((car, track), rest, lambda: replace(_answer(case), cautions=cautions))


def _answer(case: Case) -> Verdict:
    """The answer to a reading that is whole."""
    base = dict(zip(CHANNELS, map(float, case.response.base), strict=True))
    measured = weigh(case.reading.measurements, base, case.car.limits, case.best_pressures)
    needs = find_needs(case.reading, base, case.car.limits, measured, case.style)
    if case.knowledge and case.knowledge.levers:
        needs = as_believed(needs, case.knowledge, case.style.lean)
    if (twice := _contradiction(needs)) is not None:
        return Verdict("question", notes=(twice,))
    wishes = gather(case.reading.limits, case.car, case.max_moves)
    requests = asked_for(case.reading, ("set", "step", "what-if"))
    asked = values_asked(requests, case.car, case.setup)
    direct = carry_out(asked, needs.tries, case.car, case.setup, wishes, case.history)
    direct = cooled(direct, needs, case.car, case.setup, wishes, case.history, case.model)
    notes = (*steps_missed(requests, case.setup, asked), *_notes(case, needs, wishes, measured, direct))
    if not needs.needs and not direct.values:
        return Verdict("no_change", notes=notes or (Fact(_nothing(case.reading)),))
    scene = _scene(case, needs, measured, wishes, direct)
    notes = (*notes, *_crossed(scene))
    if asked_for(case.reading, ("what-if",)):
        return Verdict("no_change", alternatives=(view_direct(scene),), notes=notes)
    if not scene.task.needs:
        plan, asked_of = view_direct(scene), tuple(need.key for need in needs.needs)
        return Verdict("change", plan, notes=(*notes, *_partial(plan)), needs=asked_of)
    return _planned(case, scene, notes)


def _nothing(reading: Reading) -> str:
    """Why there is nothing to do: not understood, a question about a lever without a complaint, or
    nothing asked."""
    if asked_for(reading, ("why", "why-not")):
        return "why-of-what"
    return "not-understood" if reading.unknown else "nothing-asked"


def _scene(case: Case, needs: Needs, measured: Measured, wishes: Wishes, direct: Direct) -> Scene:
    """The planning task and what is needed to tell its result; direct changes are made first."""
    setup = {**case.setup, **direct.values}
    shift = shift_of(case.car, case.response, case.setup, setup, direct, case.model)
    room = max(0, wishes.max_moves - direct.moves)
    task = Task(
        case.car,
        setup,
        case.response,
        left_to_plan(needs, direct),
        needs.guards,
        replace(wishes, max_moves=room),
        case.history,
        case.style,
        shift,
        frozenset(direct.values),
        case.knowledge,
    )
    before = before_values(case.response.base, needs, measured.values)
    return Scene(task, case.setup, needs, direct, before, case.model)


def _planned(case: Case, scene: Scene, notes: tuple[Fact, ...]) -> Verdict:
    """The fewest changes; where they cannot cure it all, as much as can be had, and why not more."""
    scene, drafts = found_plans(scene, case.alternatives + 1)
    task, best = scene.task, drafts.drafts[0]
    plans = views(scene, [d for d in drafts.drafts if d is best or _keeps_up(task, best, d)])
    plan = plans[0]
    lead = [k for r in asked_for(case.reading, ("why-not",)) for k in r.settings]
    hoped = task.hedged and bool(plan.moves)
    limited = bool(case.reading.limits)
    worth = _worth(plan, limited)
    narrowed = limited or not worth
    clash = explain(task, drafts) if narrowed and task.far and not (plan.cured or hoped) else None
    if not drafts.complete:
        notes = (*notes, Fact("search-capped", {"moves": float(task.wishes.max_moves)}))
    status = "change" if hoped or worth or _only_rounds(plan, clash) else "not_possible"
    return Verdict(
        status if plan.changes or status == "not_possible" else "no_change",
        plan,
        tuple(p for p in plans[1:] if p.changes),
        why_not=why_not(task, plan, lead),
        clash=clash,
        notes=(*notes, *wider(scene, best), *over_the_run(task, plan.deltas), *_partial(plan)),
        needs=tuple(n.key for n in scene.needs.needs),
    )


def _keeps_up(task: Task, best: Draft, other: Draft) -> bool:
    """True when an alternative cures about as well."""
    nothing = lacking(task, np.zeros(len(CHANNELS)))
    won, also = (nothing - lacking(task, draft.deltas) for draft in (best, other))
    return also >= KEEPS_UP * won - 0.05


def _worth(plan: PlanView, limited: bool) -> bool:
    """True when some need is met or eased: within limits of the driver's own by a good part of it, without
    any by a fair part."""
    share = EASED if limited else FAIR
    return any(cure.met or cure.got / cure.wanted >= share for cure in plan.cures)


def _only_rounds(plan: PlanView, clash: ClashView | None) -> bool:
    """True when nothing but the size of a round stands in the way and this round brings a fair part: the
    rest comes in the next one."""
    kinds = {fact.kind for fact in clash.members} if clash else set()
    fair = any(cure.got / cure.wanted >= FAIR for cure in plan.cures)
    return bool(plan.changes) and fair and "round" in kinds and kinds <= {"want", "round", "most-moves"}


def _partial(plan: PlanView) -> list[Fact]:
    """What the list leaves open, in the order to take it up."""
    if not plan.changes:
        return []
    return [_left(c) for c in plan.cures if not c.met]


def _left(cure: Cure) -> Fact:
    """What is left of one need; a part too small to be said is not called a part."""
    share, balance = cure.got / cure.wanted, cure.channel in BALANCE
    kind = "left-over" if balance and share >= OVER else "left-open"
    if balance and share * abs(cure.wanted) < 0.05:
        kind = "left-worse" if share * abs(cure.wanted) <= -0.05 else "left-all"
    return Fact(kind, {"got": cure.got, "wanted": cure.wanted}, {"need": cure.need, "channel": cure.channel})


def _crossed(scene: Scene) -> list[Fact]:
    """Limits of the car that what was asked for crosses: it is done as asked, and said."""
    found = []
    for guard in scene.needs.guards:
        change = float(scene.task.shift[INDEX[guard.channel]])
        if guard.kind == "limit" and not guard.low - 1e-6 <= change <= guard.high + 1e-6:
            found.append(
                Fact("limit-crossed", {"side": change, "bound": guard.bound}, {"channel": guard.channel})
            )
    return found


def _contradiction(needs: Needs) -> Fact | None:
    """Two needs that pull the same channel both ways."""
    for i, one in enumerate(needs.needs):
        for other in needs.needs[i + 1 :]:
            both = {c for c, _ in one.parts} & {c for c, _ in other.parts}
            if both and one.target * other.target < 0:
                return Fact("both-ways", names={"channel": min(both)})
    return None


def _notes(case: Case, needs: Needs, wishes: Wishes, measured: Measured, direct: Direct) -> tuple[Fact, ...]:
    """What is said before the list."""
    reading = case.reading
    found = [Fact("driver")] if reading.driver else []
    found += [Fact(kind, numbers, names) for kind, numbers, names in measured.told]
    found += [Fact(f"check-{check}") for check in needs.checks]
    found += [Fact("uncovered", names={"complaint": kind}) for kind in needs.uncovered]
    found += [Fact("no-such-setting", names={"setting": key}) for key in wishes.strange]
    found += direct.notes
    now = float(case.response.base[INDEX["water-temperature"]])
    found += water_doubt(needs, "water-temperature" in measured.values, now, case.car.limits)
    if not reading.live() and any(s.state in ("gone", "feared") for s in reading.symptoms):
        found.append(Fact("nothing-live"))
    if any(o.verdict == "fixed" for o in reading.outcomes) and not reading.live():
        found.append(Fact("fixed"))
    return tuple(found)
