"""The same tyres in straight running: cornering stiffness and the understeer gradient of the linear
two-wheel model."""

import numpy as np

from engine.car import Car, Setup
from engine.model_grip import hot_pressure, peaks
from engine.model_loads import Loads, weigh
from engine.model_values import Array, base_of, values_of
from engine.physics.handling import understeer_gradient
from engine.track import Track
from engine.units import G

PEAK_AT = 2.678
"""Normalised slip of the peak of the Magic Formula with B .714 C 1.40 E -.20 (RCVD fig. 14.1, via chapter
notes)."""


def cornering_stiffness(car: Car, track: Track, setup: Setup) -> Array:
    """Cornering stiffness of LF RF LR RR at static load, warm and unworn (4,), N/rad: normalised slip is
    stiffness * angle / peak force, so stiffness = 2.678 * peak / angle of the peak."""
    p, base = car.physics, base_of(car)
    v = values_of(car, np.array([[setup[s.key] for s in car.settings]]))
    load = weigh(p, v, base, np.array([[[0.5]]])).corner
    lean = v.two("camber_lf") * np.array([1.0, -1.0]).reshape(2, 1, 1, 1)
    hot = hot_pressure(p, v, track.air, np.ones((1, 1, 1, 1)))
    best = peaks(p, v, Loads(load, np.zeros((1, 1, 1))), hot, lean, track.grip)
    return np.asarray(PEAK_AT * best[:, 0, 0, 0] / p.slip_peak)


def gradient(car: Car, track: Track, setup: Setup) -> float:
    """Understeer gradient at half fuel, deg of steer per g, + = understeer: Wf/Cf - Wr/Cr (see
    physics.handling)."""
    v = values_of(car, np.array([[setup[s.key] for s in car.settings]]))
    w = weigh(car.physics, v, base_of(car), np.array([[[0.5]]]))
    stiff = cornering_stiffness(car, track, setup)
    front, rear = (float(w.mass[0, 0, 0] * G * w.axle[i, 0, 0, 0]) for i in (0, 1))
    return float(np.degrees(understeer_gradient(front, rear, stiff[0] + stiff[1], stiff[2] + stiff[3])))
