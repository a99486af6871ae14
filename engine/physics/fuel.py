"""What burning fuel does to weight and balance. One unit of force or mass, lengths m."""

import numpy as np

from engine.physics.arrays import Array, Num


def axle_change(burnt: Num, behind_axle: Num, wheelbase: Num) -> tuple[Array, Array]:
    """Change of front and rear axle load when fuel `behind_axle` m behind the rear axle burns off (moments
    about the axles)."""
    front = np.asarray(burnt * np.asarray(behind_axle) / wheelbase)
    return front, np.asarray(-burnt - front)


def nose_after(weight: Num, nose: Num, burnt: Num, behind_axle: Num, wheelbase: Num) -> Array:
    """Nose share once `burnt` of `weight` is gone."""
    front, _ = axle_change(burnt, behind_axle, wheelbase)
    return np.asarray((weight * nose + front) / (weight - burnt))
