"""The application: one endpoint per path of the route table, behind the guard."""

from collections.abc import Iterable, Sequence
from urllib.parse import parse_qsl

from numpy.linalg import LinAlgError
from pydantic import BaseModel, ValidationError
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route, Router
from starlette.types import ASGIApp, Receive, Scope, Send

from service.bodies import parse_json, read_body, shape_of
from service.desk import Call, Desk
from service.errors import Problem
from service.guards import Guard
from service.records import Records
from service.repeats import Repeats
from service.table import Row

__all__ = ["build", "endpoints"]

MOST_NAMES = 20
"""Names a query may hold."""


class Endpoint:
    """One path: picks the row by method, reads the body, runs the row where it belongs, writes the answer."""

    def __init__(self, rows: Iterable[Row], desk: Desk) -> None:
        self.rows = {row.method: row for row in rows}
        self.desk, self.repeats = desk, Repeats()
        if "GET" in self.rows:
            self.rows["HEAD"] = self.rows["GET"]
        self.allow = ", ".join(sorted(self.rows))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        row = self.rows.get(scope["method"])
        if row is None:
            message = f"{scope['method'][:20]} does not go with this path"
            raise Problem(
                "wrong_method", message, None, f"allowed: {self.allow}", headers=(("allow", self.allow),)
            )
        raw = b""
        if row.takes is not None:
            raw = await read_body(scope["quarterturn.headers"], receive, self.desk.settings)
        answer: bytes | Response | None = self.repeats.get(raw) if row.repeats else None
        if answer is None:
            answer = await self._answer(row, self._call(row, scope, raw), raw)
        if isinstance(answer, StreamingResponse) and scope["method"] == "HEAD":
            answer = Response(headers=dict(answer.headers))
        if isinstance(answer, Response):
            await answer(scope, receive, send)
        else:
            await _send_json(send, row, answer, scope["method"])

    def _call(self, row: Row, scope: Scope, raw: bytes) -> Call:
        settings, body = self.desk.settings, None
        if row.takes is not None:
            body = shape_of(row.takes, parse_json(raw, settings))
        query = parse_query(scope["query_string"]) if row.query else {}
        return Call(self.desk, body, scope.get("path_params", {}), query, scope["quarterturn.headers"])

    async def _answer(self, row: Row, call: Call, raw: bytes) -> bytes | Response:
        """What the row answers; kept if the next request with this body is to have the same."""
        try:
            answer = await self._work(row, call)
        except Exception as error:
            sheets = brought_sheets(call.body)
            if sheets and leads_nowhere(error):
                raise _senseless(sheets) from error
            raise
        if row.repeats and isinstance(answer, bytes) and getattr(call.body, "session", None) is None:
            self.repeats.keep(raw, answer)
        return answer

    async def _work(self, row: Row, call: Call) -> bytes | Response:
        if row.where == "reader":
            return await self.desk.reader.run(_written, row, call)
        if row.where == "solver":
            return await self.desk.solvers.run(_written, row, call)
        if row.where == "clerk":
            return await self.desk.clerks.run(_written, row, call)
        return _written(row, call)


def _written(row: Row, call: Call) -> bytes | Response:
    """The answer of a row, a shape as JSON: written where it was computed, not on the event loop."""
    answer = row.answer(call)
    return answer.model_dump_json(by_alias=True).encode() if isinstance(answer, BaseModel) else answer


def brought_sheets(body: BaseModel | None) -> list[str]:
    """The names under which a request brings whole sheets along."""
    parts = list(body) if body is not None else []
    return [name for name, part in parts if isinstance(part, dict) and ("car" in name or "track" in name)]


def leads_nowhere(error: Exception) -> bool:
    """Whether a sound program raises this when numbers lead nowhere: a division by nothing, a matrix without
    an inverse, an answer that is not finite. All else, such as an answer of the wrong shape, is a defect."""
    if isinstance(error, ValidationError):
        return all(part["type"] == "finite_number" for part in error.errors(include_url=False))
    return isinstance(error, (ArithmeticError, LinAlgError))


def _senseless(sheets: list[str]) -> Problem:
    """What is said when the numbers of a sheet of the client's own lead nowhere."""
    names = " and ".join(sheets)
    message = f"the car cannot be computed with the sheet this request brings as {names}"
    return Problem("bad_sheet", message, names, "begin with a sheet that works and change it step by step")


def parse_query(query: bytes) -> dict[str, str]:
    """The query as a flat mapping; Problem if a name comes twice, or more names than any route knows."""
    try:
        pairs = parse_qsl(query.decode("latin-1"), keep_blank_values=True, max_num_fields=MOST_NAMES)
    except ValueError:
        message = f"the query has more than {MOST_NAMES} names"
        raise Problem("malformed", message, "query", "see /openapi.json") from None
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Problem("malformed", "a query name is given twice", "query")
    return found


async def _send_json(send: Send, row: Row, body: bytes, method: str) -> None:
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": row.status, "headers": headers})
    await send({"type": "http.response.body", "body": body if method != "HEAD" else b""})


async def _nowhere(scope: Scope, receive: Receive, send: Send) -> None:
    raise Problem("not_found", f"no such path: {scope['path'][:200]}", "path", "see /openapi.json")


def endpoints(rows: Sequence[Row], desk: Desk) -> list[Route]:
    """One Starlette route per path, in the order of the table."""
    paths: dict[str, list[Row]] = {}
    for row in rows:
        paths.setdefault(row.path, []).append(row)
    return [Route(path, Endpoint(group, desk)) for path, group in paths.items()]


def build(desk: Desk, rows: Sequence[Row], records: Records) -> ASGIApp:
    """The whole application for a desk."""
    router = Router(routes=endpoints(rows, desk), redirect_slashes=False, default=_nowhere)
    return Guard(router, desk.settings, records)
