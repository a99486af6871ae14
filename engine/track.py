"""Track sheets: corners, straights and how hard the surface is on tyres."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from engine.car import Frozen
from engine.vehicle import _of

USUAL_RADIUS = (1.95, 1.35, 1.0, 1.25, 1.7)
"""Radius of the driven line per phase over that in the centre (common practice, no source)."""
USUAL_BANKING = (0.6, 0.9, 1.0, 0.9, 0.65)
"""Banking per phase over that in the centre (common practice, no source)."""


class Corner(Frozen):
    """One kind of corner. `radius` and `banking` are per phase (m, rad); `twist` is the banking under the
    front axle less that under the rear (rad); `weight` is its share in the balance of a lap."""

    name: str
    turn: Literal["left", "right"] = "left"
    radius: Annotated[
        tuple[float, ...], Field(min_length=5, max_length=5, json_schema_extra={"kind": "length"})
    ]
    banking: Annotated[
        tuple[float, ...], Field(min_length=5, max_length=5, json_schema_extra={"kind": "angle"})
    ]
    twist: Annotated[
        tuple[float, ...], Field(min_length=5, max_length=5, json_schema_extra={"kind": "angle"})
    ] = (0.0,) * 5
    effort: Annotated[float, Field(gt=0, le=2)] = 1.0  # how hard it is braked for, 1 = usual
    throttle: Annotated[float, Field(gt=0, le=2)] = 1.0  # how hard it is driven out of, 1 = usual
    gear: int = Field(default=4, ge=1, le=6)
    weight: float = Field(default=1.0, gt=0, le=100)

    @model_validator(mode="before")
    @classmethod
    def _spread(cls, data: Any) -> Any:
        """One number for radius or banking is that of the centre; the other phases follow the usual line."""
        if not isinstance(data, dict):
            return data
        usual = {"radius": USUAL_RADIUS, "banking": USUAL_BANKING}
        single = {k: v for k, v in data.items() if k in usual and isinstance(v, int | float)}
        return {**data, **{k: tuple(v * part for part in usual[k]) for k, v in single.items()}}


class Track(Frozen):
    """A track. SI inside."""

    id: str
    name: str
    kind: Literal["oval", "road"] = "oval"
    wear: Literal["gentle", "normal", "harsh"] = "normal"
    length: Annotated[float, _of("length", 100, 30000)]
    straight: Annotated[float, _of("length", 20, 5000)]  # the longest
    corners: tuple[Corner, ...] = Field(min_length=1, max_length=20)
    air: Annotated[float, _of("temperature", 240, 330)] = 294.26
    grip: Annotated[float, Field(gt=0.3, le=1.5)] = 1.0  # surface grip, 1 = usual asphalt
    source: str = "not stated"
    fit: Mapping[str, Mapping[str, float]] = Field(
        default_factory=dict
    )  # car id → base values that differ here


WEAR_FACTOR = {"gentle": 0.6, "normal": 1.0, "harsh": 1.7}
"""Tyre wear rate by class context (common practice, no source)."""
