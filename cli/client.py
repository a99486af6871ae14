"""Who answers: this process, or a running service by its URL. Both give the same answers in the same shapes.

Everything heavy is imported when it is first needed, so that a prompt can be shown before it.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from cli.problems import BAD_INPUT, UNREACHABLE, Problem, check_texts

if TYPE_CHECKING:
    from pydantic import BaseModel

    from service.contract import Advice, ReadingOut
    from service.contract_tools import ToolAnswer
    from service.library import Kind, Library
    from service.logbook import Logbook

T = TypeVar("T")
Shaped = TypeVar("Shaped", bound="BaseModel")
Request = Mapping[str, Any]
"""The keys of `service.contract.AdviceRequest`."""


class Client(Protocol):
    """What a door needs. Everything raises Problem."""

    def advise(self, request: Request) -> "Advice":
        """The answer to one complaint; with `session` in the request, the next turn of that conversation."""

    def read(self, text: str) -> "ReadingOut":
        """What a text is understood to say."""

    def tool(self, name: str, request: Request) -> "ToolAnswer":
        """What a builder's tool answers; `name` is its path under /v1."""

    def handout(self, request: Request) -> str:
        """A sheet to hand out, as one text; the keys of `service.contract_tools.SheetRequest`."""

    def sheets(self, kind: str) -> list[dict[str, Any]]:
        """Ids and names of all cars or tracks; `kind` is `cars` or `tracks`."""

    def sheet(self, kind: str, name: str) -> dict[str, Any]:
        """One car or track."""

    def state(self, session: str) -> dict[str, Any]:
        """What holds in a session: `car`, `track` (ids), `setup` (what differs from the car's own)."""

    def open(self, session: str, context: Mapping[str, Any]) -> None:
        """Let a car, track, set-up or style hold in a session from now on."""

    def log(self, session: str) -> list[dict[str, Any]]:
        """The events of a session, oldest first."""

    def learned(self, session: str) -> list[str]:
        """What the car's answers taught, a sentence each."""

    def forget(self, session: str) -> None:
        """Forget what was learned of the session's car."""

    def notices(self) -> list[str]:
        """Messages to show once: a logbook that was set aside or cannot be written."""


class Here:
    """Answers in this process. `db` None means the logbook in the user's data folder."""

    def __init__(self, db: str | None = None) -> None:
        self.db = db
        self._logbook: Logbook | None = None
        self._library: Library | None = None
        self._shown: set[str] = set()

    def advise(self, request: Request) -> "Advice":
        """See Client."""
        from service.contract import AdviceRequest
        from service.replying import reply

        asked = shaped(AdviceRequest, request)
        return _told(lambda: reply(asked, self.library, self.logbook))

    def read(self, text: str) -> "ReadingOut":
        """See Client."""
        from service.answering import read_only

        check_texts({"text": text})
        return _told(lambda: read_only(text))

    def tool(self, name: str, request: Request) -> "ToolAnswer":
        """See Client."""
        from service.tools import TOOLS

        _, kind, work = TOOLS[name]
        asked = shaped(kind, request)
        return _told(lambda: work(asked, self.library, self.logbook))

    def handout(self, request: Request) -> str:
        """See Client."""
        from service.contract_tools import SheetRequest
        from service.handing import hand_out

        asked = shaped(SheetRequest, request)
        return _told(lambda: hand_out(asked, self.library, self.logbook)).text

    def sheets(self, kind: str) -> list[dict[str, Any]]:
        """See Client."""
        if kind == "cars":
            cars, usual = self.library.cars.values(), self.library.car().id
            return [{"id": c.id, "name": c.name, "default": c.id == usual} for c in cars]
        tracks, usual = self.library.tracks.values(), self.library.track().id
        return [{"id": t.id, "name": t.name, "kind": t.kind, "default": t.id == usual} for t in tracks]

    def sheet(self, kind: str, name: str) -> dict[str, Any]:
        """See Client."""
        from service.sheet_views import car_out, track_out

        if kind == "cars":
            return _told(lambda: car_out(self.library.car(name))).model_dump(mode="json")
        return _told(lambda: track_out(self.library.track(name))).model_dump(mode="json")

    def add(self, kind: "Kind", path: str) -> dict[str, Any]:
        """Check a sheet of the user's own and keep it. Raises Problem."""
        made = _told(lambda: self.library.add(kind, Path(path)))
        return {"id": made.id, "name": made.name}

    def state(self, session: str) -> dict[str, Any]:
        """See Client."""
        from service.state import current

        now = _told(lambda: current(self.logbook, session))
        car, track = self.library.car(now.car), self.library.track(now.track)
        return {"car": car.id, "track": track.id, "setup": dict(now.setup), "style": dict(now.style)}

    def open(self, session: str, context: Mapping[str, Any]) -> None:
        """See Client."""
        from service.conversation import check_style
        from service.state import current

        now = _told(lambda: current(self.logbook, session))
        car = _told(lambda: self.library.car(context.get("car", now.car)))
        _told(lambda: self.library.track(context.get("track", now.track)))
        _told(lambda: car.complete(context.get("setup")))
        _told(lambda: check_style(context.get("style")))
        _told(lambda: self.logbook.append(session, "context", dict(context)))

    def learned(self, session: str) -> list[str]:
        """See Client."""
        from service.learned import learned
        from service.state import current

        now = _told(lambda: current(self.logbook, session))
        return learned(now, self.library.car(now.car))

    def forget(self, session: str) -> None:
        """See Client."""
        from service.conversation import forget

        _told(lambda: forget(self.logbook, session))

    def log(self, session: str) -> list[dict[str, Any]]:
        """See Client."""
        return _told(
            lambda: [
                {"id": e.id, "kind": e.kind, "at": e.at, "data": dict(e.data)}
                for e in self.logbook.events(session)
            ]
        )

    def notices(self) -> list[str]:
        """See Client."""
        fresh = [n for n in [self._logbook and self._logbook.notice] if n and n not in self._shown]
        self._shown |= set(fresh)
        return fresh

    @property
    def library(self) -> "Library":
        """Shipped and user's own sheets."""
        if self._library is None:
            from service.library import Library

            self._library = _told(Library)
        return self._library

    @property
    def logbook(self) -> "Logbook":
        """The open logbook."""
        if self._logbook is None:
            from service.logbook import Logbook

            self._logbook = _told(lambda: Logbook(self.db)) if self.db else Logbook.opened()
        return self._logbook


def client_for(server: str | None, db: str | None) -> Client:
    """The client that the options ask for. Raises Problem when they do not go together."""
    if server is None:
        return Here(db)
    if db is not None:
        raise Problem("--db and --server do not go together", "a service has its own logbook")
    from cli.remote import There

    return There(server)


def shaped(kind: "type[Shaped]", request: Request) -> "Shaped":
    """The request in its shape; Problem names the first key that does not fit."""
    from pydantic import ValidationError

    from service.bodies import wrong_part

    check_texts(request)
    try:
        return kind.model_validate(dict(request))
    except ValidationError as error:
        raise Problem(wrong_part(error, kind)[0]) from None


def _told(work: Callable[[], T]) -> T:
    """The result of `work`; what it raises on purpose becomes a Problem."""
    try:
        return work()
    except Exception as error:
        raise _problem(error) from error


def _problem(error: Exception) -> Exception:
    from service.errors import problem_of
    from service.logbook import LogbookError

    if isinstance(error, LogbookError):
        return Problem(str(error), code="logbook", exit=UNREACHABLE)
    if isinstance(error, OSError):
        return Problem(f"{error.filename or 'a file'}: {error.strerror or error}")
    told = problem_of(error)
    if told.code == "broken":
        return error
    return Problem(told.message, told.hint, code=told.code, exit=BAD_INPUT)
