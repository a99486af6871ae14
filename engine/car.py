"""Car sheets: settings, moves and limits of one car class, checked when read.

A set-up is a plain `dict[str, float]`: setting key → value in the unit the sheet gives. Inside the
planner a set-up is whole clicks from the sheet's minimum (`Setting.click_of`, `Setting.value_at`)."""

from collections.abc import Mapping
from functools import cached_property
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from engine.errors import UnknownName, ValueOutside
from engine.vehicle import Physics

Setup = dict[str, float]


class Frozen(BaseModel):
    """Read-only, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Setting(Frozen):
    """One thing that can be adjusted: unit, range, step (or a list of choices), base value, and where it
    can be done."""

    key: str
    label: str
    unit: str
    min: float
    max: float
    step: float | None = None
    choices: tuple[float, ...] | None = None
    base: float
    where: Literal["stop", "garage"] = "garage"
    source: str = "not stated"

    @model_validator(mode="after")
    def _sound(self) -> "Setting":
        if (self.step is None) == (self.choices is None):
            raise ValueError("give either step or choices, not both")
        if self.step is not None and self.step <= 0:
            raise ValueError(f"step is {self.step}, allowed: above 0")
        if self.choices is not None and list(self.choices) != sorted(set(self.choices)):
            raise ValueError("choices must rise and not repeat")
        if not self.min <= self.base <= self.max:
            raise ValueError(f"base is {self.base}, allowed: {self.min} to {self.max}")
        self.click_of(self.base)
        return self

    @property
    def pitch(self) -> float:
        """Mean size of one click."""
        if self.choices is not None:
            return (self.choices[-1] - self.choices[0]) / max(len(self.choices) - 1, 1)
        return self.step or 1.0

    @property
    def last(self) -> int:
        """The highest click."""
        if self.choices is not None:
            return len(self.choices) - 1
        return round((self.max - self.min) / (self.step or 1.0))

    def value_at(self, click: int) -> float:
        """Value at a click, 0 = minimum."""
        if self.choices is not None:
            return self.choices[click]
        return round(self.min + click * (self.step or 1.0), 6)

    def click_of(self, value: float) -> int:
        """Click of a value; ValueOutside if it is out of range or off the step."""
        if self.choices is not None:
            for index, choice in enumerate(self.choices):
                if abs(choice - value) < 1e-6:
                    return index
            raise ValueOutside(self.key, value, self.allowed())
        click = round((value - self.min) / (self.step or 1.0))
        if not 0 <= click <= self.last or abs(self.value_at(click) - value) > 1e-4 * max(
            1.0, abs(self.step or 1.0)
        ):
            raise ValueOutside(self.key, value, self.allowed())
        return click

    def allowed(self) -> str:
        """The range in words."""
        if self.choices is not None:
            return f"one of {', '.join(f'{c:g}' for c in self.choices)} {self.unit}"
        return f"{self.min:g} to {self.max:g} {self.unit} in steps of {self.step:g}"


class Move(Frozen):
    """One adjustment as the trade thinks of it: one setting or several moved together.

    `parts` maps setting key → clicks of that setting per click of the move (signed whole numbers).
    `reach` is the trade's order of reaching for it (smaller = first). `cap` is the most clicks of the
    move in one round."""

    key: str
    label: str
    parts: dict[str, int]
    reach: float = Field(ge=0)
    cap: int = Field(ge=1)
    where: Literal["stop", "garage"] = "garage"
    source: str = "common practice, no source"


class Link(Frozen):
    """A limit on the difference of two settings ("keep the split at most 50 lb/in"): low <= first -
    second <= high."""

    label: str
    first: str
    second: str
    low: float
    high: float


class Limits(Frozen):
    """What the car must not exceed, and the windows its tyres like. None = not limited."""

    water_temperature: float | None = None  # degF
    top_rpm: float | None = None  # the limiter
    wear_gap: float = (
        4.0  # RF minus RR at the end of the run, % points, either sign (common practice, no source)
    )
    pressure_window: float = 4.0  # psi either side of the tyre's best
    camber_window: float = 1.5  # deg either side of the best
    lockup_margin: float = 0.0  # % of grip left
    links: tuple[Link, ...] = ()


class SettingTable:
    """Mixin for things that carry `settings`: look-ups and whole set-ups."""

    settings: tuple[Setting, ...]

    @cached_property
    def by_key(self) -> Mapping[str, Setting]:
        """Setting by key."""
        return {s.key: s for s in self.settings}

    def setting(self, key: str) -> Setting:
        """One setting; UnknownName if the car has none of that name."""
        try:
            return self.by_key[key]
        except KeyError:
            raise UnknownName("setting", key, self.by_key) from None

    def base_setup(self) -> Setup:
        """The sheet's own set-up."""
        return {s.key: s.base for s in self.settings}

    def complete(self, changes: Mapping[str, float] | None) -> Setup:
        """The base set-up with `changes` laid over it, each checked against the sheet."""
        setup = self.base_setup()
        for key, value in (changes or {}).items():
            setup[key] = self.setting(key).value_at(self.setting(key).click_of(value))
        return setup


class Car(Frozen, SettingTable):
    """A car class: what can be set, how the trade moves it, what must hold, and the physics behind it."""

    id: str
    name: str
    archetype: str
    real: bool = False
    source: str = "not stated"
    settings: tuple[Setting, ...]
    moves: tuple[Move, ...]
    limits: Limits
    physics: Physics
