"""Grip of the four tyres, forces along the car, stagger's yaw moment, and the share of its side grip each
axle uses."""

from dataclasses import dataclass

import numpy as np

from engine.model_bends import Bend
from engine.model_loads import Loads, Motion, Weights, column, row
from engine.model_values import Array, Values
from engine.physics.gas import hot_gauge
from engine.physics.stagger import slip_apart
from engine.physics.tyre import peak_saturating
from engine.units import G
from engine.vehicle import Physics


@dataclass(frozen=True, slots=True)
class Use:
    """Share of its side grip each axle uses (2, n, 3, 5), and the forces behind it: `peak`, `along` (4,
    n, 3, 5) N."""

    axle: Array
    peak: Array
    along: Array


def own_sides(four: tuple[float, ...], v: Values) -> Array:
    """A constant per tyre (4, 1, 1, 1), left and right changed over when the car is mirrored."""
    lf, rf, lr, rr = four
    return np.asarray(v.own(column(lf, rf, lr, rr), column(rf, lf, rr, lr)))


def hot_pressure(p: Physics, v: Values, air: float, warm: Array) -> Array:
    """Hot gauge pressure (4, n, 3, 1), Pa: absolute pressure grows as absolute temperature (gas law,
    fixed volume)."""
    return hot_gauge(v.four("pressure"), air, air + own_sides(p.heat, v) * warm)


def best_pressure(p: Physics, load: Array) -> Array:
    """Hot pressure the tyre likes at a load, Pa: grows with load."""
    slope = p.pressure_best * p.pressure_best_growth / p.load_reference
    return np.asarray(load * slope + p.pressure_best * (1 - p.pressure_best_growth))


def lean(p: Physics, v: Values, roll: Array, steer: Array) -> Array:
    """Lean of both front tyres into the turn (2, n, 3, 5), rad: static camber and caster with lock, less
    body roll."""
    still = v.two("camber_lf") * column(1, -1) + v.two("caster_lf") * steer
    return np.asarray(still - roll * (1 - p.camber_gain))


def peaks(p: Physics, v: Values, loads: Loads, hot: Array, leans: Array, surface: float) -> Array:
    """Peak force of each tyre without wear, N: mu0 F / (1 + (F/Fc)^2), less pressure, camber and toe losses.

    The shape follows the measured peaks of RCVD fig. 2.9 (quoted in Wikipedia, Tire load sensitivity),
    where friction falls faster the heavier the load; Fc is the load at which more load gives no more
    force."""
    load = loads.tyre
    grip = p.grip * surface * column(1, 1, p.grip_rear, p.grip_rear)
    error = hot / best_pressure(p, load) - 1
    peak = peak_saturating(load, grip, p.load_limit) / (1 + p.pressure_loss * error * error)
    off = leans - p.camber_best
    scrub = 1 + p.toe_loss * (v.one("toe_front") - p.toe_best) ** 2
    peak[:2] /= (1 + p.camber_loss * off * off) * scrub
    return np.asarray(peak)


def gearing(v: Values, base: Values, gear: int) -> Array:
    """Overall ratio over the base ratio (n, 1, 1)."""
    key = f"gear_{gear}"
    return np.asarray(v.one(key) * v.one("final_drive") / (base.one(key) * base.one("final_drive")))


def _ratios(v: Values, base: Values, gears: tuple[int, ...]) -> Array:
    """`gearing` in the gear of each kind of corner (n, 1, 1)."""
    if len(set(gears)) == 1:
        return gearing(v, base, gears[0])
    n = v.rows.shape[1] // len(gears)
    return np.concatenate([gearing(v, base, gear)[n * k : n * (k + 1)] for k, gear in enumerate(gears)])


def along(p: Physics, v: Values, base: Values, w: Weights, bend: Bend, load: Array, gone: Array) -> Array:
    """Forces along the car at each tyre (4, n, 3, 5), N: brakes by bias, engine braking and drive by
    gearing, stagger.

    The driver slows down and picks up as hard at any stage, so that both forces fall with the car's weight.
    `gone`: share of the run behind him (1, 3, 1)."""
    weight = w.mass * G
    ratio = _ratios(v, base, bend.gears)
    brake = weight * bend.effort * row(p.brake_effort)
    engine = weight * bend.effort * row(p.engine_braking) * ratio**2
    drive = weight * bend.throttle * row(p.drive) * ratio ** row(p.drive_gearing)
    bias = v.one("brake_bias")
    front, rear = -brake * bias / 2, (drive - engine - brake * (1 - bias)) / 2
    apart = stagger_force(p, v, base, load, bend.radius, gone)
    force = np.empty(load.shape)
    force[:2] = front
    force[2], force[3] = rear - apart, rear + apart
    return force


def forward(p: Physics, bend: Bend, drag: Array) -> Array:
    """Forward acceleration in each phase (n, 3, 5), g, at the base gearing."""
    slow = row(p.engine_braking) + row(p.brake_effort)
    push = bend.throttle * row(p.drive) - bend.effort * slow
    return np.asarray(push - drag / (p.mass * G))


def stagger_force(p: Physics, v: Values, base: Values, load: Array, radius: Array, gone: Array) -> Array:
    """Half the difference of drive force of right and left rear tyre on a locked axle (n, 3, 5), N.

    Slip left over when rollouts do not fit the turn: S / (2 pi r) - track / R; more air makes a taller
    tyre (S50: right up or left down = more stagger), and heat makes the outside rear grow through the run,
    which loosens the car (S63)."""
    more = v.four("pressure")[2:] - base.four("pressure")[2:]
    rollout = v.one("stagger") + p.stagger_pressure * (more[1] - more[0]) + p.stagger_growth * gone
    slip = slip_apart(rollout, 2 * np.pi * p.tyre_radius, p.track_rear, radius)
    both = load[2] * load[3] / (load[2] + load[3])
    return np.asarray(both * (np.tanh(slip / 0.05) * (0.05 * p.slip_stiffness)))


def use(p: Physics, w: Weights, m: Motion, peak: Array, force: Array) -> Use:
    """Share of its side grip each axle uses, with the forces behind it."""
    return Use(share(demand(p, w, m, force), peak, force), peak, force)


def demand(p: Physics, w: Weights, m: Motion, force: Array) -> Array:
    """Side force each axle must give (2, n, 3, 5), N: its share of the turn, turning in, stagger's moment."""
    turning = p.yaw_inertia * row(p.yaw_lead) * m.turning
    yaw = ((force[3] - force[2]) * (p.track_rear / 2) - turning) / p.wheelbase
    need = w.mass * (G * m.lateral) * w.axle
    need[0] -= yaw
    need[1] += yaw
    return need


def share(need: Array, peak: Array, force: Array) -> Array:
    """Side force each axle needs over what its two tyres have left beside their forces along (friction
    ellipse)."""
    room = _room(peak, force)
    return np.asarray(need / (room[0::2] + room[1::2]))


def _room(peak: Array, force: Array) -> Array:
    """Side grip left of each tyre, N; stays above zero and smooth when the forces along ask for more than
    there is."""
    rest = 1 - (force / peak) ** 2
    return np.asarray(peak * np.sqrt((np.sqrt(rest * rest + 0.01) + rest) / 2))
