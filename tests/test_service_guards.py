"""Who may talk to the service: Host header, web origins, token, rate. Refusals have the one error shape.

Checked against, from memory: RFC 9110 7.2 (Host) and the browser's rule that Host is the name in the address
bar, which DNS rebinding rests on; the Fetch standard (CORS); RFC 6750 (Bearer); RFC 6585 (429)."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from served import Running, served

from service.desk import open_desk
from service.library import Library
from service.logbook import Logbook
from service.routes import ROWS
from service.settings import Settings, from_environment

TOKEN = "a-token-of-sixteen-or-more"
FRIEND = "http://friend.example:3000"


def running(tmp_path: Path, settings: Settings) -> Iterator[Running]:
    """A service with its own empty logbook."""
    desk = open_desk(replace(settings, port=0), Library(), Logbook(tmp_path / "logbook.sqlite3"))
    with served(desk) as service:
        yield service


@pytest.fixture(scope="module")
def local(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service as it comes, with one web origin allowed."""
    yield from running(tmp_path_factory.mktemp("local"), Settings(origins=(FRIEND,), names=("box.example",)))


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service with a token."""
    yield from running(tmp_path_factory.mktemp("guarded"), Settings(token=TOKEN))


@pytest.mark.parametrize(
    "host", ["127.0.0.1:{port}", "localhost:{port}", "LOCALHOST:{port}", "[::1]:{port}", "box.example:{port}"]
)
def test_our_own_names_are_answered(local: Running, host: str) -> None:
    assert local.get("/healthz", {"Host": host.format(port=local.port)}).status == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "127.0.0.1.evil.example:{port}",
        "[::2]:{port}",
        "localhost.:{port}",
        "",
    ],
)
def test_a_rebound_or_wrong_host_is_refused(local: Running, host: str) -> None:
    answer = local.get("/v1/cars", {"Host": host.format(port=local.port)})

    assert answer.status == 403
    assert answer.code() == "host_refused"


def test_two_host_headers_are_refused(local: Running) -> None:
    host = f"Host: 127.0.0.1:{local.port}\r\n"
    answer = local.raw(f"GET /healthz HTTP/1.1\r\n{host}{host}Connection: close\r\n\r\n".encode())

    assert answer.status == 400


def test_a_page_of_another_origin_may_not_post(local: Running) -> None:
    for origin in ("http://evil.example", "null", f"https://127.0.0.1:{local.port}"):
        answer = local.post("/v1/reading", {"text": "tight in"}, {"Origin": origin})
        assert (answer.status, answer.code()) == (403, "origin_refused"), origin
        assert "access-control-allow-origin" not in answer.headers


def test_our_own_page_may_post(local: Running) -> None:
    assert (
        local.post("/v1/reading", {"text": "tight in"}, {"Origin": f"http://127.0.0.1:{local.port}"}).status
        == 200
    )


def test_an_allowed_origin_may_ask_and_post(local: Running) -> None:
    asked = {"Origin": FRIEND, "Access-Control-Request-Method": "POST"}
    preflight = local.ask("OPTIONS", "/v1/reading", None, asked)
    posted = local.post("/v1/reading", {"text": "tight in"}, {"Origin": FRIEND})

    assert preflight.status == 204
    assert preflight.headers["access-control-allow-origin"] == FRIEND
    assert posted.status == 200
    assert posted.headers["access-control-allow-origin"] == FRIEND
    assert posted.headers["vary"] == "origin"


def test_no_wildcard_and_no_header_for_strangers(local: Running) -> None:
    read = local.get("/v1/cars", {"Origin": "http://evil.example"})
    asked = {"Origin": "http://evil.example", "Access-Control-Request-Method": "POST"}

    assert "access-control-allow-origin" not in read.headers
    assert local.ask("OPTIONS", "/v1/reading", None, asked).code() == "origin_refused"


@pytest.mark.parametrize(
    "sent", [None, "Bearer", "Bearer wrong", f"Basic {TOKEN}", f"Bearer {TOKEN}x", TOKEN]
)
def test_without_the_token_nothing_is_answered(guarded: Running, sent: str | None) -> None:
    answer = guarded.get("/v1/cars", {"Authorization": sent} if sent else {})

    assert (answer.status, answer.code()) == (401, "token_needed")
    assert answer.headers["www-authenticate"] == "Bearer"


def test_with_the_token_it_is(guarded: Running) -> None:
    assert guarded.get("/v1/cars", {"Authorization": f"Bearer {TOKEN}"}).status == 200
    assert guarded.get("/v1/cars", {"Authorization": f"bearer {TOKEN}"}).status == 200
    assert guarded.get("/healthz").status == 200


def test_only_what_is_marked_open_is_open(guarded: Running) -> None:
    for row in ROWS:
        answer = guarded.ask(
            row.method, row.path.replace("{", "").replace("}", ""), b"{}" if row.takes else None
        )
        assert (answer.status == 401) is not row.open, row.path


def test_the_token_never_reaches_the_records(guarded: Running) -> None:
    guarded.get(f"/v1/cars?token={TOKEN}", {"Authorization": f"Bearer {TOKEN}"})

    assert guarded.lines()
    assert TOKEN not in guarded.records.getvalue()


def test_too_many_requests_are_told_when_to_come_back(tmp_path: Path) -> None:
    for service in running(tmp_path, Settings(rate=1.0, burst=3.0)):
        answers = [service.get("/healthz") for _ in range(5)]
        assert [a.status for a in answers][:3] == [200, 200, 200]
        assert answers[-1].code() == "too_many"
        assert answers[-1].status == 429
        assert int(answers[-1].headers["retry-after"]) >= 1


@pytest.mark.parametrize(
    "path",
    [
        "/v1/cars/..%2f..%2fetc%2fpasswd",
        "/v1/cars/%00",
        "/../../etc/passwd",
        "/overlay/../../etc/passwd",
        "//etc/passwd",
        "/v1/cars/%ff%fe",
        "/v1/tracks/....//....//etc/passwd",
        "/v1/cars/C:%5Cwindows%5Cwin.ini",
        "/v1/sessions/..%2f..%2fx/log",
    ],
)
def test_no_path_opens_a_file(local: Running, path: str) -> None:
    answer = local.get(path)

    assert answer.status == 404
    assert answer.code() in ("not_found", "unknown_name")
    assert b"root:" not in answer.body


def test_a_sheet_named_by_a_path_is_only_a_name(local: Running) -> None:
    answer = local.post("/v1/advice", {"text": "tight in", "car": "../../../../etc/passwd"})

    assert (answer.status, answer.code()) == (404, "unknown_name")


def test_what_is_not_http_gets_the_error_shape(local: Running) -> None:
    assert local.raw(b"\x16\x03\x01\x02\x00 not http\r\n\r\n").code() == "malformed"
    assert local.raw(b"GET / HTTP/1.1\r\nbad header\r\n\r\n").code() == "malformed"


SMUGGLED = "0\r\n\r\nGET /v1/cars HTTP/1.1\r\n\r\n"


@pytest.mark.parametrize(
    "lengths",
    [
        f"Content-Length: {len(SMUGGLED)}\r\nTransfer-Encoding: chunked",
        f"Content-Length: 5\r\nContent-Length: {len(SMUGGLED)}",
        "Content-Length: -5",
        f"Content-Length: +{len(SMUGGLED)}",
        "Content-Length: 99999999999999999999999",
        "Transfer-Encoding: gzip",
        "Transfer-Encoding: chunked, identity",
        "Transfer-Encoding : chunked",
    ],
)
def test_a_body_of_two_lengths_is_no_second_request(local: Running, lengths: str) -> None:
    """Request smuggling (RFC 9112, 6.3 and 11.2): refused, closed, and what follows is not looked at."""
    head = f"POST /v1/reading HTTP/1.1\r\nHost: 127.0.0.1:{local.port}\r\nContent-Type: application/json\r\n"
    answer = local.raw(f"{head}{lengths}\r\n\r\n{SMUGGLED}".encode())

    assert (answer.status, answer.code()) == (400, "malformed")
    assert b"HTTP/1.1" not in answer.body


@pytest.mark.parametrize(
    "query", ["a=1&" * 50, "after=1&after=2", "after=x", "after=" + "9" * 30, "after=%D9%A1"]
)
def test_a_senseless_query_is_malformed(local: Running, query: str) -> None:
    local.post("/v1/sessions", {"session": "asked"})
    answer = local.get(f"/v1/sessions/asked/events?{query}")

    assert (answer.status, answer.code()) == (400, "malformed")


def test_a_wrong_method_says_which_are_right(local: Running) -> None:
    answer = local.ask("DELETE", "/v1/sessions")

    assert (answer.status, answer.code()) == (405, "wrong_method")
    assert answer.headers["allow"] == "POST"


def test_beyond_this_machine_a_token_is_needed() -> None:
    for host in ("0.0.0.0", "::", "192.0.2.7", "box.example"):
        with pytest.raises(ValueError, match="QUARTERTURN_TOKEN"):
            from_environment({}, host=host)
        assert from_environment({"QUARTERTURN_TOKEN": TOKEN}, host=host).host == host
    assert from_environment({}, host="127.0.0.1").token == ""


@pytest.mark.parametrize(
    ("name", "value", "allowed"),
    [
        ("QUARTERTURN_PORT", "x", "a number"),
        ("QUARTERTURN_PORT", "70000", "0 to 65535"),
        ("QUARTERTURN_WORKERS", "0", "above 0"),
        ("QUARTERTURN_ORIGINS", "*", "by name"),
        ("QUARTERTURN_LOG", "perhaps", "yes or no"),
    ],
)
def test_a_wrong_setting_names_value_and_range(name: str, value: str, allowed: str) -> None:
    with pytest.raises(ValueError, match=allowed):
        from_environment({name: value})
