"""A running service for tests: a real socket on a free port, and a client that sends given bytes."""

import json
import socket
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from typing import Any

from service.__main__ import Server, bind, config
from service.desk import Desk
from service.records import Records


@dataclass
class Answer:
    """What came back: status, headers in lower case, body."""

    status: int
    headers: dict[str, str]
    body: bytes

    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)

    def code(self) -> str:
        """The error's code, after checking that it has the one error shape."""
        error = self.json()
        assert list(error) == ["error"] and list(error["error"]) == ["code", "message", "where", "hint"], (
            error
        )
        assert self.headers["content-type"] == "application/json"
        return str(error["error"]["code"])


@dataclass
class Running:
    """A service at a port. `records` holds what it wrote on stderr."""

    port: int
    desk: Desk
    records: StringIO

    def ask(
        self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> Answer:
        """One request on a connection of its own."""
        given = {"Host": f"127.0.0.1:{self.port}", "Connection": "close", **(headers or {})}
        if body is not None:
            given = {"Content-Type": "application/json", "Content-Length": str(len(body)), **given}
        head = "".join(f"{name}: {value}\r\n" for name, value in given.items())
        return self.raw(f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode("latin-1") + (body or b""))

    def post(self, path: str, value: Any, headers: Mapping[str, str] | None = None) -> Answer:
        """POST a JSON value."""
        return self.ask("POST", path, json.dumps(value).encode(), headers)

    def get(self, path: str, headers: Mapping[str, str] | None = None) -> Answer:
        """GET a path."""
        return self.ask("GET", path, None, headers)

    def raw(self, sent: bytes) -> Answer:
        """Send bytes, read until the other side closes."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as wire:
            wire.sendall(sent)
            return parse(read_all(wire))

    def lines(self) -> list[dict[str, Any]]:
        """The records as JSON."""
        return [json.loads(line) for line in self.records.getvalue().splitlines()]


def read_all(wire: socket.socket) -> bytes:
    """All bytes until the other side closes."""
    received = b""
    while chunk := wire.recv(65536):
        received += chunk
    return received


def parse(received: bytes) -> Answer:
    """An HTTP/1.1 answer with Content-Length, or closed at its end."""
    head, _, body = received.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    headers = {name.lower(): value for name, value in (line.split(": ", 1) for line in rest)}
    return Answer(int(first.split()[1]), headers, body)


@contextmanager
def served(desk: Desk, rows: Sequence[Any] | None = None) -> Iterator[Running]:
    """The service on a free port in a thread; stopped in order at the end."""
    records = StringIO()
    server = Server(config(desk, Records(desk.settings.log, records), rows))
    server.desk = desk
    listening = bind(desk.settings)
    port = listening.getsockname()[1]
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    until = time.monotonic() + 10
    while not server.started and time.monotonic() < until:
        time.sleep(0.01)
    assert server.started
    try:
        yield Running(port, desk, records)
    finally:
        server.should_exit = True
        thread.join(10)
        assert not thread.is_alive(), "the service did not stop"
        desk.close()
        desk.logbook.close()
