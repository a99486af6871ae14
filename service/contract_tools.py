"""The shapes of the builder's tools: a request for each, one answer shape for all of them."""

from typing import Annotated, Any, Literal

from pydantic import Field

from service.contract import TEXT, BeforeAfter, Shape, SourceOut


class Subject(Shape):
    """A car at a track, and the set-up as it is (what differs from the sheet's own)."""

    car: str | dict[str, Any] | None = None
    track: str | dict[str, Any] | None = None
    setup: dict[str, float] | None = None
    style: dict[str, str] | None = None


class ComparisonRequest(Subject):
    """Set-up A is `setup`, B is `other`; both are what differs from the sheet's own."""

    other: dict[str, float] = Field(default={}, max_length=100)


class PackageRequest(Subject):
    """Run these settings at these values; `locked` settings may not pay for it."""

    run: dict[str, float] = Field(min_length=1, max_length=10)
    locked: list[str] = Field(default=[], max_length=60)


class CarryOverRequest(Subject):
    """Carry the set-up of `car` over to the car `to`."""

    to: str | dict[str, Any]
    locked: list[str] = Field(default=[], max_length=60)


class StartRequest(Subject):
    """A base set-up from nothing; `setup` is not looked at."""


Worn = Annotated[float, Field(ge=0, le=100)]
Heat = Annotated[float, Field(ge=-20, le=600)]
Pressure = Annotated[float, Field(ge=1, le=100)]


class TyresRequest(Subject):
    """What the tyres show: wear in %, temperatures inside, middle, outside in degF, hot pressures in psi;
    keys LF RF LR RR.
    `targets`: hot pressures wanted, for which cold ones are given (air and tyre temperature in degF)."""

    wear: dict[str, Worn] = Field(default={}, max_length=4)
    temperatures: dict[str, Annotated[list[Heat], Field(min_length=3, max_length=3)]] = Field(
        default={}, max_length=4
    )
    pressures: dict[str, Pressure] = Field(default={}, max_length=4)
    targets: dict[str, Pressure] = Field(default={}, max_length=4)
    air: float = Field(default=70.0, ge=-20, le=140)
    hot: float = Field(default=180.0, ge=0, le=400)


class GearsRequest(Subject):
    """The final drive for a top rpm; none: the limiter less a little."""

    rpm: float | None = Field(default=None, gt=500, le=20000)


class TapeRequest(Subject):
    """The most grille tape for a water temperature in degF; none: the car's limit less a little."""

    water: float | None = Field(default=None, ge=100, le=350)


class StaggerRequest(Subject):
    """The stagger for the track's turns."""


class TestsRequest(Subject):
    """The next runs that teach most about this car."""

    runs: int = Field(default=3, ge=1, le=8)
    session: str | None = Field(default=None, max_length=100)


class LineOut(Shape):
    """One thing said, and the computed numbers in it."""

    kind: str
    text: str
    numbers: dict[str, float]


class StepOut(Shape):
    """One setting that changes (or differs)."""

    setting: str
    label: str
    unit: str
    from_: float = Field(alias="from")
    to: float
    clicks: int
    own: dict[str, float]
    """What it does on its own, channel → change; the noticeable ones."""


class OffOut(Shape):
    """A balance channel that is not where it should be, and by how much."""

    channel: str
    by: float
    unit: str


class ToolAnswer(Shape):
    """What a builder's tool answers. `met` False: as near as could be had, and `off` says what is left."""

    tool: str
    summary: str
    met: bool
    lines: list[LineOut]
    changes: list[StepOut]
    setup: dict[str, float]
    expected: dict[str, BeforeAfter]
    off: list[OffOut]
    cautions: list[str]
    sources: list[SourceOut]
    car: str
    track: str


class SheetRequest(Subject):
    """A sheet to hand out: the answer to `text`, or the last change list of `session` when there is no
    text."""

    text: str = Field(default="", description=TEXT.description)
    session: str | None = Field(default=None, max_length=100)
    format: Literal["markdown", "html"] = "markdown"


class SheetOut(Shape):
    """The sheet as one text."""

    format: Literal["markdown", "html"]
    text: str
