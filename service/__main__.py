"""`quarterturn serve`: bind, say where, run until stopped.

Exit codes: 0 stopped on request, 1 cannot listen, 2 wrong settings."""

import contextlib
import gc
import logging
import os
import signal
import socket
import sys
from collections.abc import Sequence
from types import FrameType
from typing import IO

import uvicorn

from grammar.reader import read
from service.app import build
from service.desk import Desk, open_desk
from service.library import Library
from service.logbook import Logbook
from service.protocol import patient
from service.records import Handler, Records
from service.routes import ROWS
from service.settings import Settings, from_environment
from service.table import Row

__all__ = ["main", "serve"]

SWITCH_SECONDS = 0.001
"""A solver thread hands over to the event loop this often (Python's own default is 5 ms)."""
LIBRARIES = ("uvicorn", "asyncio", "py.warnings")
"""Loggers whose messages are records of the service."""


class Server(uvicorn.Server):
    """Tells the event streams to end before it waits for open connections."""

    desk: Desk

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop taking, finish what is under way, then go."""
        self.desk.stopping.set()
        await super().shutdown(sockets)


def serve(
    host: str | None = None,
    port: int | None = None,
    *,
    library: Library | None = None,
    out: IO[str] | None = None,
) -> int:
    """Run the service until Ctrl-C or SIGTERM; the exit code. `out` gets lines for people, stderr records."""
    out = out or sys.stdout
    try:
        settings = from_environment(os.environ, host=host, port=port)
    except ValueError as error:
        print(f"quarterturn serve: {error}", file=sys.stderr)
        return 2
    try:
        listening = bind(settings)
    except OSError as error:
        reason = error.strerror or str(error)
        print(
            f"quarterturn serve: cannot listen at {settings.host} port {settings.port}: {reason}; "
            "choose another with --port",
            file=sys.stderr,
        )
        return 1
    desk = open_desk(settings, library or Library(), Logbook.opened())
    read("tight in")  # the word tables are loaded now, not while the first client waits
    gc.freeze()  # they stay: the collector would look through them each time, a tenth of a second
    print(greeting(settings, listening.getsockname()[1]), file=out, flush=True)
    if desk.logbook.notice:
        told = f"  note:     {desk.logbook.notice}"
        print(
            told.encode("ascii", "backslashreplace").decode(), file=out, flush=True
        )  # any console has ASCII
    try:
        run(desk, listening)
    finally:
        desk.close()
        desk.logbook.close()
    print("stopped", file=out, flush=True)
    return 0


def run(desk: Desk, listening: socket.socket) -> None:
    """Serve on a bound socket until a signal asks to stop."""
    records = Records(desk.settings.log)
    keep_records(records)
    server = Server(config(desk, records))
    server.desk = desk
    sys.setswitchinterval(SWITCH_SECONDS)
    signal.signal(signal.SIGTERM, _interrupt)
    if sys.platform == "win32":
        signal.signal(signal.SIGBREAK, _interrupt)  # Ctrl-Break
    with contextlib.suppress(KeyboardInterrupt):  # it has stopped in order by then, and passes the signal on
        server.run(sockets=[listening])


def keep_records(records: Records) -> None:
    """Bring what the libraries below say into the same lines: the server, the event loop, warnings."""
    logging.captureWarnings(True)
    for name in LIBRARIES:
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [Handler(records)], False


def config(desk: Desk, records: Records, rows: Sequence[Row] | None = None) -> uvicorn.Config:
    """How the server library is set up; `rows` None means the service's own table."""
    return uvicorn.Config(
        build(desk, ROWS if rows is None else rows, records),
        http=patient(desk.settings),
        ws="none",
        lifespan="off",
        log_config=None,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=10,
        timeout_graceful_shutdown=max(1, round(desk.settings.stop_seconds)),
        backlog=512,
    )


def bind(settings: Settings) -> socket.socket:
    """A socket that listens where the settings say; OSError if it cannot."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform == "win32":  # there SO_REUSEADDR lets a second program take over the port
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((settings.host, settings.port))
        bound.listen(512)
    except BaseException:
        bound.close()
        raise
    return bound


def greeting(settings: Settings, port: int) -> str:
    """What `serve` prints: where it listens, how to stop, the overlay's address."""
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    address = f"http://{host}:{port}"
    reach = "this machine only" if settings.local else "others can reach it, with the token"
    page = "#token=TOKEN" if settings.token else ""
    return (
        f"quarterturn serves at {address} ({reach})\n"
        f"  overlay:  {address}/overlay/SESSION{page}\n"
        f"  routes:   {address}/openapi.json\n"
        "  stop:     Ctrl-C"
    )


def _interrupt(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def main() -> int:
    """Run with the settings of the environment."""
    return serve()


if __name__ == "__main__":
    sys.exit(main())
