"""The one error shape: code, HTTP status and meaning as a table, and which exception becomes which code."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from engine.errors import EngineError, SheetError, UnknownName, ValueOutside
from engine.problem import ProblemError
from grammar.errors import EmptyText, TextTooLong
from service.contract import ErrorBody, ErrorOut
from service.logbook import LogbookError


@dataclass(frozen=True, slots=True)
class Code:
    """One kind of refusal: its name in JSON, its HTTP status, what it means."""

    name: str
    status: int
    means: str


CODES = {
    code.name: code
    for code in (
        Code(
            "malformed", 400, "The request is not what this route takes: bad JSON, a missing or unknown key."
        ),
        Code("no_text", 400, "The complaint holds no words."),
        Code("token_needed", 401, "This service wants `Authorization: Bearer TOKEN`."),
        Code("host_refused", 403, "The Host header names a machine this service does not answer for."),
        Code("origin_refused", 403, "A web page of another origin may not post here."),
        Code("not_found", 404, "No such path."),
        Code("unknown_name", 404, "No such car, track or session."),
        Code("wrong_method", 405, "The path exists, but not for this method; see Allow."),
        Code("too_slow", 408, "The body did not arrive in time."),
        Code("too_large", 413, "The body or the text is longer than what is read."),
        Code("wrong_type", 415, "Only application/json in UTF-8, not compressed, is read."),
        Code("outside_sheet", 422, "A set-up names a setting or a value the sheet does not have."),
        Code("bad_sheet", 422, "A car or track sheet in the request is wrong."),
        Code("not_doable", 422, "The car, track or session does not have what this asks about."),
        Code("too_many", 429, "Too many requests from one client; wait Retry-After seconds."),
        Code("broken", 500, "A defect of the service; the log has the details."),
        Code("busy", 503, "All workers are taken, or the service is stopping; try again."),
        Code("out_of_time", 503, "The answer took longer than the service allows."),
        Code("logbook", 503, "The logbook cannot be read or written just now."),
    )
}
EVERYWHERE = (
    "malformed",
    "token_needed",
    "host_refused",
    "not_found",
    "wrong_method",
    "too_many",
    "broken",
    "busy",
    "out_of_time",
)
"""Codes any route may answer with."""
POSTED = ("origin_refused", "too_slow", "too_large", "wrong_type", "not_doable")
"""Codes any route that takes a body may add."""


class Problem(Exception):
    """A refusal. `code` is a key of CODES, `status` its HTTP status, `where` a place in the request,
    `hint` what would be right, `retry` seconds to wait, `headers` extra ones to send."""

    def __init__(
        self,
        code: str,
        message: str,
        where: str | None = None,
        hint: str | None = None,
        *,
        retry: float | None = None,
        headers: tuple[tuple[str, str], ...] = (),
    ) -> None:
        self.code, self.message, self.where, self.hint = code, message, where, hint
        self.status = CODES[code].status
        self.retry, self.headers = retry, headers
        super().__init__(message)

    def body(self) -> bytes:
        """The error as JSON."""
        error = ErrorBody(code=self.code, message=self.message, where=self.where, hint=self.hint)
        return ErrorOut(error=error).model_dump_json().encode()


def _unknown(error: Any) -> Problem:
    code, where = "unknown_name", str(error.kind)
    if error.kind not in ("car", "track", "session"):
        code = "outside_sheet"
        where = "setup" if error.kind == "setting" else str(error.kind)
    return Problem(code, str(error), where, f"there are: {', '.join(error.known)}" if error.known else None)


def _outside(error: Any) -> Problem:
    return Problem("outside_sheet", str(error), f"setup.{error.setting}", f"allowed: {error.allowed}")


def _sheet(error: Any) -> Problem:
    return Problem("bad_sheet", str(error), f"{error.file}: {error.key}", f"allowed: {error.allowed}")


def _empty(error: Any) -> Problem:
    return Problem("no_text", str(error), "text")


def _too_long(error: Any) -> Problem:
    return Problem("too_large", str(error), "text", f"at most {error.allowed:,} {error.unit}")


def _logbook(error: Any) -> Problem:
    return Problem("logbook", f"the logbook: {error.reason}", None, "try again", retry=2.0)


def _broken(error: Any) -> Problem:
    return Problem("broken", "the service failed on this request; it is in the log")


TABLE: list[tuple[type[Exception], Callable[[Any], Problem]]] = [
    (ValueOutside, _outside),
    (UnknownName, _unknown),
    (SheetError, _sheet),
    (EmptyText, _empty),
    (TextTooLong, _too_long),
    (LogbookError, _logbook),
    (ProblemError, _broken),
    (EngineError, lambda error: Problem("not_doable", str(error))),
]
"""Exception → how it is told. The first row that fits counts."""


def problem_of(error: Exception) -> Problem:
    """The refusal an exception stands for; an unforeseen one is `broken`, without its details."""
    if isinstance(error, Problem):
        return error
    for kind, tell in TABLE:
        if isinstance(error, kind):
            return tell(error)
    return _broken(error)
