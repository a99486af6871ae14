"""Vertical loads of the four tyres: static, banking, air, pitch and roll on four unequal corners, geometry, dampers.

The car turns left (right-hand corners come mirrored). Tyre axis first: LF RF LR RR. Arrays broadcast over
(set-up n, stage 3, phase 5). Roll and roll moments are positive to the right, pitch forces positive onto the axle.
"""

from dataclasses import dataclass

import numpy as np

from engine.model_values import Array, Values
from engine.units import G
from engine.vehicle import Physics


@dataclass(frozen=True, slots=True)
class Motion:
    """What the car does in each phase: `lateral` and `normal` in g in the track plane, `forward` in g (+ = speeding up)."""

    lateral: Array
    normal: Array
    forward: Array
    speed: Array  # m/s


@dataclass(frozen=True, slots=True)
class Weights:
    """Scale readings by stage: `corner` (4, n, 3, 1) in N, `mass` kg, `nose` and `left` shares (n, 3, 1)."""

    corner: Array
    mass: Array
    nose: Array
    left: Array


@dataclass(frozen=True, slots=True)
class End:
    """Roll and heave of one axle on its springs, bar and tyres in series.

    With body heave z and roll p at the axle: force = heave z + couple p, moment = couple z + roll p (N, m, rad)."""

    heave: Array
    couple: Array
    roll: Array


def weigh(p: Physics, v: Values, base: Values, left_in_tank: Array) -> Weights:
    """Static corner loads with `left_in_tank` (1, 3, 1) shares of the fuel: cross, nose and left are read at the base fuel."""
    w = p.mass * G
    nose, left, cross = v["nose_weight"], v["left_weight"], v["cross_weight"]
    lf = (nose + left - cross) / 2 * w
    burnt = (base["fuel"] - v["fuel"] * left_in_tank) * p.fuel_density * G
    front_gain = burnt * p.fuel_behind_axle / p.wheelbase
    rear_loss = burnt + front_gain
    side = 0.5 + p.fuel_left * v.get("mirror", np.ones((1, 1, 1))) / p.track_rear
    jack = _pressure_jack(p, v, base)
    corner = np.stack(
        np.broadcast_arrays(
            lf + front_gain * side - jack,
            nose * w - lf + front_gain * (1 - side) + jack,
            left * w - lf - rear_loss * side + jack,
            w - nose * w - left * w + lf - rear_loss * (1 - side) - jack,
        )
    )
    total = corner.sum(axis=0)
    return Weights(corner, total / G, (corner[0] + corner[1]) / total, (corner[0] + corner[2]) / total)


def tyre_rates(p: Physics, v: Values) -> Array:
    """Vertical tyre rates (4, n, 1, 1): grow with pressure."""
    psi = np.stack(np.broadcast_arrays(*(v[f"pressure_{c}"] for c in ("lf", "rf", "lr", "rr"))))
    return p.tyre_rate * np.maximum(1 + p.tyre_rate_growth * (psi - 2e5) / 1e5, 0.2)


def wheel_rates(p: Physics, v: Values) -> Array:
    """Spring rates at the wheel (front) and at the spring base (rear), (4, n, 1, 1)."""
    k = np.stack(np.broadcast_arrays(*(v[f"spring_{c}"] for c in ("lf", "rf", "lr", "rr"))))
    ratio = np.array([p.motion_ratio_front] * 2 + [p.motion_ratio_rear] * 2).reshape(4, 1, 1, 1)
    return np.asarray(k * ratio**2)


def bar_stiffness(diameter: Array, length: float, arm: float, ratio: float, track: float) -> Array:
    """Roll stiffness of a solid torsion bar, N m/rad: pi G d^4 / (32 L) twisted by ratio * track / arm.

    Reference: torsion of a round bar; RCVD pp. 761-762 by way of chapter notes."""
    shear = 79.3e9
    return np.asarray(np.pi * shear * diameter**4 / (32 * length) * (ratio * track / arm) ** 2)


def end(
    left: Array, right: Array, half_base: float, bar: Array, tyre_l: Array, tyre_r: Array, half_track: float
) -> End:
    """Springs and bar in series with the tyres: K = (Ks^-1 + Kt^-1)^-1 of the 2x2 heave/roll matrices."""
    s11, s12, s22 = left + right, (right - left) * half_base, (left + right) * half_base**2 + bar
    t11, t12, t22 = tyre_l + tyre_r, (tyre_r - tyre_l) * half_track, (tyre_l + tyre_r) * half_track**2
    sd, td = s11 * s22 - s12**2, t11 * t22 - t12**2
    c11, c12, c22 = s22 / sd + t22 / td, -s12 / sd - t12 / td, s11 / sd + t11 / td
    cd = c11 * c22 - c12**2
    return End(c22 / cd, -c12 / cd, c11 / cd)


def ends(p: Physics, v: Values) -> tuple[End, End]:
    """Front and rear."""
    k, t = wheel_rates(p, v), tyre_rates(p, v)
    bar_f = bar_stiffness(
        v["front_bar"], p.bar_length_front, p.bar_arm_front, p.bar_ratio_front, p.track_front
    )
    bar_r = bar_stiffness(v["rear_bar"], p.bar_length_rear, p.bar_arm_rear, p.bar_ratio_rear, p.track_rear)
    front = end(k[0], k[1], p.track_front / 2, bar_f, t[0], t[1], p.track_front / 2)
    rear = end(k[2], k[3], p.spring_base_rear / 2, bar_r, t[2], t[3], p.track_rear / 2)
    return front, rear


def damper_forces(p: Physics, v: Values) -> Array:
    """Damper forces on the wheels (4, n, 1, 5), + = pushed onto the track, from the body's rates in each phase."""
    pitch, roll = np.array(p.pitch_speed), np.array(p.roll_speed)
    made = []
    for corner, nose, side in (("lf", 1, -1), ("rf", 1, 1), ("lr", -1, -1), ("rr", -1, 1)):
        speed = nose * pitch + side * roll
        squeeze, stretch = np.maximum(speed, 0), np.maximum(-speed, 0)
        ratio = p.motion_ratio_front if nose == 1 else p.motion_ratio_rear * p.spring_base_rear / p.track_rear
        made.append(
            p.damper_rate
            * ratio**2
            * (v[f"compression_{corner}"] * squeeze - v[f"rebound_{corner}"] * stretch)
        )
    return np.stack(np.broadcast_arrays(*made))


def rear_roll_centre(p: Physics, v: Values, base: Values) -> Array:
    """Height of the rear roll centre (n, 1, 5), m: the two track-bar ends, weighted by phase; the right (chassis) end moves with
    the right-rear ride height."""
    share = np.array(p.track_bar_left_share)
    right = v["track_bar_right"] + v["ride_height_rr"] - base["ride_height_rr"]
    return np.asarray(share * v["track_bar_left"] + (1 - share) * right)


def tyre_loads(p: Physics, v: Values, base: Values, w: Weights, m: Motion, air: tuple[Array, Array]) -> Array:
    """Loads of the four tyres (4, n, 3, 5), N. `air` is the downforce on front and rear axle.

    They sum to normal * weight + air at any set-up; a lifted wheel hands its share to the other axle."""
    weight = w.mass * G
    height = p.cg_height + _mean_height(v) - _mean_height(base)
    shift = weight * m.forward * height / p.wheelbase
    front = weight * w.nose * m.normal + air[0] - shift
    rear = weight * (1 - w.nose) * m.normal + air[1] + shift
    static_f, static_r = w.corner[1] - w.corner[0], w.corner[3] - w.corner[2]
    transfer_f, transfer_r = _transfer(p, v, base, w, m, air, shift, height)
    diff_f, diff_r = static_f + 2 * transfer_f, static_r + 2 * transfer_r
    return _shared(front, rear, diff_f, diff_r)


def _transfer(
    p: Physics,
    v: Values,
    base: Values,
    w: Weights,
    m: Motion,
    air: tuple[Array, Array],
    shift: Array,
    height: Array,
) -> tuple[Array, Array]:
    """Load moved from left to right tyre, front and rear, N."""
    f, r = ends(p, v)
    force = damper_forces(p, v)
    sprung = w.mass - p.unsprung_front - p.unsprung_rear
    at_front = (w.mass * w.nose - p.unsprung_front) / sprung
    slowing, driving = np.minimum(m.forward, 0) < 0, np.maximum(m.forward, 0) > 0
    link_f = np.where(slowing, p.anti_dive, 0.0)
    link_r = np.where(slowing, p.anti_lift, np.where(driving, p.anti_squat, 0.0))
    heave = sprung * G * (m.normal - 1)
    load_f = heave * at_front + air[0] - shift * (1 - link_f) - (force[0] + force[1])
    load_r = heave * (1 - at_front) + air[1] + shift * (1 - link_r) - (force[2] + force[3])
    damp_f = (force[1] - force[0]) * p.track_front / 2
    damp_r = (force[3] - force[2]) * p.track_rear / 2
    centre_f = p.roll_centre_front + (_front_height(v) - _front_height(base))
    centre_r = rear_roll_centre(p, v, base)
    side = sprung * G * m.lateral
    hub = p.unsprung_height
    sprung_height = (w.mass * height - (p.unsprung_front + p.unsprung_rear) * hub) / sprung
    axis = at_front * centre_f + (1 - at_front) * centre_r
    arm = sprung_height - axis
    couple_f, couple_r = f.couple / f.heave, r.couple / r.heave
    roll_f, roll_r = f.roll - f.couple * couple_f, r.roll - r.couple * couple_r
    offset = heave * (w.left - 0.5) * (p.track_front + p.track_rear) / 2
    moment = side * arm - offset - couple_f * load_f - couple_r * load_r - damp_f - damp_r
    roll = moment / np.maximum(roll_f + roll_r - sprung * G * m.normal * arm, 1e3)
    tilt = sprung * G * m.normal * arm * roll
    elastic_f = couple_f * load_f + damp_f + roll_f * roll
    elastic_r = side * arm - offset + tilt - elastic_f
    geo_f = side * at_front * centre_f + p.unsprung_front * G * m.lateral * hub
    geo_r = side * (1 - at_front) * centre_r + p.unsprung_rear * G * m.lateral * hub
    return (elastic_f + geo_f) / p.track_front, (elastic_r + geo_r) / p.track_rear


def body_roll(p: Physics, v: Values, w: Weights, m: Motion) -> Array:
    """Body roll (n, 3, 5), rad, for camber: side force over the roll stiffness of both ends."""
    f, r = ends(p, v)
    stiff = f.roll - f.couple**2 / f.heave + r.roll - r.couple**2 / r.heave
    arm = p.cg_height - (p.roll_centre_front + v["track_bar_right"]) / 2
    return np.asarray(w.mass * G * m.lateral * arm / stiff)


def _shared(front: Array, rear: Array, diff_f: Array, diff_r: Array) -> Array:
    """Axle loads and right-minus-left differences → four loads, none below zero; what one axle cannot carry goes to the other."""
    held_f = front * _soft(diff_f / front)
    held_r = rear * _soft((diff_r + diff_f - held_f) / rear)
    held_f = front * _soft((diff_f + (diff_r - _held(rear, diff_r))) / front)
    return np.stack(((front - held_f) / 2, (front + held_f) / 2, (rear - held_r) / 2, (rear + held_r) / 2))


def _held(load: Array, diff: Array) -> Array:
    return np.asarray(load * _soft(diff / load))


def _soft(x: Array) -> Array:
    """x up to 0.9, then bending so that it stays below 0.99 (continuous with its slope)."""
    over = np.maximum(np.abs(x) - 0.9, 0.0)
    return np.asarray(np.sign(x) * (np.abs(x) - over + 0.09 * over / (0.09 + over)))


def _pressure_jack(p: Physics, v: Values, base: Values) -> Array:
    """Diagonal load from standing taller on more air, N per tyre of the RF-LR pair: four corners in series carry the warp."""
    deflection = p.mass * G / 4 / p.tyre_rate
    taller = [
        deflection * p.tyre_rate_growth * (v[f"pressure_{c}"] - base[f"pressure_{c}"]) / 1e5
        for c in ("lf", "rf", "lr", "rr")
    ]
    k, t = wheel_rates(p, v), tyre_rates(p, v)
    narrow = (p.spring_base_rear / p.track_rear) ** 2
    soft = sum(1 / k[i] / (narrow if i > 1 else 1.0) + 1 / t[i] for i in range(4))
    return np.asarray((taller[1] + taller[2] - taller[0] - taller[3]) / soft)


def _front_height(v: Values) -> Array:
    return np.asarray((v["ride_height_lf"] + v["ride_height_rf"]) / 2)


def _rear_height(v: Values) -> Array:
    return np.asarray((v["ride_height_lr"] + v["ride_height_rr"]) / 2)


def _mean_height(v: Values) -> Array:
    return np.asarray((_front_height(v) + _rear_height(v)) / 2)
