"""What differs between systems and would fail on one of them only: encodings, file names, consoles, sockets.

How Windows behaves is from memory of its documentation and of Python's, except where asyncio's own source
(`windows_events.py`, on every system) says it."""

import asyncio
import io
import json
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from uvicorn.server import ServerState

from cli.__main__ import main
from cli.arguments import read_setup
from cli.logs import clock
from cli.page import page_for
from engine.errors import SheetError
from engine.sheets import read_car
from service.__main__ import config
from service.conversation import converse
from service.desk import open_desk
from service.export import complaint_lines
from service.library import Library
from service.logbook import Logbook
from service.records import Records
from service.replay import read_log
from service.replay_report import main as replay
from service.settings import Settings
from service.texts import read_text

ROOT = Path(__file__).parent.parent
SHEET = (ROOT / "engine" / "cars" / "tern-club.toml").read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the user's data folder out of it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_file_is_read_as_editors_and_consoles_write_it(encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes("# 70 °F\r\nfront_bar = 1.0\r\n".encode(encoding))

    assert read_text(path) == "# 70 °F\nfront_bar = 1.0\n"
    assert read_setup(path) == {"front_bar": 1.0}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_complaints_come_in_as_editors_write_them(encoding: str, tmp_path: Path) -> None:
    """`type complaints.txt | quarterturn`: the first line counts too, whatever the file begins with."""
    done = subprocess.run(
        [sys.executable, "-m", "cli", "--db", str(tmp_path / "log.db")],
        input="why\r\nwater is 70 °F\r\n".encode(encoding),
        capture_output=True,
        cwd=ROOT,
        env=os.environ | {"PYTHONIOENCODING": "utf-8"},
    )

    told = done.stdout.decode().splitlines()
    assert told[0] == "> why" and "> water is 70 °F" in told
    assert done.stderr == b""


def test_a_sheet_with_a_mark_at_its_start_is_read(tmp_path: Path) -> None:
    path = tmp_path / "club.toml"
    path.write_bytes(SHEET.encode("utf-8-sig"))

    assert read_car(path).id == "tern-club"


@pytest.mark.parametrize(
    "id", ["../club", "..\\\\club", "/club", "c:club", "con", "NUL", "com1", "", "x" * 65, "a b", "club."]
)
def test_a_sheet_is_kept_under_a_name_every_system_has(id: str, tmp_path: Path) -> None:
    path, home = tmp_path / "brought.toml", tmp_path / "home"
    path.write_text(SHEET.replace('id = "tern-club"', f'id = "{id}"'), encoding="utf-8")

    with pytest.raises(SheetError, match=r"id is .*allowed: a word of up to 64 letters"):
        Library(home).add("cars", path)
    assert not list(tmp_path.rglob("*club*")) and not home.exists()


def test_a_log_is_divided_at_its_own_line_ends_only(tmp_path: Path, library: Library) -> None:
    """JSON leaves U+2028 and U+0085 in a text as they are; they end a line for `str.splitlines`."""
    logbook, path = Logbook(":memory:"), tmp_path / "night.jsonl"
    for text in ("loose in\u2028tight off", "still\u0085tight off"):
        converse(logbook, library, "night", text, alternatives=0)
    lines = list(complaint_lines(logbook, "night"))
    path.write_bytes("\r\n".join([*lines, ""]).encode("utf-16"))

    assert [record for _, record in read_log(path)] == [json.loads(line) for line in lines]


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    return Library(tmp_path_factory.mktemp("sheets"))


def test_an_export_goes_into_a_file_whatever_the_console_makes_of_it(
    tmp_path: Path, library: Library, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    logbook, path = Logbook(tmp_path / "log.db"), tmp_path / "night.jsonl"
    converse(logbook, library, "night", "tight in, water is 240°F", alternatives=0)
    logbook.close()

    asked = ["log", "export", "night", "--db", str(tmp_path / "log.db")]
    assert main(asked) == 0 and main([*asked, "--out", str(path)]) == 0
    assert path.read_bytes() == capfdbinary.readouterr().out
    assert main([*asked, "--out", str(tmp_path / "nowhere" / "x.jsonl")]) == 2


def test_a_replay_is_told_on_a_console_of_few_characters(
    tmp_path: Path, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, shown = tmp_path / "night.jsonl", io.BytesIO()
    record = {"text": "loose in \U0001f3ce \x1b[2J", "session": "night", "reading": {"text": "other"}}
    path.write_text(json.dumps(record | {"plan": {"status": "stop", "changes": [], "expected": {}}}))
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(shown, encoding="cp437"))

    assert replay([str(path), "--quiet"]) == 1
    sys.stdout.flush()
    assert b'changed: "loose in ?' in shown.getvalue() and b"\x1b" not in shown.getvalue()


@pytest.mark.parametrize("at", ["", "yesterday", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"])
def test_a_time_that_no_local_clock_has_is_left_out(at: str) -> None:
    assert clock(at) == "--:--"


def test_the_last_column_stays_free_where_it_would_break_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("shutil.get_terminal_size", lambda fallback: os.terminal_size((100, 40)))
    widths = []
    for edge in (0, 1):
        monkeypatch.setattr("cli.page.EDGE", edge)
        widths.append(page_for(Screen(), environ={}).width)

    assert widths == [100, 99]


def test_a_notice_is_printed_where_the_console_has_only_ascii(tmp_path: Path) -> None:
    """A logbook that cannot be opened, in a folder with a name beyond ASCII."""
    (tmp_path / "fahrt\u00fc").write_text("a file where a folder is wanted", encoding="utf-8")
    settings = {
        "QUARTERTURN_DB": str(tmp_path / "fahrt\u00fc" / "log.db"),
        "QUARTERTURN_PORT": "0",
        "PYTHONIOENCODING": "ascii",
        "PYTHONUTF8": "0",
    }
    with subprocess.Popen(
        [sys.executable, "-m", "service"], cwd=ROOT, env=os.environ | settings,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="ascii",
    ) as process:  # fmt: skip
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(5)]
        process.terminate()

    assert lines[0].startswith("quarterturn serves at http://127.0.0.1:")
    assert "note:" in lines[4] and "fahrt\\xfc" in lines[4]


def test_answers_are_sent_at_once_on_a_socket_that_does_not_name_its_protocol(tmp_path: Path) -> None:
    """As on Windows: `IocpProactor._get_accept_socket` makes a socket by its family alone, and
    `base_events._set_nodelay` passes over one whose protocol is 0."""
    desk = open_desk(Settings(port=0), Library(tmp_path), Logbook(":memory:"))

    async def nodelay() -> int:
        made, state, loop = config(desk, Records(False)), ServerState(), asyncio.get_running_loop()
        made.load()
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        bound.bind(("127.0.0.1", 0))
        kind = made.http_protocol_class
        async with await loop.create_server(lambda: kind(made, state, {}, loop), sock=bound):  # type: ignore[call-arg]
            _, writer = await asyncio.open_connection(*bound.getsockname())
            while not state.connections:
                await asyncio.sleep(0.01)
            (one,) = state.connections
            wire = one.transport.get_extra_info("socket")
            assert wire.proto == 0 or sys.platform != "win32"
            option = int(wire.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            one.transport.abort()
            writer.close()
        return option

    assert asyncio.run(nodelay()) != 0
    desk.close()
