"""What a row of the route table is. Adding a route is adding a row; OpenAPI is made from the same rows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from service.desk import Call

if TYPE_CHECKING:
    from service.library import Library
    from service.logbook import Logbook


@dataclass(frozen=True, slots=True)
class Row:
    """One route.

    `answer` takes a Call and gives a shape (or its JSON as bytes); a Starlette response when `gives` is None.
    `where`: `loop` for what takes no time, `reader` for what takes about a millisecond, `solver` for what
    computes, `clerk` for the logbook.
    `errors` are codes beyond those every route has."""

    method: str
    path: str
    says: str
    answer: Callable[[Call], Any]
    takes: type[BaseModel] | None = None
    gives: type[BaseModel] | None = None
    media: str = "application/json"
    where: str = "loop"
    status: int = 200
    repeats: bool = False
    """The answer hangs on the body alone, unless that names a session: it is kept for who asks the same."""
    open: bool = False
    """Answered without the token: it holds nothing of anybody's."""
    errors: tuple[str, ...] = ()
    query: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


def tool(
    path: str,
    says: str,
    takes: type[BaseModel],
    gives: type[BaseModel],
    work: Callable[[Any, "Library", "Logbook"], Any],
    errors: tuple[str, ...] = ("unknown_name", "outside_sheet", "bad_sheet", "logbook"),
) -> Row:
    """A row for `POST path`: `work(request, library, logbook)` in a solver thread."""
    return Row(
        "POST",
        path,
        says,
        lambda call: work(call.body, call.desk.library, call.desk.logbook),
        takes,
        gives,
        where="solver",
        errors=errors,
    )
