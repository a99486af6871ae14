"""What a run does: air, wear, pressures, cambers, water, revs, straight speed, lock-up margins."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from engine import model_grip as grip
from engine.car import Car
from engine.channels import OTHER, WEAR
from engine.model_loads import Motion, weigh
from engine.model_values import Array, Values, values_of
from engine.track import WEAR_FACTOR, Track
from engine.units import G, UNITS, from_si
from engine.vehicle import Physics

if TYPE_CHECKING:
    from engine.model import State

AIR_DENSITY = 1.2
WEAR_POWER = 6.0


def air(p: Physics, v: Values, base: Values) -> tuple[Array, Array, Array]:
    """Downforce areas front and rear and drag area (n, 1, 1), m2."""
    steeper = v["spoiler"] - base["spoiler"]
    rear_gain = p.spoiler_down * steeper
    lever = p.spoiler_arm / p.wheelbase
    nose_down = (
        (v["ride_height_lr"] + v["ride_height_rr"]) - (v["ride_height_lf"] + v["ride_height_rf"])
    ) / 2
    base_down = (
        (base["ride_height_lr"] + base["ride_height_rr"]) - (base["ride_height_lf"] + base["ride_height_rf"])
    ) / 2
    more_tape = v["grille_tape"] - base["grille_tape"]
    front = (
        p.lift_area_front
        + p.tape_down * more_tape
        + p.rake_down * (nose_down - base_down)
        - rear_gain * lever
    )
    rear = p.lift_area_rear + rear_gain * (1 + lever)
    drag = p.drag_area + p.spoiler_drag * steeper - p.tape_drag * more_tape
    return front, rear, drag


def distance(p: Physics, v: Values) -> Array:
    """Length of a fuel run, m: the tank down to its last twentieth."""
    return np.asarray(0.95 * v["fuel"] * p.fuel_economy)


def wear(p: Physics, v: Values, track: Track, used: grip.Use, motion: Motion) -> Array:
    """Share of each tyre worn at the end of the run (4, n, 1, 1): sliding work, which grows steeply with the share of grip used."""
    axle = np.stack((used.front, used.front, used.rear, used.rear))
    work = (used.peak / p.load_reference) * (axle / 0.93) ** WEAR_POWER
    mean = work.mean(axis=(2, 3), keepdims=True)
    rate = grip._tyre_four(p.wear_rate, v) * WEAR_FACTOR[track.wear]
    return np.asarray(1 - np.exp(-rate * mean * distance(p, v) / 1e5))


def outcomes(car: Car, track: Track, setups: Array, states: Sequence["State"]) -> Array:
    """The channels that are not balance, (n, 17), in `WEAR + OTHER` order and units."""
    p, n = car.physics, len(setups)
    v = values_of(car, setups)
    base = values_of(car, np.array([[s.base for s in car.settings]]))
    worn = 100 * _mean(track, [_own(s, s.worn) for s in states])[:, :, 0, 0]
    hot = _mean(track, [_own(s, s.hot) for s in states])[:, :, 2, 0]
    load = _mean(track, [_own(s, s.load) for s in states])[:, :, 2, 2]
    window = (hot - grip.best_pressure(p, load)) / UNITS["psi"].factor
    leans = [(s.lean[0], s.lean[1]) if s.corner.turn == "left" else (s.lean[1], s.lean[0]) for s in states]
    camber = [_mean(track, [np.broadcast_to(pair[i], (n, 3, 5)) for pair in leans])[:, 2, 2] for i in (0, 1)]
    speed, rpm, water = straight(p, v, base, track, states)
    lock_f, lock_r = lockup(p, v, base, track)
    columns = [
        *worn,
        worn[1] - worn[3],
        worn[0] - worn[2],
        water,
        rpm,
        speed,
        lock_f,
        lock_r,
        *window,
        np.degrees(camber[0] - p.camber_best),
        -np.degrees(camber[1] - p.camber_best),
    ]
    assert len(columns) == len(WEAR + OTHER)
    return np.stack([np.broadcast_to(np.ravel(c), (n,)) for c in columns], axis=1)


def straight(
    p: Physics, v: Values, base: Values, track: Track, states: Sequence["State"]
) -> tuple[Array, Array, Array]:
    """Speed (mph), rpm and water temperature (degF) at the end of the longest straight.

    Constant power against drag: u^3 = P/k - (P/k - u0^3) exp(-3 k s / m), k = rho CdA / 2 (energy balance)."""
    _, _, drag = (np.ravel(a) for a in air(p, v, base))
    start = max(float(s.motion.speed[..., 4].max()) for s in states)
    k = 0.5 * AIR_DENSITY * drag
    power = 0.85 * p.power
    cube = power / k - (power / k - start**3) * np.exp(-3 * k * track.straight / p.mass)
    speed = np.cbrt(cube)
    top = next((f"gear_{i}" for i in (4,)), "gear_4")
    rolling = p.tyre_radius
    rpm = speed / rolling * np.ravel(v["final_drive"] * v[top]) * 60 / (2 * np.pi)
    cooling = 1 - p.water_tape * np.ravel(v["grille_tape"])
    water = track.air + p.water_rise * (p.power / 450e3) ** 0.7 / cooling * (55.0 / speed) ** 0.4
    return from_si(1, "mph") * speed, rpm, (water - 459.67 * 5 / 9) * 9 / 5


def lockup(p: Physics, v: Values, base: Values, track: Track) -> tuple[Array, Array]:
    """Share of grip left front and rear when braking hardest in a straight line, %."""
    w = weigh(p, v, base, np.array([1.0, 0.5, 0.05]).reshape(1, 3, 1))
    weight = w.mass * G
    hard = max(p.brake_effort) * 1.6 + max(p.engine_braking)
    shift = weight * hard * p.cg_height / p.wheelbase
    brake, engine = weight * max(p.brake_effort) * 1.6, weight * max(p.engine_braking)
    front, rear = weight * w.nose + -(-shift), weight * (1 - w.nose) - shift
    mu = p.grip * track.grip
    used_f = brake * v["brake_bias"] / (mu * front / (1 + (front / 2 / p.load_limit) ** 2))
    used_r = (brake * (1 - v["brake_bias"]) + engine) / (
        mu * p.grip_rear * rear / (1 + (rear / 2 / p.load_limit) ** 2)
    )
    return tuple(100 * (1 - np.ravel(u.max(axis=1))) for u in (used_f, used_r))  # type: ignore[return-value]


def _own(state: "State", tyres: Array) -> Array:
    """Tyres back to the driver's sides."""
    return tyres if state.corner.turn == "left" else tyres[[1, 0, 3, 2]]


def _mean(track: Track, parts: Sequence[Array]) -> Array:
    weights = [c.weight for c in track.corners]
    return np.asarray(sum(w * part for w, part in zip(weights, parts, strict=True)) / sum(weights))
