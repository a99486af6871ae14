"""Connections with patience that ends: half-sent or endless headers, too many of them, readers that stopped.

The server library leaves a connection alone until its first request is there; here it has `read_seconds`."""

import asyncio
import socket

from uvicorn.config import Config
from uvicorn.server import ServerState

from service.errors import Problem
from service.settings import Settings

try:
    from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol as Base
except ImportError:  # the faster parser is not there for this platform
    from uvicorn.protocols.http.h11_impl import H11Protocol as Base  # type: ignore[assignment]

HEADER_BYTES = 32768
"""Longest request line and headers together."""
LINGER_SECONDS = 5.0
"""A closed connection whose peer does not read what is left is cut after this."""


class PatientProtocol(Base):
    """One connection. `settings` is set on the subclass that `patient` makes."""

    settings: Settings

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, object],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self.timer: asyncio.TimerHandle | None = None
        self.unread: asyncio.TimerHandle | None = None
        self.header_bytes = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A client came: refuse it if there are too many, else give it its time."""
        super().connection_made(transport)
        _send_at_once(transport)
        if len(self.connections) > self.settings.connections:
            self._refuse(Problem("busy", "too many connections are open", hint="try again", retry=2.0))
        else:
            self._start_timer()

    def data_received(self, data: bytes) -> None:
        """Bytes came: watch those that do not yet make up a request."""
        if self.transport.is_closing():
            return
        super().data_received(data)
        if not self._between_requests():
            self._stop_timer()
            return
        self.header_bytes += len(data)
        if self.header_bytes > HEADER_BYTES:
            self._refuse(Problem("too_large", f"the headers are longer than {HEADER_BYTES} bytes", "headers"))
        elif self.timer is None:
            self._start_timer()

    def connection_lost(self, exc: Exception | None) -> None:
        """The client went."""
        self._stop_timer()
        self.resume_writing()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """The client does not read what it asked for: it has its time for that, too."""
        super().pause_writing()
        self.unread = self.loop.call_later(self.settings.read_seconds, self.transport.abort)

    def resume_writing(self) -> None:
        """It reads on."""
        super().resume_writing()
        if self.unread is not None:
            self.unread.cancel()
            self.unread = None

    def send_400_response(self, msg: str) -> None:
        """What is not HTTP gets the one error shape too."""
        self._refuse(Problem("malformed", msg, "request"))

    def timeout_keep_alive_handler(self) -> None:
        """Nothing more came after an answer: close, and cut if the peer does not read its answer."""
        super().timeout_keep_alive_handler()
        self.loop.call_later(LINGER_SECONDS, self.transport.abort)

    def _between_requests(self) -> bool:
        return self.cycle is None or self.cycle.response_complete

    def _start_timer(self) -> None:
        self.timer = self.loop.call_later(self.settings.read_seconds, self._give_up)

    def _stop_timer(self) -> None:
        self.header_bytes = 0
        if self.timer is not None:
            self.timer.cancel()
            self.timer = None

    def _give_up(self) -> None:
        self.timer = None
        if self._between_requests() and not self.transport.is_closing():
            waited = f"the headers did not arrive within {self.settings.read_seconds:g} s"
            self._refuse(Problem("too_slow", waited, "headers"))

    def _refuse(self, problem: Problem) -> None:
        body = problem.body()
        retry = f"retry-after: {problem.retry:.0f}\r\n" if problem.retry else ""
        head = (
            f"HTTP/1.1 {problem.status} Refused\r\ncontent-type: application/json\r\n{retry}"
            f"content-length: {len(body)}\r\nconnection: close\r\n\r\n"
        )
        self.transport.write(head.encode() + body)
        self.transport.close()
        self.loop.call_later(LINGER_SECONDS, self.transport.abort)


def _send_at_once(transport: asyncio.Transport) -> None:
    """Turn Nagle's algorithm off, or a body waits until its headers are acknowledged. asyncio does so only
    for sockets that name their protocol; on Windows those it accepts do not."""
    wire = transport.get_extra_info("socket")
    if wire is not None:
        wire.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def patient(settings: Settings) -> type[PatientProtocol]:
    """The protocol class for these settings."""
    return type("Connection", (PatientProtocol,), {"settings": settings})
