"""What air, a fuel run, a straight and the hardest braking do to the car."""

import numpy as np

from engine.model_grip import best_pressure, gearing, own_sides
from engine.model_loads import Weights
from engine.model_values import Array, Values
from engine.physics.aero import force, speed_after
from engine.physics.brakes import axle_loads, friction_used
from engine.physics.gearing import engine_rpm
from engine.physics.tyre import peak_saturating
from engine.track import WEAR_FACTOR, Track
from engine.units import G
from engine.vehicle import Physics

AIR_DENSITY = 1.2
"""kg/m3, about 70 degF at sea level."""
LIMIT = 0.93
"""Share of grip the harder-worked axle uses at the driver's pace (design figure)."""
TOP_GEAR = 4


def air_areas(p: Physics, v: Values, base: Values) -> tuple[Array, Array]:
    """Downforce areas of front and rear axle (2, n, 1, 1) and drag area (n, 1, 1), m2."""
    steeper, more_tape, drag = _drag_area(p, v, base)
    rear_gain = p.spoiler_down * steeper
    lever = p.spoiler_arm / p.wheelbase
    higher = v.four("ride_height") - base.four("ride_height")
    nose_down = (higher[2] + higher[3] - higher[0] - higher[1]) / 2
    front = p.lift_area_front + p.tape_down * more_tape + p.rake_down * nose_down - rear_gain * lever
    rear = p.lift_area_rear + rear_gain * (1 + lever)
    return np.array((front, rear)), drag


def _drag_area(p: Physics, v: Values, base: Values) -> tuple[Array, Array, Array]:
    """How much steeper the spoiler is and how much more tape there is than at base; drag area; (n, 1, 1)."""
    steeper = v.one("spoiler") - base.one("spoiler")
    more_tape = v.one("grille_tape") - base.one("grille_tape")
    return steeper, more_tape, p.drag_area + p.spoiler_drag * steeper - p.tape_drag * more_tape


def wear(p: Physics, v: Values, track: Track, peak: Array, used: Array | None, leans: Array) -> Array:
    """Share of each tyre worn at the end of the run (4, n, 1, 1): sliding work at half fuel, times the length
    of the run; lean wears an edge.

    `peak` (4, n, 5) N and `used` (2, n, 5) are those at half fuel; work grows steeply with the share of grip
    used. `used` None: both axles as used to LIMIT."""
    work = peak / p.load_reference
    if used is not None:
        axle = used / LIMIT
        cube = axle * axle * axle
        work = work * np.repeat(cube * cube, 2, axis=0)
    mean = work.mean(axis=2)[:, :, None, None]
    mean[:2] *= 1 + p.camber_wear * leans[:, :, 1:2, 2:3] ** 2
    run = 0.95 * v.one("fuel") * p.fuel_economy / 1e5
    return np.asarray(-np.expm1(-own_sides(p.wear_rate, v) * WEAR_FACTOR[track.wear] * mean * run))


def straight(p: Physics, v: Values, base: Values, track: Track, start: float) -> tuple[Array, Array, Array]:
    """Speed m/s, rpm and water temperature K at the end of the longest straight, each (n,).

    Water: heat of the engine over what the air through the radiator carries off (invented shape)."""
    *_, area = _drag_area(p, v, base)
    speed = speed_after(start, 0.85 * p.power, area.ravel(), p.mass, track.straight, AIR_DENSITY)
    ratio = (v.one(f"gear_{TOP_GEAR}") * v.one("final_drive")).ravel()
    rpm = engine_rpm(speed, ratio, 2 * np.pi * p.tyre_radius)
    open_grille = 1 - p.water_tape * v.one("grille_tape").ravel()
    water = track.air + p.water_rise * (p.power / 450e3) ** 0.7 / open_grille * (55.0 / speed) ** 0.4
    return speed, rpm, water


def lockup(p: Physics, v: Values, base: Values, w: Weights, track: Track) -> Array:
    """Share of grip left of front and rear axle at the hardest braking in a straight line with a full
    tank, (2, n)."""
    weight, rear = w.mass[:, 0, 0] * G, w.axle[1, :, 0, 0]
    slow = p.brake_hardest + max(p.engine_braking)
    load = np.stack(axle_loads(weight, rear * p.wheelbase, p.wheelbase, p.cg_height, slow))
    bias = v.one("brake_bias").ravel()
    engine = max(p.engine_braking) * gearing(v, base, TOP_GEAR).ravel() ** 2
    asked = np.stack((p.brake_hardest * bias, p.brake_hardest * (1 - bias) + engine)) * weight
    best = 2 * peak_saturating(load / 2, p.grip * track.grip * np.array([[1.0], [p.grip_rear]]), p.load_limit)
    return 1 - friction_used(asked, best)


def pressure_window(p: Physics, hot: Array, load: Array) -> Array:
    """Hot pressure over the tyre's best at its load in the centre late in the run, (4, n), Pa."""
    return np.asarray(hot[:, :, 2, 0] - best_pressure(p, load[:, :, 2, 2]))


def air_forces(p: Physics, v: Values, base: Values, speed: Array) -> tuple[Array, Array]:
    """Downforce on the axles (2, n, 3, 5) and drag (n, 3, 5), N."""
    down, drag = air_areas(p, v, base)
    return force(down, speed, AIR_DENSITY), force(drag, speed, AIR_DENSITY)
