"""Symptoms, verdicts and the story in the making: plain records that the later steps fill in."""

from dataclasses import dataclass, field

from grammar.clauses import Head

OPPOSITE = {"tight": "loose", "loose": "tight"}
TROUBLE = {"front": "tight", "rear": "loose"}
"""What is wrong when this end of the car gives up."""


LIVE = ("live", "worse")


@dataclass(slots=True)
class Draft:
    """A symptom in the making. `phases` is empty while none is known; `asked` when it came from a request."""

    kind: str
    direction: str | None
    state: str
    head: Head
    first: int
    last: int
    phases: tuple[str, ...] = ()
    severity: str | None = None
    stage: str | None = None
    trigger: str | None = None
    corner: str | None = None
    tyre: str | None = None
    asked: str | None = None


@dataclass(slots=True)
class Verdict:
    """What was said of the last change."""

    means: str
    phases: tuple[str, ...]
    head: Head
    direction: str | None = None
    setting: str | None = None


@dataclass(slots=True)
class Story:
    """Everything the heads of a text say together."""

    drafts: list[Draft] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    good: tuple[str, ...] = ()
    good_stages: set[str] = field(default_factory=set)
    doubtful: list[Head] = field(default_factory=list)
    """Heads that speak of trouble without a direction ("not good in the middle")."""
    denials: list[Head] = field(default_factory=list)
    """Clauses that deny something no table knows ("I cannot get it to bloom"); trouble beside praise."""


def made(head: Head, kind: str, direction: str | None, state: str, asked: str | None = None) -> Draft:
    part = head.part
    assert part is not None
    return Draft(kind, direction, state, head, part.first, part.last, asked=asked)
