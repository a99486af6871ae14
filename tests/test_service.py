"""The routes over a real socket: advice, reading, sheets, sessions, events, health; starting and stopping."""

import json
import logging
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from served import Running, served

from service.__main__ import LIBRARIES, keep_records
from service.answering import answer, read_only
from service.contract import Advice, AdviceRequest, ReadingOut
from service.contract_service import LearnedOut
from service.conversation import converse
from service.desk import open_desk
from service.library import Library
from service.logbook import Logbook
from service.records import Records
from service.settings import Settings

ROOT = Path(__file__).parent.parent
LOOSE_TIGHT = "loose in, tight off at half fuel"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service with an empty logbook and only the shipped sheets."""
    home = tmp_path_factory.mktemp("service")
    desk = open_desk(Settings(port=0, streams=3), Library(home), Logbook(home / "logbook.sqlite3"))
    with served(desk) as running:
        yield running


def test_a_complaint_is_answered(service: Running) -> None:
    answer = service.post("/v1/advice", {"text": LOOSE_TIGHT})
    advice = Advice.model_validate(answer.json())

    assert answer.status == 200
    assert advice.status == "change"
    assert 1 <= len(advice.changes) <= 6  # three moves at most, each of one setting or a pair
    assert all(change.from_ != change.to and change.reasons for change in advice.changes)
    assert "from" in answer.json()["changes"][0]


def test_the_same_complaint_in_process_and_over_http(service: Running) -> None:
    there = service.post("/v1/advice", {"text": LOOSE_TIGHT, "car": "tern-club", "track": "millpond"}).json()
    asked = AdviceRequest(text=LOOSE_TIGHT, car="tern-club", track="millpond")
    here = answer(asked, service.desk.library).model_dump(mode="json", by_alias=True)

    assert there == here


def test_what_a_session_taught_is_told_and_forgotten(service: Running) -> None:
    path = "/v1/sessions/teaching"
    service.post("/v1/sessions", {"session": "teaching"})
    fresh = LearnedOut.model_validate(service.get(f"{path}/learned").json())
    for text in (LOOSE_TIGHT, "did it: better in, same off"):
        assert service.post(f"{path}/messages", {"text": text}).status == 200
    taught = LearnedOut.model_validate(service.get(f"{path}/learned").json())
    after = LearnedOut.model_validate(service.post(f"{path}/forget", {}).json())
    log = [json.loads(line) for line in service.get(f"{path}/log").body.splitlines()]

    assert (fresh.reports, fresh.lines) == (0, [])
    assert taught.reports >= 1 and "times what was first thought" in " ".join(taught.lines)
    assert (after.reports, after.lines) == (0, [])
    assert [event["kind"] for event in log][-1] == "forgotten", "the events stay"


def test_nothing_is_learned_or_forgotten_of_a_session_nobody_opened(service: Running) -> None:
    for answered in (
        service.get("/v1/sessions/nobody/learned"),
        service.post("/v1/sessions/nobody/forget", {}),
    ):
        assert (answered.status, answered.code()) == (404, "unknown_name")
    assert service.post("/v1/sessions/nobody/forget", {"sure": True}).code() == "malformed"


def test_a_reading_alone(service: Running) -> None:
    reading = ReadingOut.model_validate(service.post("/v1/reading", {"text": LOOSE_TIGHT}).json())

    assert [(s.direction, s.phases) for s in reading.symptoms] == [
        ("loose", ["entry-braking", "entry-rolling"]),
        ("tight", ["exit-first-throttle", "exit-full-throttle"]),
    ]
    assert {s.stage for s in reading.symptoms} == {"half"}


@pytest.mark.parametrize(
    "text",
    [
        LOOSE_TIGHT,
        "better in but still tight off, went too far on the wedge, only what we can do on a stop",
        "water 265 and the rf is at 42 percent, hot pressure lf 31.5, brakes feel funny",
        "what if I go 25 up on the right rear?",
        "I overdrove it, my fault",
        "qwertz \u00e9\U0001f3ce",
    ],
)
def test_a_reading_is_the_same_in_process_and_over_http(service: Running, text: str) -> None:
    there = service.post("/v1/reading", {"text": text}).json()

    assert there == read_only(text).model_dump(mode="json", by_alias=True)


def test_sheets_are_listed_and_shown(service: Running) -> None:
    cars = service.get("/v1/cars").json()["cars"]
    tracks = service.get("/v1/tracks").json()["tracks"]

    assert [c["id"] for c in cars if c["default"]] == ["tern-premier"]
    assert len(cars) == 3 and len(tracks) >= 4
    for line in cars:
        car = service.get(f"/v1/cars/{line['id']}").json()
        for setting in car["settings"]:
            assert setting["min"] <= setting["base"] <= setting["max"]
            assert (setting["step"] is None) != (setting["choices"] is None)
            assert setting["where"] in ("stop", "garage")
    for line in tracks:
        track = service.get(f"/v1/tracks/{line['id']}").json()
        assert track["length_mi"] > 0.1
        assert all(len(corner["radius_ft"]) == 5 for corner in track["corners"])


@pytest.mark.parametrize(
    ("asked", "status", "code", "said"),
    [
        ({"setup": {"cross_weight": 99}}, 422, "outside_sheet", ("cross_weight", "99", "%")),
        ({"setup": {"flux": 1}}, 422, "outside_sheet", ("flux", "cross_weight")),
        ({"setup": {"spring_rr": 401.5}}, 422, "outside_sheet", ("spring_rr", "401.5", "lb/in")),
        ({"car": "no-such-car"}, 404, "unknown_name", ("no-such-car", "tern-premier")),
        ({"track": "no-such-track"}, 404, "unknown_name", ("no-such-track", "stonecup")),
        ({"car": {}}, 422, "bad_sheet", ("settings",)),
        ({"alternatives": 6}, 400, "malformed", ("alternatives is 6, allowed: 0 to 5",)),
        ({"alternatives": "2"}, 400, "malformed", ("alternatives is '2', allowed: a whole number",)),
        ({"wedge": 2}, 400, "malformed", ("wedge is 2, allowed: no such key",)),
        (
            {"car": {"settings": {"cross_weight": {"min": 60, "max": 40, "step": 1}}}},
            422,
            "bad_sheet",
            ("car",),
        ),
        ({"track": {"id": "x"}}, 422, "bad_sheet", ("corners",)),
    ],
)
def test_what_the_sheet_does_not_have_is_named(
    service: Running, asked: dict[str, Any], status: int, code: str, said: tuple[str, ...]
) -> None:
    answer = service.post("/v1/advice", {"text": "tight in the middle", **asked})

    assert (answer.status, answer.code()) == (status, code), answer.body
    for part in said:
        assert part in answer.body.decode(), part


ONE = {"cross_weight": {"min": 40, "max": 60, "step": 1, "base": 50}}


@pytest.mark.parametrize(
    "sheet",
    [
        {"car": {"settings": [1, 2, 3]}},
        {"car": {"settings": ONE, "moves": [5]}},
        {"car": {"settings": ONE, "moves": {"a": 1}}},
        {"car": {"settings": ONE, "limits": {"links": 5}}},
        {"car": {"settings": ONE, "limits": {"links": [5]}}},
        {"car": {"settings": ONE, "limits": {"water_temperature_degC": "hot"}}},
        {"car": {"settings": ONE, "physics": {"wheelbase_in": "long"}}},
        {"car": {"settings": ONE, "physics": {"wheelbase_in": 0}}},
        {"car": {"settings": ONE, "archetype": "balloon"}},
        {"car": {"settings": {"cross_weight": {"min": 40, "max": 60, "step": 1, "unit": [5]}}}},
        {"track": {"corners": [5]}},
        {"track": {"corners": {"a": 1}}},
        {"track": {"id": "x", "name": "x", "length_mi": 1e-9, "straight_ft": -1, "corners": [{}]}},
    ],
)
def test_a_senseless_sheet_is_the_senders_fault(service: Running, sheet: dict[str, Any]) -> None:
    advised = service.post("/v1/advice", {"text": "loose in, tight off", **sheet})
    opened = service.post("/v1/sessions", sheet)

    for refused in (advised, opened):
        assert refused.status == 422, refused.body
        assert refused.code() in ("bad_sheet", "outside_sheet")


def test_a_runaway_sheet_is_given_up(tmp_path: Path) -> None:
    library = Library(tmp_path)
    rows = [s for s in library.car().settings if s.step]
    fine = {
        s.key: {"min": s.min, "max": s.max, "step": (s.step or 1) / 1e4, "base": s.base, "unit": s.unit}
        for s in rows
    }
    desk = open_desk(Settings(port=0, answer_seconds=0.05), library, Logbook(tmp_path / "l.sqlite3"))
    with served(desk) as service:
        answer = service.post("/v1/advice", {"text": "loose in, tight off", "car": {"settings": fine}})
        assert (answer.status, answer.code()) == (503, "out_of_time")
        assert service.get("/healthz").json()["waiting"] == 0


@pytest.mark.parametrize("car", ["tern-premier", "tern-challenge", "tern-club"])
def test_a_car_as_shown_is_the_same_car_when_sent_back(service: Running, car: str) -> None:
    shown = service.get(f"/v1/cars/{car}").json()
    asked = {"text": "tight off", "track": "longmeadow"}

    by_name = service.post("/v1/advice", {**asked, "car": car}).json()
    sent_back = service.post("/v1/advice", {**asked, "car": shown}).json()

    assert sent_back["changes"] == by_name["changes"] != []
    assert sent_back["expected"] == by_name["expected"]


def test_a_session_remembers(service: Running) -> None:
    opened = service.post("/v1/sessions", {"session": "friday", "car": "tern-club", "track": "fernbrook"})
    first = service.post("/v1/sessions/friday/messages", {"text": LOOSE_TIGHT}).json()
    service.post("/v1/sessions/friday/messages", {"text": "did it: better in, same off"})
    state = service.get("/v1/sessions/friday").json()

    assert opened.status == 201
    assert (first["car"], first["track"], first["session"]) == ("tern-club", "fernbrook", "friday")
    assert state["turns"] == 2
    assert state["given"][0]["fate"] == "done"
    assert state["setup"] == state["given"][0]["after"] | state["setup"]


def test_messages_at_once_are_answered_one_after_another(service: Running) -> None:
    service.post("/v1/sessions", {"session": "crowd"})
    texts = [f"tight in the middle, lap time {30 + n}.5" for n in range(6)]
    with ThreadPoolExecutor(6) as crowd:
        answers = list(crowd.map(lambda t: service.post("/v1/sessions/crowd/messages", {"text": t}), texts))
    events = service.desk.logbook.events("crowd")
    kinds = [event.kind for event in events]

    assert {answer.status for answer in answers} == {200}
    assert sorted(e.data["text"] for e in events if e.kind == "said") == texts
    assert all(kinds[n + 1] != "said" for n, kind in enumerate(kinds[:-1]) if kind == "said")


def test_the_log_is_json_lines_in_order(service: Running) -> None:
    service.post("/v1/sessions", {"session": "log"})
    service.post("/v1/sessions/log/messages", {"text": "tight in the middle"})
    answer = service.get("/v1/sessions/log/log")
    lines = [json.loads(line) for line in answer.body.decode().splitlines()]

    assert answer.headers["content-type"].startswith("application/jsonl")
    assert [line["kind"] for line in lines][:2] == ["context", "said"]
    assert [line["id"] for line in lines] == sorted(line["id"] for line in lines)


def test_a_session_that_is_not_there(service: Running) -> None:
    for path in ("/v1/sessions/nobody", "/v1/sessions/nobody/log", "/v1/sessions/nobody/events"):
        assert (service.get(path).status, service.get(path).code()) == (404, "unknown_name"), path
    said = service.post("/v1/sessions/nobody/messages", {"text": "tight in"})
    assert (said.status, said.code()) == (404, "unknown_name")


def test_the_doors_of_the_readme_open(service: Running) -> None:
    """The `curl` line and the bot as they stand there, at this service's port."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8").replace(":8417", f":{service.port}")
    curl = re.search(
        r"^curl -s http://127\.0\.0\.1:\d+(\S+) -H '(\S+): (\S+)' -d '(.+)'$", readme, re.MULTILINE
    )
    bot = re.search(r"^```python\n(.+?)^```$", readme, re.MULTILINE | re.DOTALL)
    assert curl and bot
    path, name, value, body = curl.groups()
    assert service.ask("POST", path, body.encode(), {name: value}).json()["changes"]

    assert len([line for line in bot[1].splitlines() if line]) == 10, "a bot in ten lines"
    command = [sys.executable, "-c", bot[1]]
    for text, told in (
        (LOOSE_TIGHT, "changes: "),
        ("it is bad", "Is it tight or loose"),
        ("smoke", "Stop: "),
    ):
        done = subprocess.run(command, input=text, capture_output=True, encoding="utf-8", check=True)
        assert done.stdout.count(told) == 1 and "on a real car" in done.stdout


def test_a_session_is_given_a_name(service: Running) -> None:
    one, other = (service.post("/v1/sessions", {}).json()["session"] for _ in range(2))

    assert one != other
    assert service.get(f"/v1/sessions/{one}").json()["turns"] == 0


def test_a_wrong_context_opens_nothing(service: Running) -> None:
    assert service.post("/v1/sessions", {"session": "wrong", "car": "none"}).status == 404
    assert service.post("/v1/sessions", {"session": "wrong", "setup": {"cross_weight": 0}}).status == 422
    assert service.post("/v1/sessions", {"session": "wrong", "style": {"colour": "red"}}).status == 422
    assert service.post("/v1/sessions", {"session": "../x"}).status == 400
    assert service.get("/v1/sessions/wrong").status == 404


@contextmanager
def listening(service: Running, session: str, last: str = "") -> Iterator[socket.socket]:
    """An open event stream."""
    header = f"Last-Event-ID: {last}\r\n" if last else ""
    host = f"Host: 127.0.0.1:{service.port}\r\n"
    with socket.create_connection(("127.0.0.1", service.port), timeout=10) as wire:
        wire.sendall(f"GET /v1/sessions/{session}/events HTTP/1.1\r\n{host}{header}\r\n".encode())
        yield wire


def heard(wire: socket.socket, kind: str) -> tuple[int, dict[str, Any]]:
    """Id and data of the next event of a kind."""
    received = ""
    while True:
        for block in received.split("\n\n"):
            lines = dict(line.split(": ", 1) for line in block.splitlines() if ": " in line)
            if lines.get("event") == kind and block + "\n\n" in received:
                return int(lines["id"]), json.loads(lines["data"])
        received += wire.recv(65536).decode()


def test_events_show_what_another_process_wrote(service: Running) -> None:
    service.post("/v1/sessions", {"session": "pit"})
    other = Logbook(service.desk.logbook.path)
    with listening(service, "pit") as wire:
        converse(other, Library(Path(service.desk.logbook.path).parent), "pit", LOOSE_TIGHT)
        number, data = heard(wire, "advised")
    other.close()

    assert data["advice"]["changes"]
    with listening(service, "pit", str(number)) as wire:
        service.post("/v1/sessions/pit/messages", {"text": "no change"})
        assert heard(wire, "said")[0] > number


def test_a_new_listener_is_told_the_present_state(service: Running) -> None:
    service.post("/v1/sessions", {"session": "late"})
    for text in ("tight in", "tight in the middle", LOOSE_TIGHT):
        service.post("/v1/sessions/late/messages", {"text": text})
    with listening(service, "late") as wire:
        assert heard(wire, "said")[1]["text"] == LOOSE_TIGHT


def test_asking_for_the_head_of_a_stream_ends(service: Running) -> None:
    service.post("/v1/sessions", {"session": "head"})
    answer = service.ask("HEAD", "/v1/sessions/head/events")

    assert (answer.status, answer.body) == (200, b"")
    assert answer.headers["content-type"].startswith("text/event-stream")


def test_event_streams_are_bounded_and_let_go(service: Running) -> None:
    service.post("/v1/sessions", {"session": "many"})
    with listening(service, "many") as a, listening(service, "many") as b, listening(service, "many") as c:
        for wire in (a, b, c):
            heard(wire, "context")
        refused = service.get("/v1/sessions/many/events")
        assert (refused.status, refused.code()) == (503, "busy")
    until = time.monotonic() + 10
    while service.get("/healthz").json()["streams"] and time.monotonic() < until:
        time.sleep(0.05)
    assert service.get("/healthz").json()["streams"] == 0


def asked_at_once(service: Running, count: int) -> list[socket.socket]:
    """Connections that have each asked for advice with five alternatives, on a set-up of its own so that no
    answer is ready to hand, and have not read the answer."""
    host = f"Host: 127.0.0.1:{service.port}\r\nContent-Type: application/json\r\nConnection: close\r\n"
    wires = [socket.create_connection(("127.0.0.1", service.port), timeout=30) for _ in range(count)]
    for number, wire in enumerate(wires):
        setup = {"cross_weight": 48.0 + number % 10 * 0.5, "pressure_rr": 30.0 + number // 10}
        body = json.dumps({"text": LOOSE_TIGHT, "alternatives": 5, "setup": setup}).encode()
        head = f"POST /v1/advice HTTP/1.1\r\n{host}Content-Length: {len(body)}\r\n\r\n".encode()
        wire.sendall(head + body)
    return wires


def test_health_answers_while_solvers_are_busy(service: Running) -> None:
    wires = asked_at_once(service, 20)
    health = service.get("/healthz").json()
    for wire in wires:
        assert wire.recv(65536).startswith(b"HTTP/1.1 200")
        wire.close()

    assert health["status"] == "ok"
    assert health["waiting"] > 0


def test_a_full_queue_says_come_back(tmp_path: Path) -> None:
    desk = open_desk(Settings(port=0, workers=1, queue=1), Library(tmp_path), Logbook(tmp_path / "l.sqlite3"))
    with served(desk) as service:
        wires = asked_at_once(service, 30)
        first = [wire.recv(65536) for wire in wires]
        for wire in wires:
            wire.close()

    assert {line.split(b" ")[1] for line in first} == {b"200", b"503"}
    assert all(b"retry-after" in line for line in first if b" 503 " in line[:20])


def test_records_are_json_and_hold_no_complaint(service: Running) -> None:
    service.post("/v1/reading", {"text": "tight in, my secret line"})
    line = service.lines()[-1]

    assert (line["what"], line["method"], line["path"], line["status"]) == (
        "request",
        "POST",
        "/v1/reading",
        200,
    )
    assert "secret line" not in service.records.getvalue()


def test_what_the_libraries_say_is_a_record_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows the event loop tells of clients that left, on a logger of its own."""
    for name in LIBRARIES:
        monkeypatch.setattr(logging.getLogger(name), "handlers", [])
        monkeypatch.setattr(logging.getLogger(name), "propagate", True)
    told = StringIO()
    keep_records(Records(True, told))
    logging.captureWarnings(False)
    for name in LIBRARIES:
        logging.getLogger(name).error("Exception in callback %s", "lost")

    lines = [json.loads(line) for line in told.getvalue().splitlines()]
    assert [(line["level"], line["what"]) for line in lines] == [("error", "Exception in callback lost")] * 3


@pytest.mark.skipif(os.name == "nt", reason="signals of this kind are not sent on Windows")
@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_the_process_says_where_and_stops_in_order(tmp_path: Path, stop: signal.Signals) -> None:
    environment = {**os.environ, "QUARTERTURN_DB": str(tmp_path / "l.sqlite3"), "QUARTERTURN_PORT": "0"}
    with subprocess.Popen(
        [sys.executable, "-m", "service"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        said = b"".join(process.stdout.readline() for _ in range(4)).decode()
        port = int(said.split("http://127.0.0.1:", 1)[1].split()[0])
        with socket.create_connection(("127.0.0.1", port), timeout=10) as wire:
            wire.sendall(f"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
            assert wire.recv(4096).startswith(b"HTTP/1.1 200")
            process.send_signal(stop)
            out, err = process.communicate(timeout=15)

    assert "Ctrl-C" in said and f"http://127.0.0.1:{port}/overlay/" in said
    assert process.returncode == 0
    assert out.decode().strip() == "stopped"
    assert all(json.loads(line)["what"] for line in err.decode().splitlines())


def test_a_taken_port_and_a_missing_token_are_said(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        environment = {
            **os.environ,
            "QUARTERTURN_DB": str(tmp_path / "l.sqlite3"),
            "QUARTERTURN_PORT": str(taken.getsockname()[1]),
        }
        command = [sys.executable, "-m", "service"]
        busy = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=20)
    environment |= {"QUARTERTURN_HOST": "0.0.0.0"}
    open_ = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=20)

    assert (busy.returncode, open_.returncode) == (1, 2)
    assert "--port" in busy.stderr
    assert "QUARTERTURN_TOKEN" in open_.stderr
