"""Grip of the four tyres, forces along the car, stagger's yaw moment, and the share of its side grip each axle uses."""

from dataclasses import dataclass

import numpy as np

from engine.model_loads import Motion, Weights
from engine.model_values import Array, Values
from engine.units import G
from engine.vehicle import Physics


@dataclass(frozen=True, slots=True)
class Use:
    """Share of its grip each axle uses, and what that came from. Tyre arrays are (4, n, 3, 5), axle arrays (n, 3, 5)."""

    front: Array
    rear: Array
    peak: Array  # N, best force of each tyre
    along: Array  # N, + = driving
    yaw: Array  # N m, stagger's moment, + = into the turn


def hot_pressure(p: Physics, v: Values, air: float, warm: Array) -> Array:
    """Hot gauge pressure (4, n, 3, 1), Pa: gas law on absolute pressure and temperature at constant volume."""
    atmosphere = 101325.0
    cold = np.stack(np.broadcast_arrays(*(v[f"pressure_{c}"] for c in ("lf", "rf", "lr", "rr"))))
    rise = _tyre_four(p.heat, v) * warm
    return np.asarray((cold + atmosphere) * (air + rise) / air - atmosphere)


def best_pressure(p: Physics, load: Array) -> Array:
    """Hot pressure the tyre likes at a load, Pa: grows with load."""
    return np.asarray(p.pressure_best * (1 + p.pressure_best_growth * (load / p.load_reference - 1)))


def lean(p: Physics, v: Values, roll: Array, steer: Array) -> tuple[Array, Array]:
    """Lean of the left and right front tyre into the turn, rad: static camber, caster with lock, less body roll."""
    lost = (1 - p.camber_gain) * roll
    return v["camber_lf"] + v["caster_lf"] * steer - lost, -v["camber_rf"] + v["caster_rf"] * steer - lost


def peaks(
    p: Physics, v: Values, load: Array, hot: Array, leans: tuple[Array, Array], surface: float
) -> Array:
    """Peak force of each tyre without wear, N: mu0 F / (1 + (F/Fc)^2), less pressure, camber and toe losses.

    The shape follows the measured peaks of RCVD fig. 2.9 (quoted in Wikipedia, Tire load sensitivity), where friction falls
    faster the heavier the load; Fc is the load at which more load gives no more force."""
    grip = p.grip * surface * np.array([1.0, 1.0, p.grip_rear, p.grip_rear]).reshape(4, 1, 1, 1)
    peak = grip * load / (1 + (load / p.load_limit) ** 2)
    error = hot / best_pressure(p, load) - 1
    peak = peak / (1 + p.pressure_loss * error**2)
    scrub = 1 + 0.6 * (v["toe_front"] / 0.0254 - 0.1) ** 2
    lost = np.stack(
        np.broadcast_arrays(*((1 + p.camber_loss * (a - p.camber_best) ** 2) * scrub for a in leans))
    )
    peak[:2] = peak[:2] / lost
    return np.asarray(peak)


def along(
    p: Physics,
    v: Values,
    base: Values,
    w: Weights,
    m: Motion,
    drag: Array,
    load: Array,
    radius: Array,
    effort: float,
) -> Array:
    """Forces along the car at each tyre, N: brakes by bias, engine braking and drive by gearing, stagger on a locked axle."""
    weight = p.mass * G
    ratio = v["final_drive"] / base["final_drive"]
    brake = weight * effort * np.array(p.brake_effort)
    engine = weight * effort * np.array(p.engine_braking) * ratio**2
    drive = weight * effort * np.array(p.drive) * ratio
    front = -brake * v["brake_bias"]
    rear = drive - engine - brake * (1 - v["brake_bias"])
    apart = _stagger_force(p, v, load, radius)
    return np.stack(np.broadcast_arrays(front / 2, front / 2, rear / 2 - apart, rear / 2 + apart))


def forward(p: Physics, effort: float, drag: Array) -> Array:
    """Forward acceleration in each phase, g, at the base gearing."""
    push = np.array(p.drive) - np.array(p.engine_braking) - np.array(p.brake_effort)
    return np.asarray(push * effort - drag / (p.mass * G))


def _stagger_force(p: Physics, v: Values, load: Array, radius: Array) -> Array:
    """Half the difference of drive force between right and left rear tyre, N: slip left over when rollouts do not fit the turn.

    Stagger from pressure rides along: a harder tyre is taller. slip = S / (2 pi r) - track / R."""
    rollout = 2 * np.pi * p.tyre_radius
    slip = v["stagger"] / rollout - p.track_rear / radius
    both = load[2] * load[3] / (load[2] + load[3])
    return np.asarray(both * p.slip_stiffness * np.tanh(slip / 0.05) * 0.05)


def use(p: Physics, w: Weights, m: Motion, peak: Array, force: Array) -> Use:
    """Side force each axle needs over what its two tyres have left beside their forces along (friction ellipse)."""
    room = _room(peak, force)
    yaw = (force[3] - force[2]) * p.track_rear / 2
    turn = p.yaw_inertia * np.array(p.yaw_acceleration)
    side = w.mass * G * m.lateral
    front = (side * (1 - (1 - w.nose)) + (turn - yaw) / p.wheelbase) / (room[0] + room[1])
    rear = (side * (1 - w.nose) - (turn - yaw) / p.wheelbase) / (room[2] + room[3])
    return Use(front, rear, peak, force, yaw)


def _room(peak: Array, force: Array) -> Array:
    """Side grip left of each tyre, N; stays above zero and smooth when the forces along ask for more than there is."""
    rest = 1 - (force / peak) ** 2
    return np.asarray(peak * np.sqrt((np.sqrt(rest**2 + 0.01) + rest) / 2))


def _tyre_four(four: tuple[float, ...], v: Values) -> Array:
    order = [1, 0, 3, 2] if "mirror" in v else [0, 1, 2, 3]
    return np.array([four[i] for i in order]).reshape(4, 1, 1, 1)
