"""The shapes of the service: what comes in, what goes out. One success shape per route, one error shape."""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Status = Literal["change", "question", "no_change", "stop", "not_possible"]


class Shape(BaseModel):
    """No unknown keys, no NaN, no infinities."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True, allow_inf_nan=False)


TEXT: Any = Field(
    description="At most 2,000 characters and 200 words; a longer one is refused with 413.",
    json_schema_extra={"minLength": 1, "pattern": "\\S"},
)
"""A complaint as a shape holds it. Its bounds are the reader's, which says more than a shape could."""


class AdviceRequest(Shape):
    """A complaint about a car at a track. `car` and `track` are an id or a whole sheet."""

    text: str = TEXT
    car: str | dict[str, Any] | None = None
    track: str | dict[str, Any] | None = None
    setup: dict[str, float] | None = None
    session: str | None = Field(default=None, max_length=100)
    alternatives: int = Field(default=2, ge=0, le=5)
    style: dict[str, str] | None = None


class SpanOut(Shape):
    start: int
    end: int
    text: str


class SymptomOut(Shape):
    kind: str
    direction: Literal["tight", "loose"] | None
    phases: list[str]
    phase_said: bool
    trigger: str | None
    severity: Literal["slight", "plain", "severe"]
    stage: Literal["start", "half", "late", "whole"] | None
    state: Literal["live", "gone", "eased", "worse", "feared"]
    corner: str | None
    tyre: str | None
    span: SpanOut


class OutcomeOut(Shape):
    verdict: str
    direction: str | None
    phases: list[str]
    setting: str | None
    amount: float | None
    span: SpanOut


class MeasurementOut(Shape):
    quantity: str
    values: list[float]
    unit: str | None
    tyre: str | None
    condition: str | None
    span: SpanOut
    point: str | None = None
    against: str | None = None


class LimitOut(Shape):
    kind: str
    settings: list[str]
    number: int | None
    span: SpanOut


class RequestOut(Shape):
    kind: str
    settings: list[str]
    value: float | None
    unit: str | None
    relative: bool
    direction: str | None
    span: SpanOut


class ChoiceOut(Shape):
    answer: str
    label: str


class QuestionOut(Shape):
    about: str
    text: str
    choices: list[ChoiceOut]
    span: SpanOut | None = None


class CorrectionOut(Shape):
    span: SpanOut
    read_as: str


class ReadingOut(Shape):
    """What was understood, ignored and not understood."""

    text: str
    symptoms: list[SymptomOut]
    outcomes: list[OutcomeOut]
    measurements: list[MeasurementOut]
    limits: list[LimitOut]
    requests: list[RequestOut]
    questions: list[QuestionOut]
    stop: str | None
    driver: bool
    understood: list[SpanOut]
    ignored: list[SpanOut]
    unknown: list[SpanOut]
    corrections: list[CorrectionOut]
    good: list[str]
    good_stages: list[str] = []


class BeforeAfter(Shape):
    before: float
    after: float
    unit: str


class ReasonOut(Shape):
    """One true sentence and the computed numbers in it."""

    kind: str
    text: str
    numbers: dict[str, float]
    sources: list[str]


class EffectOut(Shape):
    channel: str
    before: float
    after: float
    unit: str


class ChangeOut(Shape):
    """One line of the change list."""

    setting: str
    label: str
    unit: str
    from_: float = Field(alias="from")
    to: float
    clicks: int
    where: Literal["stop", "garage"]
    reasons: list[ReasonOut]
    effects: list[EffectOut]


class PlanOut(Shape):
    """An alternative change list."""

    changes: list[ChangeOut]
    expected: dict[str, BeforeAfter]
    summary: str


class WhyNotOut(Shape):
    move: str
    label: str
    text: str
    numbers: dict[str, float]


class ClashOut(Shape):
    """Wishes and limits that cannot all hold, and the single repair that helps most."""

    members: list[str]
    text: str
    repair: str | None


class SourceOut(Shape):
    key: str
    title: str
    where: str
    mark: str


class Advice(Shape):
    """The answer to a complaint."""

    status: Status
    summary: str
    reading: ReadingOut
    changes: list[ChangeOut]
    expected: dict[str, BeforeAfter]
    alternatives: list[PlanOut]
    questions: list[QuestionOut]
    why_not: list[WhyNotOut]
    clash: ClashOut | None
    cautions: list[str]
    notes: list[str]
    sources: list[SourceOut]
    car: str
    track: str
    session: str | None


class ErrorBody(Shape):
    code: str
    message: str
    where: str | None = None
    hint: str | None = None


class ErrorOut(Shape):
    """The one error shape."""

    error: ErrorBody
