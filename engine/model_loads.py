"""Vertical loads of the four tyres: static, banking, air, pitch and roll on four unequal corners,
geometry, dampers.

The car turns left (right-hand corners come mirrored). Tyre axis first: LF RF LR RR; axle axis first:
front, rear. The other axes are (set-up n, stage 3, phase 5). Roll moments are positive to the right, axle
forces positive onto the track."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.model_values import Array, Values
from engine.physics.fuel import axle_change
from engine.physics.loads import corners, shares
from engine.physics.springs import Pair, bar_stiffness, pair, pair_in_series, wheel_rate
from engine.physics.transfer import longitudinal
from engine.units import G
from engine.vehicle import Physics


@dataclass(frozen=True, slots=True)
class Motion:
    """What the car does: `lateral`, `normal` in g in the track plane, `forward` in g (+ = speeding up),
    `speed` m/s."""

    lateral: Array
    normal: Array
    forward: Array
    speed: Array
    turning: Array  # yaw rate, rad/s
    twist: Array  # (5,) rad, banking under the front axle over that under the rear


@dataclass(frozen=True, slots=True)
class Weights:
    """Scale readings by stage: `corner` (4, n, 3, 1) N, `mass` kg (n, 3, 1), `axle` shares (2, n, 3, 1),
    `left` share; `support`: what both axles stand on, springs with tyres and tyres alone (see `ends`)."""

    corner: Array
    mass: Array
    axle: Array
    left: Array
    support: tuple[Pair, Pair]


@dataclass(frozen=True, slots=True)
class Loads:
    """Tyre loads (4, n, 3, 5) N and body roll (n, 3, 5) rad."""

    tyre: Array
    roll: Array


@lru_cache(maxsize=1024)
def column(*values: float) -> Array:
    """A constant along the first axis, (k, 1, 1, 1); read-only."""
    made = np.array(values).reshape(-1, 1, 1, 1)
    made.flags.writeable = False
    return made


@lru_cache(maxsize=1024)
def row(values: tuple[float, ...]) -> Array:
    """A constant along the phases, (5,); read-only."""
    made = np.array(values)
    made.flags.writeable = False
    return made


def weigh(p: Physics, v: Values, base: Values, left_in_tank: Array) -> Weights:
    """Static corner loads with `left_in_tank` (1, 3, 1) shares of the fuel. Cross, nose and left are read
    at the base fuel: LF = (nose + left - cross) / 2 W, RF = nose W - LF, LR = left W - LF, RR the
    rest."""
    support = ends(p, v)
    jack = pressure_jack(p, v, base, support[0]) * column(-1, 1, 1, -1)
    still = corners(p.mass * G, v.one("nose_weight"), v.one("left_weight"), v.one("cross_weight")) + jack
    burnt = (base.one("fuel") - v.one("fuel") * left_in_tank) * (p.fuel_density * G)
    front, rear = (float(part) for part in axle_change(1.0, p.fuel_behind_axle, p.wheelbase))
    side = p.fuel_left / p.track_rear
    spread = v.own(_spread(front, rear, 0.5 + side), _spread(front, rear, 0.5 - side))
    corner = still + burnt * spread
    nose, left, _ = shares(corner)
    return Weights(corner, corner.sum(axis=0) / G, np.array((nose, 1 - nose)), left, support)


def _spread(front: float, rear: float, left: float) -> Array:
    """Shares of the four tyres, from those of the axles and of the left side."""
    return column(front * left, front * (1 - left), rear * left, rear * (1 - left))


def tyre_rates(p: Physics, v: Values) -> Array:
    """Vertical tyre rates (4, n, 1, 1), N/m: grow with pressure from their value at 2 bar."""
    return np.asarray(p.tyre_rate * np.maximum(1 + p.tyre_rate_growth * (v.four("pressure") / 1e5 - 2), 0.2))


def spring_rates(p: Physics, v: Values) -> Array:
    """Spring rates at the wheel in front, at the spring base behind (4, n, 1, 1), N/m."""
    return wheel_rate(v.four("spring"), column(*[p.motion_ratio_front] * 2, *[p.motion_ratio_rear] * 2))


def pressure_jack(p: Physics, v: Values, base: Values, whole: Pair) -> Array:
    """Load that RF and LR each gain from standing taller on more air, N: both ends in series carry the
    warp, bars too."""
    deflection = p.mass * G / 4 / p.tyre_rate
    taller = deflection * p.tyre_rate_growth * (v.four("pressure") - base.four("pressure")) / 1e5
    soft = column(p.track_front, p.track_rear) ** 2 / whole.roll_free()
    return np.asarray((taller * column(-1, 1, 1, -1)).sum(axis=0) / soft.sum(axis=0))


def ends(p: Physics, v: Values) -> tuple[Pair, Pair]:
    """Both axles (2, n, 1, 1): springs with bar, in series with the tyres; and the tyres alone."""
    k, t = spring_rates(p, v), tyre_rates(p, v)
    track = column(p.track_front, p.track_rear)
    bar = bar_stiffness(
        v.two("front_bar"),
        column(p.bar_length_front, p.bar_length_rear),
        column(p.bar_arm_front, p.bar_arm_rear),
        column(p.bar_ratio_front, p.bar_ratio_rear),
        track,
    )
    springs = pair(k[0::2], k[1::2], column(p.track_front, p.spring_base_rear), bar)
    tyres = pair(t[0::2], t[1::2], track)
    return pair_in_series(springs, tyres), tyres


@lru_cache(maxsize=256)
def wheel_speeds(pitch: tuple[float, ...], roll: tuple[float, ...], narrow: float) -> Array:
    """How fast each corner closes in each phase (4, 1, 1, 5), m/s, + = compression; read-only. `narrow`:
    rear spring base over track, where the rear dampers stand; it lessens roll, not pitch."""
    nose, side = row(pitch), row(roll)
    inner = narrow * side
    made = np.stack((nose - side, nose + side, -nose - inner, -nose + inner)).reshape(4, 1, 1, 5)
    made.flags.writeable = False
    return made


def damper_forces(p: Physics, v: Values) -> Array:
    """Damper forces (4, n, 1, 5), N, + = pushed onto the track: at the wheels in front, at the spring base
    behind."""
    speed = wheel_speeds(p.pitch_speed, p.roll_speed, p.spring_base_rear / p.track_rear)
    rate = p.damper_rate * column(*[p.motion_ratio_front**2] * 2, *[p.motion_ratio_rear**2] * 2)
    squeeze, stretch = rate * np.maximum(speed, 0), rate * np.maximum(-speed, 0)
    return np.asarray(v.four("compression") * squeeze - v.four("rebound") * stretch)


def roll_centres(p: Physics, v: Values, base: Values) -> Array:
    """Heights of the front and rear roll centre (2, n, 1, 5), m. Rear: the two track-bar ends, weighted
    by phase; the right (chassis) end moves with the right-rear ride height."""
    share = row(p.track_bar_left_share)
    higher = v.four("ride_height") - base.four("ride_height")
    chassis_end = v.one("track_bar_right") + v.own(higher[3], higher[2])
    rear = share * v.one("track_bar_left") + (1 - share) * chassis_end
    front = p.roll_centre_front + (higher[0] + higher[1]) / 2
    both = np.empty((2, *rear.shape))
    both[0], both[1] = front, rear
    return both


def tyre_loads(p: Physics, v: Values, base: Values, w: Weights, m: Motion, air: Array) -> Loads:
    """Loads of the four tyres. `air` is the downforce on front and rear axle (2, n, 3, 5), N.

    They sum to normal * weight + air at any set-up; a lifted wheel hands its share to the other axle."""
    weight = w.mass * G
    height = p.cg_height + (v.four("ride_height") - base.four("ride_height")).sum(axis=0) / 4
    shift = longitudinal(weight, m.forward, height, p.wheelbase)
    axle = weight * m.normal * w.axle + air
    axle[0] -= shift
    axle[1] += shift
    moved, roll = transfer(p, v, base, w, m, air, shift, height)
    diff = w.corner[1::2] - w.corner[0::2] + 2 * moved
    held = _held(axle, diff)
    tyre = np.empty((4, *axle.shape[1:]))
    tyre[0::2], tyre[1::2] = (axle - held) / 2, (axle + held) / 2
    return Loads(tyre, roll)


def transfer(
    p: Physics, v: Values, base: Values, w: Weights, m: Motion, air: Array, shift: Array, height: Array
) -> tuple[Array, Array]:
    """Load moved from left to right tyre of each axle (2, n, 3, 5), N, and the body's roll, rad.

    Springs, bars and dampers carry roll and pitch together: unequal left and right rates turn an axle
    force into a roll moment."""
    (whole, tyres), force, centre = w.support, damper_forces(p, v), roll_centres(p, v, base)
    track, stand = column(p.track_front, p.track_rear), column(p.track_front, p.spring_base_rear)
    unsprung = column(p.unsprung_front, p.unsprung_rear)
    low = p.unsprung_front + p.unsprung_rear
    sprung = w.mass - low
    share = (w.mass * w.axle - unsprung) / sprung
    hold = sprung * (G * m.normal)
    heave = hold - sprung * G
    side = sprung * (G * m.lateral)
    arm = (w.mass * height - low * p.unsprung_height) / sprung - (share * centre).sum(axis=0)
    offset = w.mass * (G * (m.normal - 1)) * (w.left - 0.5) * float(track.mean())
    geometric = side * share * centre + unsprung * (G * p.unsprung_height) * m.lateral
    load = heave * share + air + shift * link_share(p) - (force[0::2] + force[1::2])
    stiff = whole.roll_free()
    given = whole.couple / whole.heave * load + (force[1::2] - force[0::2]) * (stand / 2)
    given -= geometric * (stiff / tyres.roll)
    given[0] += stiff[0] * m.twist
    roll = (side * arm - offset - given.sum(axis=0)) / np.maximum(stiff.sum(axis=0) - hold * arm, 1e4)
    return (given + stiff * roll + geometric) / track, roll


def link_share(p: Physics) -> Array:
    """Share of the longitudinal transfer that goes through the springs, front (-) and rear (+), per phase
    (2, 1, 1, 5)."""
    driving = row(p.drive) > row(p.brake_effort) + row(p.engine_braking)
    made = np.empty((2, 1, 1, 5))
    made[0] = np.where(driving, -1.0, p.anti_dive - 1.0)
    made[1] = np.where(driving, 1.0 - p.anti_squat, 1.0 - p.anti_lift)
    return made


def _held(axle: Array, diff: Array) -> Array:
    """Right-minus-left differences the axles can carry with every wheel down; what one cannot carry goes
    to the other."""
    part = diff / axle
    if np.abs(part).max() <= 0.9:
        return diff
    over = diff - axle * _soft(part)
    return np.asarray(axle * _soft((diff + over[::-1]) / axle))


def _soft(x: Array) -> Array:
    """x up to 0.9, then bending so that it stays below 0.99 (continuous with its slope)."""
    over = np.maximum(np.abs(x) - 0.9, 0.0)
    return np.asarray(np.sign(x) * (np.abs(x) - over + 0.09 * over / (0.09 + over)))
