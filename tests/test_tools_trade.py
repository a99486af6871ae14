"""What a set-up builder would do, done by the engine: common practice, no source (handbook section 7), each
marked."""

import pytest

from engine.adviser import advise
from engine.channels import CHANNELS
from engine.sheets import DEFAULT_TRACK, at_track, shipped_cars, shipped_tracks
from engine.tools.compare import compare
from engine.tools.package import package
from engine.verdict import PlanView
from grammar.reader import read

TRACK = shipped_tracks()[DEFAULT_TRACK]
CARS = {key: at_track(car, TRACK) for key, car in shipped_cars().items()}
CAR = CARS["tern-premier"]
HALF = [CHANNELS.index(f"balance/{phase}/half") for phase in ("entry-braking", "entry-rolling")]
TIGHTENS = {
    "nose_weight": 1, "cross_weight": 1, "spring_rr": -1, "spring_lr": 1, "spring_rf": 1,
    "track_bar_left": -1, "track_bar_right": -1,
}  # fmt: skip
"""The way in which each payer tightens (handbook section 6)."""


def plan_of(text: str, car: str) -> PlanView:
    """The change list for a complaint about a class's base set-up."""
    found = advise(read(text), CARS[car], TRACK, CARS[car].base_setup()).plan
    assert found is not None
    return found


@pytest.mark.parametrize("car", ["tern-challenge", "tern-club"])
def test_a_lighter_class_a_little_tight_wants_cross_out_first(car: str) -> None:
    """Half to one point less cross first (common practice, no source)."""
    changes = {c.setting: c.after - c.before for c in plan_of("a little tight everywhere", car).changes}

    assert list(changes) == ["cross_weight"]
    assert -1.0 <= changes["cross_weight"] <= -0.5


@pytest.mark.parametrize("car", ["tern-challenge", "tern-club"])
def test_on_the_rear_springs_it_is_both_by_as_much(car: str) -> None:
    """Both rear springs stiffer by 20 to 50 lb/in, the split kept (common practice, no source)."""
    plan = plan_of("a little tight everywhere, only the rear springs, keep the rear split", car)
    changes = {c.setting: c.after - c.before for c in plan.changes}

    assert set(changes) == {"spring_lr", "spring_rr"}
    assert 20 <= changes["spring_lr"] == changes["spring_rr"] <= 50


def test_cross_is_reached_for_before_the_rear_springs() -> None:
    """Cross first, then rear springs (common practice, no source): the order is the sheets' own."""
    for car in CARS.values():
        reach = {move.key: move.reach for move in car.moves}
        assert reach["cross_weight"] < reach["rear_springs_both"] < reach["nose_weight"]


def test_both_rear_springs_stiffer_free_the_car() -> None:
    """Keeping the split (common practice, no source)."""
    base = CARS["tern-challenge"].base_setup()
    stiffer = {**base, "spring_lr": base["spring_lr"] + 20, "spring_rr": base["spring_rr"] + 20}

    net = compare(CARS["tern-challenge"], TRACK, base, stiffer).net
    assert net[CHANNELS.index("balance/centre/half")] < -0.1


def test_swapping_the_front_springs_tightens_entry() -> None:
    """The left front is the stiffer of the two; changed over, the car turns in tighter (common practice, no
    source)."""
    base = CAR.base_setup()
    assert base["spring_lf"] > base["spring_rf"]

    net = compare(
        CAR, TRACK, base, base | {"spring_lf": base["spring_rf"], "spring_rf": base["spring_lf"]}
    ).net
    assert all(net[i] > 0 for i in HALF)


@pytest.mark.parametrize("sizes", [1, 2])
def test_a_softer_front_bar_is_paid_for(sizes: int) -> None:
    """With nose weight, cross, a softer rear or less split (common practice, no source)."""
    base, bar = CAR.base_setup(), CAR.setting("front_bar")
    softer = bar.value_at(bar.click_of(base["front_bar"]) - sizes)

    held = package(CAR, TRACK, base, {"front_bar": softer})
    moved = {k: held.setup[k] - base[k] for k in base if k != "front_bar" and held.setup[k] != base[k]}
    assert held.met
    assert any(key in TIGHTENS and change * TIGHTENS[key] > 0 for key, change in moved.items())


def test_without_cross_the_bar_is_paid_for_at_the_nose_or_the_rear() -> None:
    """Nose weight, softer rears or less split when cross and track bar are to stay (common practice, no
    source)."""
    base, bar = CAR.base_setup(), CAR.setting("front_bar")
    softer = bar.value_at(bar.click_of(base["front_bar"]) - 1)
    kept = frozenset({"cross_weight", "track_bar_left", "track_bar_right", "stagger"})

    held = package(CAR, TRACK, base, {"front_bar": softer}, kept)
    split = (held.setup["spring_rr"] - held.setup["spring_lr"]) - (base["spring_rr"] - base["spring_lr"])
    nose = held.setup["nose_weight"] - base["nose_weight"]
    rears = held.setup["spring_rr"] + held.setup["spring_lr"] - base["spring_rr"] - base["spring_lr"]
    assert nose > 0 or rears < 0 or split < 0
