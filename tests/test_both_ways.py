"""Moves where a track turns both ways, and tape for hot water: what a crew does that the numbers alone would
not. Common practice, no source, unless a test names one."""

import numpy as np
import pytest

from engine.adviser import advise
from engine.both_ways import NAMED, loads_one_side, moves_at, turns_both_ways
from engine.car import Move
from engine.cooling import TAPE
from engine.history import History, PastStep
from engine.model import channels, find_pace, rows_of
from engine.sheets import at_track, parse_car, shipped_cars, shipped_tracks
from engine.task import INDEX
from engine.verdict import Verdict
from grammar.reader import read
from service.sentences import say

CARS, TRACKS = shipped_cars(), shipped_tracks()
WATER = INDEX["water-temperature"]


def answer(text: str, car_id: str, track_id: str, **setup: float) -> Verdict:
    track = TRACKS[track_id]
    car = at_track(CARS[car_id], track)
    return advise(read(text), car, track, car.complete(setup))


@pytest.mark.parametrize("track_id", TRACKS)
def test_only_a_track_with_corners_of_both_hands_changes_the_moves(track_id: str) -> None:
    track, car = TRACKS[track_id], CARS["tern-premier"]
    both = {corner.turn for corner in track.corners} == {"left", "right"}
    assert turns_both_ways(track) == both
    assert (moves_at(car, track) == car.moves) != both


def mirrored(move: Move) -> dict[str, int]:
    """The move as it is seen in a mirror."""
    sides = {"lf": "rf", "rf": "lf", "lr": "rr", "rr": "lr"}
    found = {}
    for key, clicks in move.parts.items():
        stem, _, side = key.rpartition("_")
        found[f"{stem}_{sides[side]}" if side in sides else key] = clicks
    return found


@pytest.mark.parametrize("car_id", CARS)
def test_where_it_turns_both_ways_left_and_right_move_alike_unless_named(car_id: str) -> None:
    """Seen in a mirror a move is the same move; the ends of the track bar are ends of one bar."""
    for move in moves_at(CARS[car_id], TRACKS["fernbrook"]):
        if move.reach < NAMED and not move.key.startswith("track_bar"):
            assert mirrored(move) == move.parts, move.key
            assert not {"cross_weight", "left_weight", "stagger"} & set(move.parts)


def test_a_car_without_the_settings_goes_without_the_pairs() -> None:
    car = parse_car({"settings": {"front_bar": {"min": 0.5, "max": 2, "step": 0.125}}})
    assert [move.key for move in at_track(car, TRACKS["fernbrook"]).moves] == ["front_bar"]


@pytest.mark.parametrize(
    ("track_id", "key", "kind"),
    [
        ("fernbrook", "cross_weight", "one-sided"),
        ("fernbrook", "spring_rr", "one-sided"),
        ("stonecup", "ride_height_lr", "named-only"),
    ],
)
def test_why_a_lever_must_be_named_is_said_as_it_is(track_id: str, key: str, kind: str) -> None:
    """A track that turns one way only is never said to turn both."""
    car = at_track(CARS["tern-premier"], TRACKS[track_id])
    words = {"cross_weight": "the cross", "spring_rr": "the right rear spring"}
    asked = words.get(key, "the left rear ride height")
    found = answer(f"tight in the middle, why not {asked}", "tern-premier", track_id)
    facts = [row.fact for row in found.why_not if row.move == key]
    assert [fact.kind for fact in facts] == [kind]
    assert ("turns both ways" in say(facts[0], car)) == turns_both_ways(TRACKS[track_id])


def test_a_single_height_is_left_to_the_driver_on_an_oval_too() -> None:
    moves = {move.key: move for move in CARS["tern-premier"].moves}
    assert moves["ride_height_rf"].reach >= NAMED
    assert not loads_one_side(moves["ride_height_rf"], moves.values())


@pytest.mark.parametrize(("track_id", "value"), [("stonecup", 250), ("millpond", 255), ("longmeadow", 255)])
def test_as_little_tape_as_cools_it_enough_comes_off(track_id: str, value: int) -> None:
    """Less by one step would leave the water at its limit or over it: worked out again on the model."""
    found = answer(f"water {value}", "tern-premier", track_id)
    assert found.plan is not None
    (change,) = found.plan.changes
    car, track = at_track(CARS["tern-premier"], TRACKS[track_id]), TRACKS[track_id]
    base = car.base_setup()
    step = car.setting(TAPE).step or 0.0
    rows = [{**base, TAPE: tape} for tape in (change.before, change.after + step, change.after)]
    water = channels(car, track, rows_of(car, rows), find_pace(car, track))[:, WATER]
    limit = car.limits.water_temperature or np.inf
    assert change.setting == TAPE
    assert value - (water[0] - water[2]) <= limit + 1e-6
    assert value - (water[0] - water[1]) > limit - 1e-6
    assert found.plan.deltas[WATER] == pytest.approx(water[2] - water[0])


def test_no_tape_left_is_said_and_nothing_else_is_moved_for_it() -> None:
    found = answer("water 255", "tern-premier", "stonecup", grille_tape=0)
    assert "no-tape" in {note.kind for note in found.notes}
    assert not found.plan or not found.plan.changes


def test_tape_that_was_put_on_for_a_cure_is_not_taken_off_again() -> None:
    """A change the driver kept is not undone (design, section 7)."""
    track = TRACKS["stonecup"]
    car = at_track(CARS["tern-premier"], track)
    kept = History((PastStep(TAPE, 20.0, 40.0, "fixed"),))
    found = advise(read("water 255"), car, track, car.base_setup(), history=kept)
    assert found.status == "not_possible"
    assert found.clash is not None and "history" in {fact.kind for fact in found.clash.members}
