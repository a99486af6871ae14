"""The chassis model: sums, symmetry, smoothness, limits, and behaviour over a run.

Where a check has a source it is named; "handbook" rows are trade material collected in our rule file."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.car import Car, Setup
from engine.channels import CHANNELS
from engine.model import State, channels, find_pace, predict, rows_of, simulate, simulate_all
from engine.model_grip import stagger_force
from engine.model_linear import cornering_stiffness, gradient
from engine.model_loads import _held, weigh
from engine.model_run import AIR_DENSITY, LIMIT, air_areas
from engine.model_values import Values, base_of, mirror, values_of
from engine.physics.stagger import for_radius
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.track import Corner, Track
from engine.units import G, from_si

CAR, TRACK = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
BASE = CAR.base_setup()
PAIRS = [
    pytest.param(c, t, id=f"{c.id}-{t.id}")
    for c in shipped_cars().values()
    for t in shipped_tracks().values()
]


def anywhere(car: Car) -> st.SearchStrategy[Setup]:
    """Any set-up on the sheet."""
    return st.fixed_dictionaries({s.key: st.integers(0, s.last).map(s.value_at) for s in car.settings})


def physics(car: Car, **changes: Any) -> Car:
    """The car with other physics values (SI)."""
    return car.model_copy(update={"physics": car.physics.model_copy(update=changes)})


def track(base: Track, **changes: Any) -> Track:
    """The track with other values (SI)."""
    return base.model_copy(update=changes)


@pytest.mark.parametrize("track_id", sorted(shipped_tracks()))
@settings(max_examples=25, deadline=None)
@given(setup=anywhere(CAR))
def test_tyre_loads_add_up_to_weight_and_air(track_id: str, setup: Setup) -> None:
    """Newton's second law square to the track: sum of loads = m (g cos b + V^2/R sin b) + downforce."""
    where = shipped_tracks()[track_id]
    v, base = values_of(CAR, rows_of(CAR, [setup])), base_of(CAR)
    for corner, pull in zip(where.corners, find_pace(CAR, where).pull, strict=True):
        state = simulate(CAR, where, corner, v, base, pull)
        down, _ = air_areas(CAR.physics, v, base)
        bank, radius = np.array(corner.banking), np.array(corner.radius)
        pressed = 0.5 * AIR_DENSITY * (pull * G * radius) * down.sum(axis=0)
        expected = state.weights.mass * G * (np.cos(bank) + pull * np.sin(bank)) + pressed

        np.testing.assert_allclose(state.loads.tyre.sum(axis=0), expected, rtol=1e-12)


@settings(max_examples=60, deadline=None)
@given(setup=anywhere(CAR))
def test_nothing_breaks_anywhere_on_the_sheet(setup: Setup) -> None:
    """Every wheel on the track, every grip above zero, every channel a number."""
    v, base = values_of(CAR, rows_of(CAR, [setup])), base_of(CAR)
    state = simulate(CAR, TRACK, TRACK.corners[0], v, base, find_pace(CAR, TRACK).pull[0])

    assert (state.loads.tyre > 0).all()
    assert (state.use.peak > 0).all()
    assert ((state.worn > 0) & (state.worn < 1)).all()
    assert np.isfinite(channels(CAR, TRACK, rows_of(CAR, [setup]))).all()


@pytest.mark.parametrize("high", [False, True])
@pytest.mark.parametrize(("car", "where"), PAIRS)
def test_nothing_breaks_at_the_ends_of_every_setting(car: Car, where: Track, high: bool) -> None:
    rows = []
    for setting in car.settings:
        rows.append({**car.base_setup(), setting.key: setting.max if high else setting.min})
    rows.append({s.key: s.max if high else s.min for s in car.settings})

    assert np.isfinite(channels(car, where, rows_of(car, rows))).all()


@pytest.mark.parametrize("setting", CAR.settings, ids=lambda s: s.key)
def test_channels_are_continuous_over_the_whole_range(setting: Any) -> None:
    """Halving the step halves the largest jump (a step in the model would not shrink)."""
    jumps = []
    for count in (201, 401):
        rows = np.tile(rows_of(CAR, [BASE]), (count, 1))
        column = [s.key for s in CAR.settings].index(setting.key)
        rows[:, column] = np.linspace(setting.min, setting.max, count)
        jumps.append(np.abs(np.diff(channels(CAR, TRACK, rows), axis=0)).max(axis=0))

    assert (jumps[1] <= 0.6 * jumps[0] + 1e-9).all()


def mirrored(car: Car) -> Car:
    """The sheet with left and right changed over, written out by hand (not with the model's own mirror)."""
    other = {"_lf": "_rf", "_rf": "_lf", "_lr": "_rr", "_rr": "_lr"}
    by_key = car.by_key
    made = []
    for s in car.settings:
        twin = by_key.get(s.key[:-3] + other[s.key[-3:]], s) if s.key[-3:] in other else s
        base, low, high = twin.base, twin.min, twin.max
        if s.key in ("stagger", "steering_offset"):
            base, low, high = -base, -high, -low
        if s.key in ("cross_weight", "left_weight"):
            base, low, high = 100 - base, 100 - high, 100 - low
        made.append(s.model_copy(update={"base": base, "min": low, "max": high}))
    p = car.physics
    fixed = dict(p.fixed)
    swap = (1, 0, 3, 2)
    new = p.model_copy(
        update={
            "fuel_left": -p.fuel_left,
            "heat": tuple(p.heat[i] for i in swap),
            "wear_rate": tuple(p.wear_rate[i] for i in swap),
            "fixed": fixed,
        }
    )
    made_car = car.model_copy(update={"settings": tuple(made), "physics": new})
    made_car.__dict__.pop("by_key", None)
    return made_car


@pytest.mark.parametrize("track_id", ["millpond", "stonecup", "fernbrook"])
def test_a_car_in_the_mirror_feels_the_same_in_a_mirrored_turn(track_id: str) -> None:
    """Symmetry. The track bar keeps its ends: left means the axle end."""
    here = shipped_tracks()[track_id]
    turn = {"left": "right", "right": "left"}
    there = track(here, corners=tuple(c.model_copy(update={"turn": turn[c.turn]}) for c in here.corners))
    twin = mirrored(CAR)
    one, two = predict(CAR, here, BASE), predict(twin, there, twin.base_setup())

    for channel in CHANNELS:
        if channel.startswith(("balance", "lockup", "water", "top", "straight")):
            assert two[channel] == pytest.approx(one[channel], abs=1e-9), channel
    for a, b in (("LF", "RF"), ("LR", "RR")):
        assert two[f"wear/{a}"] == pytest.approx(one[f"wear/{b}"])
        assert two[f"pressure-window/{a}"] == pytest.approx(one[f"pressure-window/{b}"])


def test_mirroring_twice_gives_the_car_back() -> None:
    v = values_of(CAR, rows_of(CAR, [BASE]))
    np.testing.assert_allclose(mirror(mirror(v)).rows, v.rows)


@pytest.mark.parametrize(("car", "where"), PAIRS)
def test_the_pace_is_where_the_harder_worked_axle_uses_its_limit(car: Car, where: Track) -> None:
    """Design figure 0.93; the solve is linear between points, so 0.4 % is allowed."""
    base = base_of(car)
    for corner, pull in zip(where.corners, find_pace(car, where).pull, strict=True):
        used = simulate(car, where, corner, base, base, pull, at_limit=True).use.axle.max(axis=0)
        np.testing.assert_allclose(used, LIMIT, rtol=4e-3)


@pytest.mark.parametrize(("car", "where"), PAIRS)
def test_one_feel_is_one_point_of_cross_in_the_centre(car: Car, where: Track) -> None:
    """The definition of the unit; on a road course the mean size over the corners."""
    base = car.base_setup()
    up, down = ({**base, "cross_weight": base["cross_weight"] + d} for d in (0.5, -0.5))
    gained = predict(car, where, up)["balance/centre/half"] - predict(car, where, down)["balance/centre/half"]
    if where.kind == "oval":
        assert gained == pytest.approx(1.0, abs=1e-6)
    else:
        assert abs(gained) < 1.0  # tightens the lefts, loosens the rights


def test_static_loads_give_back_the_scale_readings() -> None:
    """LF = (nose + left - cross)/2 W and so on: cross = (RF + LR)/W (identity)."""
    v = values_of(CAR, rows_of(CAR, [BASE]))
    w = weigh(CAR.physics, v, v, np.array([[[1.0]]]))
    lf, rf, lr, rr = w.corner[:, 0, 0, 0]
    total = CAR.physics.mass * G

    assert lf + rf + lr + rr == pytest.approx(total)
    assert (lf + rf) / total == pytest.approx(BASE["nose_weight"] / 100)
    assert (lf + lr) / total == pytest.approx(BASE["left_weight"] / 100)
    assert (rf + lr) / total == pytest.approx(BASE["cross_weight"] / 100)


def test_stagger_that_fits_the_turn_gives_no_yaw_moment() -> None:
    """stagger = mean rollout * track / radius (handbook 2.9, arithmetic), on the first lap."""
    corner = TRACK.corners[0]
    fits = for_radius(corner.radius[2], CAR.physics.track_rear, 2 * np.pi * CAR.physics.tyre_radius)
    setups = rows_of(CAR, [BASE])
    setups[0, [s.key for s in CAR.settings].index("stagger")] = from_si(float(fits), "in")
    state = simulate(CAR, TRACK, corner, values_of(CAR, setups), base_of(CAR), find_pace(CAR, TRACK).pull[0])
    along = state.use.along[:, 0, :, 2]

    assert along[3, 0] == pytest.approx(along[2, 0])
    assert along[3, 2] > along[2, 2], "growth of the outside rear through the run drives it (S63)"


def test_brake_bias_is_felt_under_braking_only() -> None:
    """Handbook 2.10 (P: S7, S67, S68): tight while the pedal is down."""
    more = predict(CAR, TRACK, {**BASE, "brake_bias": BASE["brake_bias"] + 2})
    less = predict(CAR, TRACK, BASE)

    assert more["balance/entry-braking/half"] - less["balance/entry-braking/half"] > 0.2
    for phase in ("centre", "exit-first-throttle", "exit-full-throttle"):
        assert abs(more[f"balance/{phase}/half"] - less[f"balance/{phase}/half"]) < 0.05
    assert more["lockup-margin/front"] < less["lockup-margin/front"]
    assert more["lockup-margin/rear"] > less["lockup-margin/rear"]


def test_steering_ratio_does_not_change_the_balance() -> None:
    """Handbook section 7 (common practice): response, not balance."""
    quick = predict(CAR, TRACK, {**BASE, "steering_ratio": 8})
    assert quick == pytest.approx(predict(CAR, TRACK, BASE))


def test_air_in_the_right_rear_adds_stagger_and_the_left_rear_takes_it() -> None:
    """Handbook 2.7 (P: S50): right side up or left down = more stagger; the sum of all effects is in the
    signs table."""
    base = base_of(CAR)
    load, gone = np.full((4, 1, 3, 5), 4000.0), np.zeros((1, 3, 1))
    forces = []
    for key in ("pressure_rr", "pressure_lr"):
        v = values_of(CAR, rows_of(CAR, [{**BASE, key: BASE[key] + 2}]))
        forces.append(float(stagger_force(CAR.physics, v, base, load, np.array([82.0]), gone)[0, 0, 0]))
    still = float(stagger_force(CAR.physics, base, base, load, np.array([82.0]), gone)[0, 0, 0])

    assert forces[0] > still > forces[1]


def test_a_lifted_wheel_hands_its_load_to_the_other_axle() -> None:
    """Moment balance: what the rear axle cannot carry across, the front must; no wheel pulls at the track."""
    axle, wanted = np.array([[6000.0], [8000.0]]), np.array([[2000.0], [9000.0]])
    held = _held(axle, wanted)

    assert held.sum() == pytest.approx(wanted.sum())
    assert (np.abs(held) < axle).all()
    assert held[0] > wanted[0]


def test_the_linear_gradient_comes_from_the_same_tyres() -> None:
    """Axle load over axle stiffness, front less rear (Gillespie ch. 6): less rear grip makes it looser."""
    slick = physics(CAR, grip_rear=0.9 * CAR.physics.grip_rear)

    assert (cornering_stiffness(CAR, TRACK, BASE) > 0).all()
    assert gradient(slick, TRACK, BASE) < gradient(CAR, TRACK, BASE)


def test_values_keep_the_catalogue_order() -> None:
    """Slices of four corners hold what their names say."""
    v: Values = values_of(CAR, rows_of(CAR, [BASE]))
    for kind in ("spring", "pressure", "compression", "rebound", "ride_height"):
        for i, corner in enumerate(("lf", "rf", "lr", "rr")):
            np.testing.assert_array_equal(v.four(kind)[i], v.one(f"{kind}_{corner}"))
    np.testing.assert_array_equal(v.two("camber_lf")[1], v.one("camber_rf"))
    np.testing.assert_array_equal(v.two("caster_lf")[1], v.one("caster_rf"))
    np.testing.assert_array_equal(v.two("front_bar")[1], v.one("rear_bar"))


def numbers(state: State) -> list[Any]:
    """Every array of a state."""
    motion, weights, load, use = state.motion, state.weights, state.loads, state.use
    pairs = [getattr(pair, name) for pair in weights.support for name in ("heave", "couple", "roll")]
    moving = [motion.lateral, motion.normal, motion.forward, motion.speed, motion.turning]
    standing = [weights.corner, weights.mass, weights.axle, weights.left, *pairs]
    return [
        *moving,
        *standing,
        load.tyre,
        load.roll,
        use.axle,
        use.peak,
        use.along,
        state.worn,
        state.hot,
        state.lean,
    ]


@pytest.mark.parametrize("turns", ["left", "right", "both"])
def test_corners_side_by_side_are_each_what_they_are_alone(turns: str) -> None:
    """Computing several kinds of corner in one sweep is a matter of layout only: gears, efforts and hands
    that differ must not mix."""
    road = shipped_tracks()["fernbrook"].corners
    made: list[Corner] = [
        corner.model_copy(
            update={
                "turn": corner.turn if turns == "both" else turns,
                "gear": 2 + i % 3,
                "effort": 0.8 + 0.1 * i,
                "throttle": 1.1 - 0.1 * i,
                "twist": tuple(0.001 * i * k for k in range(5)),
            }
        )
        for i, corner in enumerate(road)
    ]
    where = track(shipped_tracks()["fernbrook"], corners=tuple(made))
    setups = [BASE, {**BASE, "cross_weight": 51.0, "spring_rf": CAR.setting("spring_rf").value_at(3)}]
    v, base, pace = values_of(CAR, rows_of(CAR, setups)), base_of(CAR), find_pace(CAR, where)
    together = simulate_all(CAR, where, v, base, pace)
    for corner, pull, found in zip(where.corners, pace.pull, together, strict=True):
        alone = simulate(CAR, where, corner, v, base, pull)
        assert found.corner is corner
        for mine, own in zip(numbers(found), numbers(alone), strict=True):
            np.testing.assert_allclose(mine, np.broadcast_to(own, mine.shape), rtol=1e-12, atol=1e-12)
