"""A sheet for both doors: of an answer made now, or of the last change list of a session."""

from engine.car import Setup
from engine.errors import EngineError
from engine.sheets import at_track
from service.answering import answer
from service.contract import Advice, AdviceRequest
from service.contract_tools import SheetOut, SheetRequest
from service.handout import to_html, to_markdown
from service.library import Library
from service.logbook import Logbook
from service.state import current

__all__ = ["NothingToHandOut", "hand_out"]


class NothingToHandOut(EngineError):
    """There is no change list to put on a sheet. `why` says so."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"{why}: give a complaint, or the name of a session with a change list")


def hand_out(request: SheetRequest, library: Library, logbook: Logbook) -> SheetOut:
    """The sheet. Raises NothingToHandOut and what the sheets, the reader and the engine raise."""
    advice, setup = _now(request, library) if request.text.strip() else _last(request, library, logbook)
    car, track = library.car(request.car or advice.car), library.track(request.track or advice.track)
    write = to_html if request.format == "html" else to_markdown
    whole = at_track(car, track).complete(setup)
    return SheetOut(format=request.format, text=write(advice, car, track.name, whole))


def _now(request: SheetRequest, library: Library) -> tuple[Advice, Setup]:
    asked = AdviceRequest(
        text=request.text, car=request.car, track=request.track, setup=request.setup, style=request.style
    )
    advice = answer(asked, library)
    if not advice.changes:
        raise NothingToHandOut(" ".join([advice.summary, *(q.text for q in advice.questions)]).rstrip("."))
    return advice, dict(request.setup or {})


def _last(request: SheetRequest, library: Library, logbook: Logbook) -> tuple[Advice, Setup]:
    given = current(logbook, request.session).last if request.session else None
    if given is None:
        raise NothingToHandOut(
            f"session {request.session!r} has no change list yet" if request.session else "no complaint"
        )
    return Advice.model_validate(dict(given.advice)), dict(given.before)
