"""The chassis model: (car, track, set-ups) → channels. Pure functions; SI inside; one call takes any number of set-ups.

The pace (speed per phase) is solved for the car's base set-up at the track, so that the harder-worked axle uses `LIMIT` of its
grip in every phase, and is then held: balance is what the driver feels at the same pace.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine import model_grip as grip
from engine import model_loads as loads
from engine import model_run as run
from engine.car import Car, Setup
from engine.channels import CHANNELS
from engine.model_values import Array, Values, mirrored, values_of
from engine.track import Corner, Track
from engine.units import G
from engine.vehicle import Physics

LIMIT = 0.93
"""Share of grip the harder-worked axle uses at the driver's pace (design choice; common practice, no source)."""
STAGES_LEFT = np.array([1.0, 0.5, 0.05]).reshape(1, 3, 1)
"""Share of the fuel still in the tank at each stage."""
WARM = np.array([0.7, 1.0, 1.0]).reshape(1, 1, 3, 1)
"""Share of the tyres' running temperature rise at each stage."""
AIR_DENSITY = 1.2
PACES = np.linspace(0.15, 2.6, 50)
"""Accelerations towards the turn's centre tried when solving the pace, g."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Acceleration towards the middle of each kind of corner, g, (corners, 3, 5), held while set-ups are compared."""

    pull: Array


@dataclass(frozen=True, slots=True)
class State:
    """Everything about one kind of corner: motion, loads, grip used. Sides as the driver sees them (not mirrored)."""

    corner: Corner
    motion: loads.Motion
    load: Array  # (4, n, 3, 5) N
    use: grip.Use
    worn: Array  # (4, n, 1, 1)
    hot: Array  # (4, n, 3, 1) Pa
    lean: tuple[Array, Array]
    weights: loads.Weights


def find_pace(car: Car, track: Track) -> Pace:
    """The pace of the base set-up: solved on a grid of accelerations, then by linear interpolation in a finer one."""
    base = values_of(car, _rows(car, [car.base_setup()]))
    return Pace(np.stack([_solve(car, track, c, base) for c in track.corners]))


def channels(car: Car, track: Track, setups: Array, pace: Pace | None = None) -> Array:
    """Channels (n, channels) of `setups` (n, settings; sheet units and order); columns as `engine.channels.CHANNELS`."""
    pace = pace or find_pace(car, track)
    states = simulate(car, track, setups, pace)
    trim = np.array(car.physics.trim)
    share = _weighted([(s.use.front - s.use.rear + trim) for s in states], track)
    balance = share.reshape(len(setups), 15) / feel(car, track, pace)
    return np.concatenate([balance, run.outcomes(car, track, setups, states)], axis=1)


def predict(car: Car, track: Track, setup: Setup, pace: Pace | None = None) -> dict[str, float]:
    """Channel → value for one set-up."""
    row = channels(car, track, _rows(car, [setup]), pace)[0]
    return dict(zip(CHANNELS, map(float, row), strict=True))


def feel(car: Car, track: Track, pace: Pace) -> float:
    """Share of grip that is 1 feel: what one point of cross-weight does to the centre at half fuel at the base set-up."""
    base = values_of(car, _rows(car, [car.base_setup()]))
    step = np.array([0.005, -0.005]).reshape(-1, 1, 1)
    both = {**base, "cross_weight": base["cross_weight"] + step}
    states = [simulate_corner(car, track, c, both, base, pace.pull[i]) for i, c in enumerate(track.corners)]
    share = _weighted([s.use.front - s.use.rear for s in states], track)
    return max(float(share[0, 1, 2] - share[1, 1, 2]), 1e-4)


def simulate(car: Car, track: Track, setups: Array, pace: Pace) -> list[State]:
    """One state per kind of corner."""
    base = values_of(car, _rows(car, [car.base_setup()]))
    v = values_of(car, setups)
    return [simulate_corner(car, track, c, v, base, pace.pull[i]) for i, c in enumerate(track.corners)]


def simulate_corner(
    car: Car, track: Track, corner: Corner, v: Values, base: Values, pull: Array, worn: Array | None = None
) -> State:
    """The car in one kind of corner at a given pace. `pull` broadcasts against (n, 3, 5)."""
    p = car.physics
    if corner.turn == "right":
        v, base = mirrored(v), mirrored(base)
    radius, bank = np.array(corner.radius), np.array(corner.banking)
    speed = np.sqrt(pull * G * radius)
    press = 0.5 * AIR_DENSITY * speed**2
    down_f, down_r, drag = run.air(p, v, base)
    push = grip.forward(p, corner.effort, drag * press)
    motion = loads.Motion(pull * np.cos(bank) - np.sin(bank), pull * np.sin(bank) + np.cos(bank), push, speed)
    weights = loads.weigh(p, v, base, STAGES_LEFT)
    load = loads.tyre_loads(p, v, base, weights, motion, (down_f * press, down_r * press))
    hot = grip.hot_pressure(p, v, track.air, WARM)
    roll = loads.body_roll(p, v, weights, motion)
    leans = grip.lean(p, v, roll, p.wheelbase / radius)
    peak = grip.peaks(p, v, load, hot, leans, track.grip)
    force = grip.along(p, v, base, weights, motion, drag * press, load, radius, corner.effort)
    if worn is None:
        worn = run.wear(p, v, track, grip.use(p, weights, motion, peak, force), motion)
    fade = 1 - p.wear_grip * worn * (1 - STAGES_LEFT)
    used = grip.use(p, weights, motion, peak * fade, force)
    return State(corner, motion, load, used, worn, hot, leans, weights)


def _solve(car: Car, track: Track, corner: Corner, base: Values) -> Array:
    fresh = np.zeros((4, 1, 1, 1))
    bank = np.tan(np.array(corner.banking)) * 0.6
    pull = PACES.reshape(-1, 1, 1) + np.zeros((1, 3, 5)) + bank
    pull = _cross(pull, _most(simulate_corner(car, track, corner, base, base, pull, fresh)))
    worn = simulate_corner(car, track, corner, base, base, pull[None]).worn
    near = pull[None] * np.linspace(0.9, 1.06, 9).reshape(-1, 1, 1)
    return _cross(near, _most(simulate_corner(car, track, corner, base, base, near, worn)))


def _most(state: State) -> Array:
    return np.maximum(state.use.front, state.use.rear)


def _cross(pull: Array, used: Array) -> Array:
    """Where `used` first passes LIMIT along the first axis; the last point tried if it never does."""
    above = used >= LIMIT
    at = np.where(above.any(axis=0), above.argmax(axis=0), len(pull) - 1)
    at = np.maximum(at, 1)[None]
    x0, x1 = (np.take_along_axis(pull, at - k, 0)[0] for k in (1, 0))
    y0, y1 = (np.take_along_axis(used, at - k, 0)[0] for k in (1, 0))
    part = np.clip((LIMIT - y0) / np.where(np.abs(y1 - y0) < 1e-12, 1.0, y1 - y0), 0.0, 1.0)
    return np.asarray(x0 + part * (x1 - x0))


def _weighted(parts: Sequence[Array], track: Track) -> Array:
    weights = [c.weight for c in track.corners]
    total = sum(w * part for w, part in zip(weights, parts, strict=True))
    return np.asarray(total / sum(weights))


def _rows(car: Car, setups: Sequence[Setup]) -> Array:
    """Set-ups as an array (n, settings)."""
    return np.array([[setup[s.key] for s in car.settings] for setup in setups])
