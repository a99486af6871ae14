"""The route table: reading, advice, sheets, health, the page. Sessions stand in `routes_sessions`.

A further route is one more row in ROWS (for `POST` computations: `tool(path, says, takes, gives, work)`)."""

import json
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version

from pydantic import TypeAdapter
from starlette.responses import Response

from grammar.intent import Reading
from grammar.reader import read
from service.contract import Advice, AdviceRequest, ReadingOut
from service.contract_service import CarOut, CarsOut, HealthOut, TextRequest, TrackOut, TracksOut
from service.contract_tools import SheetOut, SheetRequest, ToolAnswer
from service.desk import Call
from service.handing import hand_out
from service.openapi import describe
from service.overlay import show_overlay
from service.routes_sessions import SESSIONS, in_turn
from service.sheet_views import list_cars, list_tracks, show_car, show_track
from service.table import Row, tool
from service.tools import TOOLS

READING = TypeAdapter(Reading)


def give_advice(call: Call) -> Advice:
    """The answer to one complaint; with a session, in the light of what was said there before."""
    return in_turn(call.desk, call.body)


def give_reading(call: Call) -> bytes:
    """What the text was understood to say, as JSON.

    Written from the reading itself; the way through `ReadingOut` takes fifteen times as long to the same."""
    return READING.dump_json(read(call.body.text))


def give_sheet(call: Call) -> SheetOut:
    """A sheet to hand to other drivers."""
    return hand_out(call.body, call.desk.library, call.desk.logbook)


def show_health(call: Call) -> HealthOut:
    """Alive, versions, load."""
    desk = call.desk
    return HealthOut(
        status="ok",
        version=own_version(),
        versions=versions(),
        waiting=desk.solvers.held,
        streams=desk.streams,
        logbook=desk.logbook.notice,
    )


def show_openapi(call: Call) -> Response:
    """The description of this table."""
    return Response(_document(bool(call.desk.settings.token)), media_type="application/json")


@cache
def _document(token: bool) -> str:
    return json.dumps(describe(ROWS, own_version(), token=token))


@cache
def own_version() -> str:
    """Version of the installed distribution."""
    try:
        return version("quarterturn")
    except PackageNotFoundError:
        return "0+source"


@cache
def versions() -> dict[str, str]:
    """Versions of what the answers rest on."""
    libraries = {name: version(name) for name in ("lark", "numpy", "pydantic", "starlette", "uvicorn")}
    return {"python": platform.python_version(), **libraries}


_SHEETS = ("unknown_name", "outside_sheet", "bad_sheet")
ROWS = (
    Row(
        "POST",
        "/v1/reading",
        "What a text was understood to say",
        give_reading,
        TextRequest,
        ReadingOut,
        where="reader",
        repeats=True,
        errors=("no_text",),
    ),
    Row(
        "POST",
        "/v1/advice",
        "The fewest changes that cure a complaint",
        give_advice,
        AdviceRequest,
        Advice,
        where="solver",
        repeats=True,
        errors=(*_SHEETS, "no_text", "logbook"),
    ),
    Row("GET", "/v1/cars", "The cars this service knows", list_cars, gives=CarsOut),
    Row("GET", "/v1/cars/{car}", "A car sheet", show_car, gives=CarOut, errors=("unknown_name",)),
    Row("GET", "/v1/tracks", "The tracks this service knows", list_tracks, gives=TracksOut),
    Row("GET", "/v1/tracks/{track}", "A track sheet", show_track, gives=TrackOut, errors=("unknown_name",)),
    *(tool(f"/v1/{name}", says, takes, ToolAnswer, work) for name, (says, takes, work) in TOOLS.items()),
    Row(
        "POST",
        "/v1/sheet",
        "An answer as a sheet to hand out: Markdown or one HTML file",
        give_sheet,
        SheetRequest,
        SheetOut,
        where="solver",
        errors=(*_SHEETS, "no_text", "logbook"),
    ),
    *SESSIONS,
    Row(
        "GET",
        "/overlay/{session}",
        "The overlay page of a session",
        show_overlay,
        media="text/html",
        open=True,
    ),
    Row("GET", "/healthz", "Alive, and which versions answer", show_health, gives=HealthOut, open=True),
    Row("GET", "/openapi.json", "This description", show_openapi),
)
