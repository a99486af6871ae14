"""The chat and the one-shot command against a running service: same answers, clear errors. Real sockets."""

import json
import os
import re
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from cli.__main__ import main
from cli.client import Here
from cli.page import Page
from cli.remote import There
from cli.session import Session
from cli.subcommands import ROWS
from cli.turns import turn

ROOT = Path(__file__).parent.parent
COMPLAINT = "loose in, tight off at half fuel"
ASKING = [
    [COMPLAINT],
    ["cars"],
    ["cars", "show", "tern-club"],
    ["tracks"],
    ["tracks", "show", "millpond"],
    ["log", "show", "shared"],
    ["setup", "--session", "shared"],
    ["setup", "--set", "front_bar=1.0", "--json"],
    ["compare", "base", "session:shared"],
    ["package", "front_bar=1.0"],
    ["carry-over", "tern-challenge"],
    ["start", "--car", "tern-club", "--track", "millpond"],
    ["tyres", "--wear", "RF=14", "--wear", "RR=21", "--target", "RF=38"],
    ["gears", "--rpm", "8000", "--json"],
    ["tape", "--water", "235"],
    ["stagger"],
    ["tests", "--runs", "1"],
    ["sheet", COMPLAINT],
    ["sheet", "--session", "shared"],
]
"""Commands that ask a service; none changes the session."""


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The URL of a service started as a user starts it, at a free port."""
    folder = tmp_path_factory.mktemp("service")
    process = subprocess.Popen(
        [sys.executable, "-m", "cli", "serve", "--port", "0", "--db", str(folder / "log.db")],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        encoding="utf-8",
        cwd=ROOT,
        env=os.environ | {"XDG_DATA_HOME": str(folder), "PYTHONIOENCODING": "utf-8"},
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    yield next(word for word in line.split() if word.startswith("http://"))
    process.terminate()
    process.wait(30)
    process.stdout.close()


@pytest.fixture(scope="module")
def shared(service: str, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A logbook that holds the session `shared`; the service has the same."""
    path = str(tmp_path_factory.mktemp("here") / "log.db")
    for client in (Here(path), There(service)):
        for text in (COMPLAINT, "did it: better in, same off"):
            client.advise({"text": text, "session": "shared"})
    return path


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the user's data folder out of it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def test_json_is_what_the_service_gives(service: str, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    """Byte for byte: `--json` here, `--json --server`, and the body of POST /v1/advice."""
    assert main([COMPLAINT, "--json"]) == 0
    here = capfdbinary.readouterr().out
    assert main([COMPLAINT, "--json", "--server", service]) == 0
    there = capfdbinary.readouterr().out
    asked = urllib.request.Request(
        f"{service}/v1/advice",
        data=json.dumps({"text": COMPLAINT}).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(asked) as answer:
        body = answer.read()

    assert here.strip() == there.strip() == body.strip()


def test_a_chat_with_a_service_reads_like_a_chat_without(
    service: str, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = []
    for options in (["--server", service], ["--db", str(tmp_path / "log.db")]):
        lines = [
            COMPLAINT,
            "/setup",
            "/track millpond",
            "/learned",
            "did it: better in, same off",
            "/learned",
            "/forget",
            "/learned",
            "/car nowhere",
            "/others",
        ]
        done = subprocess.run(
            [sys.executable, "-m", "cli", "--session", "same", *options],
            input="\n".join(lines) + "\n",
            capture_output=True,
            encoding="utf-8",
            cwd=ROOT,
            env=os.environ | {"PYTHONIOENCODING": "utf-8"},
        )
        assert done.stderr == ""
        told.append((done.returncode, done.stdout))

    assert told[0] == told[1]
    assert "From 1 report in this session" in told[0][1], told[0][1]
    assert "Nothing learned yet" in told[0][1].partition("Forgotten")[2], "it is gone once forgotten"


def test_a_session_a_service_does_not_know_yet_has_learned_nothing(service: str) -> None:
    there = There(service)

    assert there.learned("never said a word") == []
    there.forget("never said a word")


@pytest.mark.parametrize("argv", ASKING, ids=" ".join)
def test_every_command_asks_a_service_and_tells_the_same(
    argv: list[str], service: str, shared: str, capfd: pytest.CaptureFixture[str]
) -> None:
    """Only the clock of a log entry may differ."""
    told = []
    for options in (["--db", shared], ["--server", service]):
        code = main([*argv, *options])
        out, err = capfd.readouterr()
        told.append((code, re.sub(r"(?m)^\d\d:\d\d", "time", out), err))

    assert told[0] == told[1]
    assert told[0][0] == 0 and told[0][1] and not told[0][2]


def test_no_command_that_can_ask_a_service_is_left_out() -> None:
    """`serve` is the service itself, `replay` runs the code that is here."""
    assert {row.word for row in ROWS} - {argv[0] for argv in ASKING} == {"serve", "replay"}


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["loose in", "--car", "nowhere"], "nowhere"),
        (["loose in", "--set", "cross_weight=99"], "cross_weight"),
        (["loose in", "--alternatives", "9"], "alternatives"),
        ([" "], "nothing to read"),
        (["loose " * 500], "2,000"),
        (["loose in", "--track", "nowhere"], "nowhere"),
        (["loose in", "--set", "wedge_bolt=3"], "wedge_bolt"),
        (["cars", "show", "nowhere"], "nowhere"),
    ],
)
def test_bad_input_is_named_and_not_answered_in_both(
    argv: list[str], said: str, service: str, capfd: pytest.CaptureFixture[str]
) -> None:
    for options in ([], ["--server", service]):
        assert main([*argv, *options]) == 2
        told = capfd.readouterr()
        assert told.out == ""
        assert said in told.err


def test_the_token_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str | None] = []

    class Page404(BaseHTTPRequestHandler):
        """Some other server: answers every path with an HTML page."""

        def do_GET(self) -> None:
            """Note the token, answer 404."""
            seen.append(self.headers.get("Authorization"))
            self.send_response(404)
            self.end_headers()
            self.wfile.write(b"<html>not here</html>")

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing."""

    monkeypatch.setenv("QUARTERTURN_TOKEN", "a secret of many letters")
    server = HTTPServer(("127.0.0.1", 0), Page404)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        session = Session(There(f"http://127.0.0.1:{server.server_address[1]}"), "x")
        told = turn(session, "/car", Page(200))
    finally:
        server.shutdown()
        thread.join()
        server.server_close()

    assert seen == ["Bearer a secret of many letters"]
    assert told.exit == 5
    assert "it answered 404" in told.lines[0]
