"""The four loads of the assembled model balance the whole car: a check by statics, whatever springs and
dampers do inside.

Sum of loads: weight into the track plus air. Roll moment about the middle of the track: side force at the
height of the CG, the weight beside the middle, and the sideways shift of the rolled body. Pitch moment:
force along at the height of the CG."""

from typing import Any

import numpy as np
import pytest
from assembled import loads_in, moved, physics_with, values_with

from engine.car import Car
from engine.model import State, find_pace, rows_of, simulate
from engine.model_loads import column, roll_centres
from engine.model_run import air_forces
from engine.model_values import Array, Values, base_of, mirror, values_of
from engine.sheets import shipped_cars, shipped_tracks
from engine.units import G

CASES = [
    pytest.param(car, track, id=f"{car}-{track}") for car in shipped_cars() for track in shipped_tracks()
]


def anywhere(car: Car, count: int) -> Array:
    """Set-ups spread over the whole sheet, seeded; the base first."""
    rng = np.random.default_rng(20)
    rows = [car.base_setup()]
    for _ in range(count):
        near = {s.key: s.click_of(s.base) + rng.integers(-3, 4) for s in car.settings}
        rows.append({s.key: s.value_at(int(np.clip(near[s.key], 0, s.last))) for s in car.settings})
    return rows_of(car, rows)


@pytest.mark.parametrize(("car", "track"), CASES)
def test_loads_balance_the_car(car: str, track: str) -> None:
    """All three balances hold to rounding at every stage and phase, for set-ups all round the base."""
    sheet, place = shipped_cars()[car], shipped_tracks()[track]
    pace = find_pace(sheet, place)
    for corner, pull in zip(place.corners, pace.pull, strict=True):
        v, base = values_of(sheet, anywhere(sheet, 20)), base_of(sheet)
        state = simulate(sheet, place, corner, v, base, pull)
        if corner.turn == "right":
            v, base = mirror(v), mirror(base)
        _balanced(sheet.physics, v, base, state)


def _balanced(p: Any, v: Values, base: Values, state: State) -> None:
    m, w, tyre = state.motion, state.weights, state.loads.tyre
    down, _ = air_forces(p, v, base, m.speed)
    weight = w.mass * G
    height = p.cg_height + (v.four("ride_height") - base.four("ride_height")).mean(axis=0)
    into = weight * m.normal

    assert tyre.sum(axis=0) == pytest.approx(into + down.sum(axis=0), rel=1e-12)
    pitch = weight * m.forward * height
    rear = into * w.axle[1] + down[1] + pitch / p.wheelbase
    assert tyre[2] + tyre[3] == pytest.approx(rear, rel=1e-12)

    share = (tyre[1::2] - tyre[0::2]) / (tyre[1::2] + tyre[0::2])
    assert np.abs(share).max() < 0.9
    beside = ((w.corner[1::2] - w.corner[0::2]) * column(p.track_front, p.track_rear) / 2).sum(axis=0)
    made = ((tyre[1::2] - tyre[0::2]) * column(p.track_front, p.track_rear) / 2).sum(axis=0)
    shifted = _body_moment(p, v, base, state, height) * m.normal * state.loads.roll
    assert made == pytest.approx(beside * m.normal + weight * m.lateral * height + shifted, rel=1e-9)


def _body_moment(p: Any, v: Values, base: Values, state: State, height: Array) -> Array:
    """Weight of the sprung mass times the height of its CG over the roll axis, N m."""
    w = state.weights
    heavy = np.array([p.unsprung_front, p.unsprung_rear])
    sprung = w.mass - heavy.sum()
    front = (w.mass * w.axle[0] - heavy[0]) / sprung
    centre = roll_centres(p, v, base)
    axis = front * centre[0] + (1 - front) * centre[1]
    return np.asarray((w.mass * height - heavy.sum() * p.unsprung_height - sprung * axis) * G)


@pytest.mark.parametrize("end", [0, 1], ids=["front", "rear"])
def test_a_damper_presses_its_own_end_and_leans_the_body_on_the_other(end: int) -> None:
    """A rolling body closes the right damper of one end: force = rate x ratio squared x speed at the damper,
    moment about the middle = force x half its base. The body takes that moment back through both ends by
    their stiffness, so the right wheel gains at this end what it loses at the other (statics, by hand; rigid
    tyres, stiff springs)."""
    speed, rate, clicks, ratio, narrow, track = 0.05, 900.0, 8.0, 0.8, 0.7, 1.6
    p = physics_with(
        roll_speed=(speed,) * 5,
        damper_rate=rate,
        motion_ratio_front=ratio,
        motion_ratio_rear=ratio,
        track_front=track,
        track_rear=track,
        spring_base_rear=track * narrow,
        tyre_rate=1e18,
    )
    stiff = {"spring_lf": 3e9, "spring_rf": 3e9, "spring_lr": 2e9, "spring_rr": 2e9, "front_bar": 0.0}
    dampers = {f"{kind}_{c}": 0.0 for kind in ("compression", "rebound") for c in ("lf", "rf", "lr", "rr")}
    even = {"left_weight": 0.5, "cross_weight": 0.5, **stiff, **dampers}
    calm = loads_in(p, values_with(even), 0.0)
    load = loads_in(p, values_with({**even, ("compression_rf", "compression_rr")[end]: clicks}), 0.0)

    base = track * (1.0, narrow)[end]
    moment = rate * clicks * ratio**2 * (speed * base / track) * base / 2
    share = np.array([3e9 * track**2, 2e9 * (track * narrow) ** 2])
    gained = moment * ((np.arange(2) == end) - share / share.sum()) / track
    assert moved(load - calm) == pytest.approx(gained, rel=1e-5)
    assert gained[end] > 0
