"""What a right-hand corner does to a car that is not its own mirror image."""

import numpy as np
import pytest

from engine.car import Setup
from engine.channels import CHANNELS
from engine.model import State, find_pace, predict, rows_of, simulate
from engine.model_loads import roll_centres
from engine.model_values import base_of, mirror, values_of
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks

CAR, LEFT = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
RIGHT = LEFT.model_copy(
    update={"corners": tuple(c.model_copy(update={"turn": "right"}) for c in LEFT.corners)}
)
BASE = CAR.base_setup()


def in_right_turn(setup: Setup) -> State:
    """The car in the demo oval run the other way round."""
    pull = find_pace(CAR, RIGHT).pull[0]
    return simulate(CAR, RIGHT, RIGHT.corners[0], values_of(CAR, rows_of(CAR, [setup])), base_of(CAR), pull)


@pytest.mark.parametrize(("tyre", "key"), [(0, "camber_lf"), (1, "camber_rf")])
def test_camber_with_the_top_outward_leans_the_right_way(tyre: int, key: str) -> None:
    """Camber is + with the top outward on either side (SAE J670, from memory): in a right-hand corner more
    of it leans the left front out of the turn and the right front into it."""
    more = {**BASE, key: BASE[key] + 1.0}
    gained = in_right_turn(more)
    still = in_right_turn(BASE)

    lean = np.degrees(gained.own(gained.lean)[tyre] - still.own(still.lean)[tyre]).mean()

    assert lean == pytest.approx(-1.0 if tyre == 0 else 1.0, abs=0.05)


def test_an_oval_set_up_runs_out_of_front_camber_the_other_way_round() -> None:
    """The outside front leans out of the turn by its static camber as well as by roll:

    tighter by a long way."""
    there, here = predict(CAR, RIGHT, BASE), predict(CAR, LEFT, BASE)
    upright = predict(CAR, RIGHT, {**BASE, "camber_lf": -2.5})

    assert there["camber-window/LF"] > here["camber-window/LF"] + 3
    assert upright["balance/centre/half"] < there["balance/centre/half"] - 3


def test_camber_windows_are_read_where_the_tyre_is_outside() -> None:
    """On a road course either front tyre is judged in the corners that load it:

    one degree of camber is one degree."""
    track = shipped_tracks()["fernbrook"]
    for tyre, key in (("LF", "camber_lf"), ("RF", "camber_rf")):
        more = predict(CAR, track, {**BASE, key: BASE[key] + 0.5})
        assert more[f"camber-window/{tyre}"] - predict(CAR, track, BASE)[f"camber-window/{tyre}"] == (
            pytest.approx(0.5, abs=0.05)
        )
    assert "camber-window/LF" in CHANNELS


def test_the_track_bar_hangs_on_the_right_side_of_the_chassis_either_way() -> None:
    """The chassis end is on the right rear whichever way the corner goes, so its ride height moves the roll
    centre."""
    base = base_of(CAR)
    for key, moves in (("ride_height_rr", True), ("ride_height_lr", False)):
        v = values_of(CAR, rows_of(CAR, [{**BASE, key: BASE[key] + 0.5}]))
        for here, there in ((v, base), (mirror(v), mirror(base))):
            before = roll_centres(CAR.physics, there, there)
            after = roll_centres(CAR.physics, here, there)
            assert bool(np.any(np.abs(after[1] - before[1]) > 1e-6)) == moves
