"""Shapes of the routes that are about the service itself: health, sheets, sessions."""

from typing import Any, Literal

from pydantic import Field

from service.contract import TEXT, LimitOut, Shape, SymptomOut

SESSION_NAME = r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$"
Sheet = str | dict[str, Any] | None


class TextRequest(Shape):
    """A complaint, to be read and nothing else."""

    text: str = TEXT


class SessionRequest(Shape):
    """A session to open: its name (one is made up if none is given) and what holds in it."""

    session: str | None = Field(default=None, pattern=SESSION_NAME)
    car: Sheet = None
    track: Sheet = None
    setup: dict[str, float] | None = None
    style: dict[str, str] | None = None


class MessageRequest(Shape):
    """What the driver says next."""

    text: str = TEXT
    car: Sheet = None
    track: Sheet = None
    setup: dict[str, float] | None = None
    style: dict[str, str] | None = None
    alternatives: int = Field(default=2, ge=0, le=5)


class GivenOut(Shape):
    """A change list that was handed out, and what became of it."""

    number: int
    before: dict[str, float]
    after: dict[str, float]
    fate: str
    verdicts: dict[str, str]


class SessionOut(Shape):
    """A session as it stands. `setup` holds what differs from the car's base set-up."""

    session: str
    car: Sheet
    track: Sheet
    setup: dict[str, float]
    style: dict[str, str]
    open: list[SymptomOut]
    limits: list[LimitOut]
    waiting_for_answer: bool
    given: list[GivenOut]
    turns: int
    last_id: int


class ForgetRequest(Shape):
    """Nothing more to say: `{}`."""


class LearnedOut(Shape):
    """What a session taught about its car: how many reports it rests on, and a sentence for each thing."""

    session: str
    car: str
    reports: int
    lines: list[str]
    """Empty before the first report, and after forgetting."""


class SettingOut(Shape):
    """One setting of a car; `step` or `choices`, the other is null."""

    key: str
    label: str
    unit: str
    min: float
    max: float
    step: float | None
    choices: list[float] | None
    base: float
    where: Literal["stop", "garage"]
    source: str


class MoveOut(Shape):
    """One adjustment as the trade thinks of it; `parts`: setting → clicks per click of the move."""

    key: str
    label: str
    parts: dict[str, int]
    reach: float
    cap: int
    where: Literal["stop", "garage"]
    source: str


class CarOut(Shape):
    """A car sheet."""

    id: str
    name: str
    archetype: str
    real: bool
    source: str
    settings: list[SettingOut]
    moves: list[MoveOut]
    limits: dict[str, Any]
    physics: dict[str, Any]


class CarLine(Shape):
    """A car in the list."""

    id: str
    name: str
    default: bool


class CarsOut(Shape):
    """The cars this service knows."""

    cars: list[CarLine]


class TrackLine(Shape):
    """A track in the list."""

    id: str
    name: str
    kind: str
    default: bool


class TracksOut(Shape):
    """The tracks this service knows."""

    tracks: list[TrackLine]


class CornerOut(Shape):
    """One kind of corner; radius and banking in the order of the five phases, `weight` its share of a lap."""

    name: str
    turn: Literal["left", "right"]
    radius_ft: list[float]
    banking_deg: list[float]
    weight: float


class TrackOut(Shape):
    """A track sheet."""

    id: str
    name: str
    kind: Literal["oval", "road"]
    wear: Literal["gentle", "normal", "harsh"]
    length_mi: float
    straight_ft: float
    """The longest."""
    corners: list[CornerOut]
    source: str


class HealthOut(Shape):
    """Alive, and which versions answer."""

    status: Literal["ok"]
    version: str
    versions: dict[str, str]
    waiting: int
    """Requests that wait for a solver thread or are in one."""
    streams: int
    logbook: str | None
    """Why nothing will be kept, or null when all is well."""
