"""How far the rest may move: no complaint worse, no new one, the middle between two like complaints; and what
is told of a car that turns round over its run."""

from math import inf

import pytest

from engine.adviser import advise
from engine.car import Limits
from engine.channels import CHANNELS, balance
from engine.guarding import HARM, SIDE, SPARE
from engine.needs import find_needs
from engine.sensitivity import respond
from engine.sheets import at_track, shipped_cars, shipped_tracks
from engine.task import PAST
from engine.wanted import HEAT, NOTHING, Guard, Needs
from grammar.intent import PHASES
from grammar.reader import read

BASE = dict.fromkeys(CHANNELS, 0.0) | {"water-temperature": 215.0, "top-rpm": 8300.0}


def needs(text: str) -> Needs:
    """The needs of a phrase on a car in the middle of all its windows."""
    return find_needs(read(text), BASE, Limits(water_temperature=245.0, top_rpm=8600.0), NOTHING)


def guards(text: str) -> dict[str, Guard]:
    """Guards by channel."""
    return {guard.channel: guard for guard in needs(text).guards}


def test_a_complaint_may_not_get_worse_for_another() -> None:
    """Nobody cures one end by spoiling the other (common practice, no source)."""
    found = guards("loose in, tight off")
    assert (found[balance("entry-braking", "half")].low, found[balance("entry-braking", "half")].high) == (
        -HARM,
        inf,
    )
    assert found[balance("exit-full-throttle", "half")].high == HARM


def test_a_single_complaint_needs_no_such_guard() -> None:
    assert balance("exit-full-throttle", "half") not in guards("tight off")


@pytest.mark.parametrize("text", ["snaps loose picking up the throttle", "really tight in", "very loose off"])
def test_however_bad_a_complaint_its_cure_makes_no_new_plain_one(text: str) -> None:
    """Less than the one feel of a plain complaint (design figure; common practice, no source)."""
    assert SPARE < 1.0
    for phase in PHASES:
        guard = guards(text).get(balance(phase, "half"))
        assert guard is None or -SPARE <= guard.low <= guard.high <= SPARE


def test_the_middle_may_go_along_between_two_like_complaints() -> None:
    """Common practice, no source; between two unlike ones it may not."""
    along, apart = guards("tight in, tight off"), guards("loose in, tight off")
    assert (along[balance("centre", "half")].low, along[balance("centre", "half")].high) == (-SPARE, SIDE)
    assert (apart[balance("centre", "half")].low, apart[balance("centre", "half")].high) == (-SIDE, SIDE)


def test_an_engine_that_boils_is_looked_after_first() -> None:
    """Pull tape in the race: S75, S76; before the balance: common practice, no source."""
    found = needs("running hot and tight off").needs
    assert (found[0].kind, found[0].level) == ("engine-hot", HEAT)


def test_what_is_told_of_a_car_that_turns_round_is_computed() -> None:
    """Both numbers of the sentence worked out again from the answer and the response."""
    track = shipped_tracks()["stonecup"]
    car = at_track(shipped_cars()["tern-premier"], track)
    found = advise(read("loose off at the start, tight off at the end"), car, track, car.base_setup())
    assert found.plan is not None
    (told,) = (fact for fact in found.notes if fact.kind == "turns-round")
    cures = {cure.need: cure for cure in found.plan.cures}
    start, late = cures["exit/start"], cures["exit/late"]
    assert told.numbers["wanted"] == pytest.approx(start.wanted - late.wanted)
    assert told.numbers["got"] == pytest.approx(start.got - late.got)
    response = respond(car, track, car.base_setup())
    halves = ("exit-first-throttle", "exit-full-throttle")
    at = {stage: [CHANNELS.index(balance(p, stage)) for p in halves] for stage in ("start", "late")}
    rounds = {
        move.key: abs(float((response.step[i, at["start"]] - response.step[i, at["late"]]).mean())) * move.cap
        for i, move in enumerate(response.moves)
        if not move.key.startswith(("gear", "final", "fuel"))
    }
    assert told.names["setting"] == max(rounds, key=lambda key: rounds[key])
    assert told.numbers["most"] == pytest.approx(rounds[told.names["setting"]], abs=0.02)


def test_a_turn_round_that_no_list_takes_back_is_said_so() -> None:
    track = shipped_tracks()["stonecup"]
    car = at_track(shipped_cars()["tern-premier"], track)
    found = advise(read("tight off at half fuel, loose off late in the run"), car, track, car.base_setup())
    assert found.plan is not None
    assert not found.plan.changes
    assert [fact.kind for fact in found.notes] == ["turns-round-none"]


@pytest.mark.parametrize("text", ["snaps loose in the middle", "really tight in the middle"])
@pytest.mark.parametrize("name", ["tern-challenge", "tern-club"])
@pytest.mark.parametrize("place", ["millpond", "longmeadow"])
def test_the_full_model_too_keeps_the_rest_within_what_is_spared(text: str, name: str, place: str) -> None:
    """A cure leaves no new plain complaint (common practice, no source), however far the car bends away from
    the straight-line response; the slack is that of the last check."""
    track = shipped_tracks()[place]
    car = at_track(shipped_cars()[name], track)
    found = advise(read(text), car, track, car.base_setup())
    assert found.plan is not None
    assert found.plan.changes
    moved = {e.channel: abs(e.delta) for e in found.plan.expected}
    for phase in PHASES:
        if phase != "centre":
            assert moved[balance(phase, "half")] <= SPARE + PAST["side"], phase
