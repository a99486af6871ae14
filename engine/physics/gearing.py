"""Engine speed against road speed.

Speeds m/s, rollout (circumference) m, ratios overall (gear x final drive)."""

import numpy as np

from engine.physics.arrays import Array, Num


def engine_rpm(speed: Num, ratio: Num, rollout: Num) -> Array:
    """Engine speed, rpm: 60 V ratio / rollout (no slip)."""
    return np.asarray(60 * np.asarray(speed) * ratio / rollout)


def road_speed(rpm: Num, ratio: Num, rollout: Num) -> Array:
    """Road speed at an engine speed in rpm."""
    return np.asarray(np.asarray(rpm) * rollout / (60 * ratio))


def ratio_for(rpm: Num, speed: Num, rollout: Num) -> Array:
    """Overall ratio that gives this engine speed at this road speed."""
    return np.asarray(np.asarray(rpm) * rollout / (60 * speed))
