"""Bodies that are refused, and how: JSON as RFC 8259 has it, size, time, type. Nothing may be a 500."""

import contextlib
import json
import re
import socket
import time
from collections.abc import Iterator

import pytest
from served import Running, parse, read_all, served

from service.desk import open_desk
from service.library import Library
from service.logbook import Logbook
from service.settings import Settings

LONG = 65536


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service, with little patience for slow clients."""
    settings = Settings(port=0, read_seconds=1.0, connections=40)
    book = Logbook(tmp_path_factory.mktemp("bodies") / "logbook.sqlite3")
    with served(open_desk(settings, Library(), book)) as running:
        yield running


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'"tight in"',
        b"{}",
        b'{"text": 5}',
        b'{"text": "tight in", "colour": "red"}',
        b'{"text": "tight in", "text": "loose in"}',
        b'{"text": "tight\x00in"}',
        b'{"text": "tight\\u0000in"}',
        b'{"text": "tight \\ud800 in"}',
        b'{"text": "tight \xff in"}',
        b'\xef\xbb\xbf{"text": "tight in"}',
        '{"text": "tight in"}'.encode("utf-16"),
        b'{"text": "tight in"} {"text": "loose in"}',
        b'{"text": "tight in", "setup": {"cross_weight": NaN}}',
        b'{"text": "tight in", "setup": {"cross_weight": Infinity}}',
        b'{"text": "tight in", "setup": {"cross_weight": -Infinity}}',
        b'{"text": "tight in", "setup": {"cross_weight": 1e999}}',
        b'{"text": "tight in", "setup": {"cross_weight": 1e300}}',
        b'{"text": "tight in", "alternatives": ' + b"9" * 5000 + b"}",
        b'{"text": "tight in", "alternatives": 6}',
        b'{"text": "tight in", "alternatives": -1}',
        b'{"text": "tight in", "alternatives": 1.5}',
        b'{"text": "tight in", "setup": {"cross_weight": "52"}}'.replace(b'"52"', b'{"a": 1}'),
        b"[" * 30000,
        b'{"text": "tight in", "car": ' + b'{"a":' * 5000 + b"1" + b"}" * 5000 + b"}",
        b'{"text": "tight in", "car": ' + b"[" * 40 + b"]" * 40 + b"}",
    ],
)
def test_malformed_bodies_are_refused(service: Running, body: bytes) -> None:
    answer = service.ask("POST", "/v1/advice", body)

    assert (answer.status, answer.code()) == (400, "malformed"), answer.body


def test_the_place_of_the_fault_is_named(service: Running) -> None:
    broken = service.ask("POST", "/v1/advice", b'{"text":\n oops}').json()["error"]
    missing = service.post("/v1/advice", {"txt": "tight in"}).json()["error"]

    assert broken["where"] == "line 2 column 2"
    assert missing["where"] == "text"


def test_no_words_are_no_complaint(service: Running) -> None:
    assert service.post("/v1/advice", {"text": "   "}).code() == "no_text"


@pytest.mark.parametrize("path", ["/v1/advice", "/v1/reading", "/v1/sheet", "/v1/sessions/long/messages"])
@pytest.mark.parametrize("text", ["tight " * 10_000, "x" * 2001, "tight " * 201])
def test_a_text_too_long_is_refused_with_its_bound(service: Running, path: str, text: str) -> None:
    service.post("/v1/sessions", {"session": "long"})
    answer = service.post(path, {"text": text})

    assert (answer.status, answer.code()) == (413, "too_large")
    assert re.search(r"allowed: 1 to (2,000 characters|200 words)", answer.json()["error"]["message"])


def test_a_large_body_is_refused_also_in_chunks(service: Running) -> None:
    body = json.dumps({"text": "x" * LONG}).encode()
    head = f"POST /v1/advice HTTP/1.1\r\nHost: 127.0.0.1:{service.port}\r\nContent-Type: application/json\r\n"
    chunks = b"".join(b"1000\r\n" + b" " * 4096 + b"\r\n" for _ in range(40)) + b"0\r\n\r\n"

    assert service.ask("POST", "/v1/advice", body).code() == "too_large"
    chunked = service.raw(f"{head}Transfer-Encoding: chunked\r\n\r\n".encode() + chunks)
    assert (chunked.status, chunked.code()) == (413, "too_large")


def test_a_body_at_the_bound_is_read(service: Running) -> None:
    small = b'{"text": "tight in"}'

    assert service.ask("POST", "/v1/reading", small + b" " * (LONG - len(small))).status == 200
    assert service.ask("POST", "/v1/reading", small + b" " * (LONG - len(small) + 1)).status == 413


@pytest.mark.parametrize(
    "headers",
    [
        {"Content-Type": "text/plain"},
        {"Content-Type": "application/x-www-form-urlencoded"},
        {"Content-Type": "application/json; charset=utf-16"},
        {"Content-Type": "application/jsonp"},
        {"Content-Encoding": "gzip"},
    ],
)
def test_only_plain_json_is_read(service: Running, headers: dict[str, str]) -> None:
    answer = service.post("/v1/reading", {"text": "tight in"}, headers)

    assert (answer.status, answer.code()) == (415, "wrong_type")


def test_json_in_utf8_by_name_is_read(service: Running) -> None:
    answer = service.post(
        "/v1/reading", {"text": "tight in"}, {"Content-Type": 'application/json; charset="UTF-8"'}
    )

    assert answer.status == 200


def opened(service: Running, sent: bytes) -> socket.socket:
    """A connection that has sent this and then falls silent."""
    wire = socket.create_connection(("127.0.0.1", service.port), timeout=15)
    wire.sendall(sent)
    return wire


def test_slow_and_half_open_clients_are_let_go_and_stop_nobody(service: Running) -> None:
    host = f"Host: 127.0.0.1:{service.port}\r\n".encode()
    post = (
        b"POST /v1/reading HTTP/1.1\r\n"
        + host
        + b"Content-Type: application/json\r\nContent-Length: 50\r\n\r\n{"
    )
    idle = [
        opened(service, sent)
        for sent in (b"", b"GET /v1", b"GET / HTTP/1.1\r\nHost: ", post)
        for _ in range(5)
    ]

    assert service.get("/healthz").status == 200
    assert service.post("/v1/advice", {"text": "tight in the middle"}).status == 200
    answers = [parse(read_all(wire)) for wire in idle]
    for wire in idle:
        wire.close()
    assert {answer.status for answer in answers} == {408}
    assert {answer.code() for answer in answers} == {"too_slow"}


def test_a_client_that_does_not_read_its_answers_is_cut_off(service: Running) -> None:
    ask = f"GET /openapi.json HTTP/1.1\r\nHost: 127.0.0.1:{service.port}\r\n\r\n".encode()
    with opened(service, b"") as wire:
        wire.setblocking(False)
        sent, until = 0, time.monotonic() + 15
        with pytest.raises(ConnectionError):
            while time.monotonic() < until:
                with contextlib.suppress(BlockingIOError):
                    sent += wire.send((ask * 50)[sent % len(ask) :])
                assert service.get("/healthz").status == 200
                time.sleep(0.05)


def test_endless_headers_are_cut(service: Running) -> None:
    answer = service.raw(b"GET / HTTP/1.1\r\nX: " + b"a" * 40000)

    assert (answer.status, answer.code()) in ((413, "too_large"), (400, "malformed"))


def test_too_many_connections_are_told_to_come_back(service: Running) -> None:
    wires = [opened(service, b"") for _ in range(45)]
    refused = parse(read_all(wires[-1]))
    for wire in wires:
        wire.close()
    until = time.monotonic() + 10
    while service.get("/healthz").status != 200 and time.monotonic() < until:
        time.sleep(0.05)

    assert (refused.status, refused.code()) == (503, "busy")
    assert "retry-after" in refused.headers
    assert service.get("/healthz").status == 200
