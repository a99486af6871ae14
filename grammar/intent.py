"""The result types of reading: what a complaint was understood to say. Imports nothing of ours.

All positions are character offsets into the text as it was typed (`Reading.text`), end exclusive.
"""

from dataclasses import dataclass

PHASES = (
    "entry-braking",
    "entry-rolling",
    "centre",
    "exit-first-throttle",
    "exit-full-throttle",
)
"""The five corner phases, in the order the car meets them. `straight` is a sixth place a complaint can
live."""
PHASE_GROUPS = {"entry": PHASES[0:2], "centre": PHASES[2:3], "exit": PHASES[3:5]}
STAGES = ("start", "half", "late")
SEVERITIES = ("slight", "plain", "severe")
STATES = ("live", "gone", "eased", "worse", "feared")
DIRECTIONS = ("tight", "loose")
TYRES = ("LF", "RF", "LR", "RR")


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the typed text: `text[start:end]`."""

    start: int
    end: int
    text: str


@dataclass(frozen=True, slots=True)
class Symptom:
    """One thing wrong with the car (or denied, cured, past or feared: see `state`; only `live` and `worse`
    ask for a cure)."""

    kind: str
    """`balance`, or a plain word from `vocabulary/symptoms.toml` such as `wheelspin` or `engine-hot`."""
    direction: str | None
    """`tight`, `loose`, or None when the kind has no direction."""
    phases: tuple[str, ...]
    phase_said: bool
    """False when the driver named no phase; then `phases` lists all five and a question is asked."""
    trigger: str | None
    severity: str
    stage: str | None
    """`start`, `half`, `late`, `whole`, or None when not said."""
    state: str
    corner: str | None
    tyre: str | None
    span: Span


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the driver says the last change did. `verdict`: fixed, better, no-change, worse, too-far, or,
    about the change itself: done, partly-done, refused."""

    verdict: str
    direction: str | None
    phases: tuple[str, ...]
    """Empty when no phase was named: the verdict is about everything that was complained of."""
    setting: str | None
    """The setting (key) the verdict names, if any: "only went half a point" on cross, "the bar didn't do
    anything"."""
    amount: float | None
    """What was really done, in the setting's usual unit, with `partly-done`."""
    span: Span


@dataclass(frozen=True, slots=True)
class Measurement:
    """A number read off the car. `quantity`: tyre-wear, tyre-temperature, tyre-pressure, water-temperature,
    oil-temperature, rpm, lap-time, fuel. Units: `%`, `F`, `C`, `psi`, `kPa`, `bar`, `rpm`, `s`, `gal`, `l`,
    or None
    when it was not said and cannot be told from the size of the number (then a question is asked)."""

    quantity: str
    values: tuple[float, ...]
    """One value; for tyre temperatures also three (inside, middle, outside) or two (inside, outside)."""
    unit: str | None
    tyre: str | None
    condition: str | None
    """`hot`, `cold`, or None."""
    span: Span
    point: str | None = None
    """Where across the tyre one temperature was taken: `inside`, `middle`, `outside`, or None."""
    against: str | None = None
    """None for the value itself. Else the figure is how much more (less: negative) it is than this: another
    tyre (`LR`) or point (`inside`), `edge` (from edge to edge, which way was not said), `cold` (built up over
    the run), `first` (lap time lost since the first laps), `usual` (what it is compared with was not
    told)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A wish that narrows the answer. `kind`: not (leave these settings alone), only (use only these),
    stop-only (what can be done on a pit stop), max-changes (`number`), keep (hold these as they are: "keep
    the rear split"); and what lifts one said before: lift (these may be used again; no settings: everything),
    lift-stop, lift-count."""

    kind: str
    settings: tuple[str, ...]
    number: int | None
    span: Span


@dataclass(frozen=True, slots=True)
class Request:
    """Something asked for. `kind`: goal (free me up / tighten me up; the implied symptom is listed too), set
    (run this setting at
    `value`), step (move this setting by `value`), what-if, why, why-not, undo, another, show."""

    kind: str
    settings: tuple[str, ...]
    value: float | None
    unit: str | None
    relative: bool
    """True when `value` is a change ("25 up"), False when it is a place to be ("run a 1.25 bar")."""
    direction: str | None
    """For goal: the direction asked FOR (`loose` for "free me up"); for set/step without a number: `up` or
    `down`."""
    span: Span


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question: `answer` is text that can be typed back, `label` says it in words."""

    answer: str
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """One thing we must ask before we can go on. `about`: phase, direction, unit, tyre, setting, meaning."""

    about: str
    text: str
    choices: tuple[Choice, ...]
    span: Span | None


@dataclass(frozen=True, slots=True)
class Correction:
    """A spelling slip and the word it was read as; never across the tight/loose divide, never a negation."""

    span: Span
    read_as: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What a complaint was understood to say, with the spans of text behind it."""

    text: str
    symptoms: tuple[Symptom, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    limits: tuple[Limit, ...] = ()
    requests: tuple[Request, ...] = ()
    questions: tuple[Question, ...] = ()
    stop: str | None = None
    """Why the car must stop (brakes, wheel, smoke, tyre-down, crash, fire), or None."""
    driver: bool = False
    """True when the driver blames himself ("I overdrove it"): say so first."""
    understood: tuple[Span, ...] = ()
    ignored: tuple[Span, ...] = ()
    unknown: tuple[Span, ...] = ()
    corrections: tuple[Correction, ...] = ()
    good: tuple[str, ...] = ()
    """Phases the driver calls good: they get a tight band."""
    good_stages: tuple[str, ...] = ()
    """Run stages the driver calls good beside a complaint about another one ("tight off on fresh tyres, okay
    later"): there the places complained of get a tight band."""

    def live(self) -> tuple[Symptom, ...]:
        """The symptoms that ask for a cure."""
        return tuple(s for s in self.symptoms if s.state in ("live", "worse"))
