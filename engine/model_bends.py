"""Corners as the model takes them: arrays that broadcast against (set-up n, stage 3, phase 5)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.model_loads import row
from engine.model_values import Array
from engine.track import Corner


@dataclass(frozen=True, slots=True)
class Bend:
    """Per phase `radius` m, `banking` and `twist` rad; `effort`, `throttle` (1 = usual); `gears`: the gear of
    each kind of corner, whose set-ups follow each other along n."""

    radius: Array
    banking: Array
    twist: Array
    effort: float | Array
    throttle: float | Array
    gears: tuple[int, ...]


def bend_of(corner: Corner) -> Bend:
    """One kind of corner, the same for all set-ups."""
    return Bend(
        row(corner.radius),
        row(corner.banking),
        row(corner.twist),
        corner.effort,
        corner.throttle,
        (corner.gear,),
    )


def bends_of(corners: Sequence[Corner], n: int) -> Bend:
    """Several kinds of corner for n set-ups each: all set-ups in the first, then all in the second."""

    def spread(values: Sequence[Sequence[float]]) -> Array:
        return np.repeat(np.array(values), n, axis=0)[:, None, :]

    return Bend(
        spread([c.radius for c in corners]),
        spread([c.banking for c in corners]),
        spread([c.twist for c in corners]),
        spread([(c.effort,) for c in corners]),
        spread([(c.throttle,) for c in corners]),
        tuple(c.gear for c in corners),
    )
