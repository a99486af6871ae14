"""One conversation: who answers, what holds, what was last answered, what is being asked."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from cli import brief, rendering
from cli.client import Client
from cli.page import Page
from cli.problems import ANSWERED, BY_STATUS, Problem

if TYPE_CHECKING:
    from service.contract import Advice, QuestionOut

PREFIX = "/"


@dataclass(frozen=True, slots=True)
class Turn:
    """What one line led to. `leave`: the chat is over."""

    lines: list[str]
    exit: int = ANSWERED
    leave: bool = False
    advice: "Advice | None" = None


@dataclass
class Session:
    """One conversation. `given` holds what goes with the next complaint: car, track, setup, style."""

    client: Client
    name: str
    given: dict[str, Any] = field(default_factory=dict)
    alternatives: int = 2
    last: "Advice | None" = None
    """The last answer with a change list."""
    cautioned: set[str] = field(default_factory=set)
    """Cautions already shown: each is said once in a session."""
    open: "list[QuestionOut]" = field(default_factory=list)
    """Questions waiting for an answer."""

    def say(self, text: str) -> "Advice":
        """One complaint to whoever answers; what it says is remembered here. Raises Problem."""
        request = {"text": text, "session": self.name, "alternatives": self.alternatives, **self.given}
        advice = self.client.advise(request)
        self.given = {}
        self.open = advice.questions
        if advice.changes:
            self.last = advice
        return advice

    def answered(self, page: Page, advice: "Advice") -> Turn:
        """The answer in short, as a turn; a caution goes with a change list, once in a session."""
        given = advice.cautions if advice.changes else []
        fresh = [caution for caution in given if caution not in self.cautioned]
        self.cautioned |= set(fresh)
        shown = advice.model_copy(update={"cautions": fresh})
        asked = {request.kind for request in advice.reading.requests}
        last = self.recalled() if "why" in asked else None
        if last is not None and not advice.changes:
            lines = rendering.because(page, last.model_copy(update={"reading": advice.reading}))
        elif "why-not" in asked and not advice.reading.symptoms:
            lines = rendering.left_alone(page, advice)
        else:
            lines = brief.short(page, shown)
        return Turn(lines, BY_STATUS[advice.status], advice=advice)

    def recalled(self) -> "Advice | None":
        """The last answer with a change list, out of the logbook if need be. Raises Problem."""
        if self.last is None:
            from service.contract import Advice

            given = (event["data"]["advice"] for event in self._events() if event["kind"] == "advised")
            lists = [advice for advice in given if advice["changes"]]
            self.last = Advice.model_validate(lists[-1]) if lists else None
        return self.last

    def _events(self) -> list[dict[str, Any]]:
        try:
            return self.client.log(self.name)
        except Problem as problem:
            if problem.code == "unknown_name":  # a service does not know a session before its first complaint
                return []
            raise

    def take(self, **context: Any) -> None:
        """Let a car, track or set-up hold from now on. Raises Problem."""
        self.client.open(self.name, {**self.given, **context})
        self.given = {}

    def state(self) -> dict[str, Any]:
        """What holds now: `car`, `track`, `setup`. Raises Problem."""
        if self.given:
            self.take()
        return self.client.state(self.name)

    def begin(self, name: str | None) -> None:
        """Go on under another name; a new one (date and time) when none is given."""
        self.name, self.last, self.open = name or new_name(), None, []

    def chosen(self, text: str) -> str:
        """The answer behind the number of a choice, or the text as it is."""
        choices = self.open[0].choices if self.open else []
        if text.isdecimal() and 1 <= int(text) <= len(choices):
            return choices[int(text) - 1].answer
        return text


def new_name() -> str:
    """A name for a session: date and time to the millisecond, sortable, fit for a URL."""
    return datetime.now().strftime("%Y%m%d-%H%M%S-%f")[:-3]
