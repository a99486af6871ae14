"""The logbook on real SQLite files: order, threads, processes, old formats, damage, full disks, read-only
files."""

import json
import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from service.logbook import Logbook, LogbookError
from service.schema import STEPS, VERSION

ROOT = Path(__file__).parents[1]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "folder" / "logbook.sqlite3"


def test_events_come_back_in_order_and_only_those_asked_for(path: Path) -> None:
    logbook = Logbook(path)
    first = logbook.append("red", "said", {"text": "loose in"})
    logbook.append("blue", "said", {"text": "tight off"})
    second = logbook.append("red", "advised", {"changes": [1.5, None, "é"]})

    assert [(e.id, e.kind) for e in logbook.events("red")] == [(first, "said"), (second, "advised")]
    assert [e.data for e in logbook.events("red", after=first)] == [{"changes": [1.5, None, "é"]}]
    assert logbook.events("green") == []
    assert logbook.sessions() == ["red", "blue"]
    assert (logbook.last_id("red"), logbook.last_id("green")) == (second, 0)


def test_what_was_written_is_there_after_reopening(path: Path) -> None:
    Logbook(path).append("red", "said", {"text": "loose in"})
    assert Logbook(path).events("red")[0].data == {"text": "loose in"}


def test_several_events_are_written_as_one_or_not_at_all(path: Path) -> None:
    logbook = Logbook(path)
    with pytest.raises(ValueError, match="JSON"):
        logbook.append_all("red", [("said", {"text": "x"}), ("advised", {"number": float("nan")})])
    assert logbook.events("red") == []


def test_old_events_can_neither_be_changed_nor_deleted(path: Path) -> None:
    Logbook(path).append("red", "said", {"text": "loose in"})
    db = sqlite3.connect(path)
    for order in ("UPDATE events SET data = '{}'", "DELETE FROM events"):
        with pytest.raises(sqlite3.IntegrityError, match="never"):
            db.execute(order)
    db.close()


def test_the_file_is_in_wal_mode_and_every_commit_is_synchronised(path: Path) -> None:
    """synchronous = FULL is 2 (https://sqlite.org/pragma.html#pragma_synchronous)."""
    logbook = Logbook(path)
    assert logbook._db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert logbook._db.execute("PRAGMA synchronous").fetchone()[0] == 2


def test_threads_share_one_logbook(path: Path) -> None:
    logbook = Logbook(path)
    threads = [
        threading.Thread(target=lambda n=n: [logbook.append(f"s{n}", "said", {"n": i}) for i in range(25)])
        for n in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for n in range(4):
        assert [e.data["n"] for e in logbook.events(f"s{n}")] == list(range(25))


def test_two_processes_write_to_one_session_at_once(path: Path) -> None:
    Logbook(path).close()
    code = (
        "import sys; from service.logbook import Logbook; book = Logbook(sys.argv[1])\n"
        "for i in range(150): book.append('shared', sys.argv[2], {'n': i})"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    writers = [
        subprocess.Popen([sys.executable, "-c", code, str(path), who], env=env) for who in ("one", "two")
    ]
    assert [w.wait() for w in writers] == [0, 0]
    events = Logbook(path).events("shared")
    for who in ("one", "two"):
        assert [e.data["n"] for e in events if e.kind == who] == list(range(150))


def test_lines_are_json_one_event_each(path: Path) -> None:
    logbook = Logbook(path)
    logbook.append("red", "said", {"text": "two\nlines"})
    lines = list(logbook.lines("red"))
    assert len(lines) == 1 and "\n" not in lines[0]
    assert json.loads(lines[0])["data"] == {"text": "two\nlines"}


def test_a_file_of_format_1_is_brought_up_with_nothing_lost(path: Path) -> None:
    path.parent.mkdir(parents=True)
    old = sqlite3.connect(path)
    for statement in STEPS[0]:
        old.execute(statement)
    old.execute("INSERT INTO events (session, kind, data) VALUES ('red', 'said', '{\"text\": \"loose in\"}')")
    old.execute("PRAGMA user_version = 1")
    old.commit()
    old.close()

    logbook = Logbook(path)
    assert logbook.notice is None
    assert [(e.kind, e.at, dict(e.data)) for e in logbook.events("red")] == [
        ("said", "", {"text": "loose in"})
    ]
    logbook.append("red", "said", {"text": "tight off"})
    assert len(Logbook(path).events("red")) == 2
    assert logbook._db.execute("PRAGMA user_version").fetchone()[0] == VERSION


def test_a_file_of_a_newer_format_is_left_alone(path: Path) -> None:
    Logbook(path).close()
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {VERSION + 1}")
    db.close()
    before = path.read_bytes()
    with pytest.raises(LogbookError, match=rf"newer version .format {VERSION + 1}"):
        Logbook(path)
    assert path.read_bytes() == before


def test_a_file_that_is_no_database_is_set_aside_whole(path: Path) -> None:
    path.parent.mkdir(parents=True)
    path.write_bytes(b"these are my lap times, not a database\n" * 400)
    before = path.read_bytes()

    logbook = Logbook(path)

    aside = [p for p in path.parent.iterdir() if ".damaged-" in p.name]
    assert len(aside) == 1 and aside[0].read_bytes() == before
    assert logbook.notice is not None
    assert str(path) in logbook.notice and str(aside[0]) in logbook.notice
    logbook.append("red", "said", {"text": "loose in"})
    assert Logbook(path).notice is None, "said once, not at every start"


def test_a_file_torn_in_the_middle_is_set_aside(path: Path) -> None:
    logbook = Logbook(path)
    for i in range(200):
        logbook.append("red", "said", {"text": "x" * 500, "n": i})
    logbook._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    logbook.close()
    data = bytearray(path.read_bytes())
    assert len(data) > 40_000
    data[8192:40_000] = os.urandom(40_000 - 8192)
    path.write_bytes(data)

    reopened = Logbook(path)

    assert reopened.notice is not None and ".damaged-" in reopened.notice
    assert reopened.events("red") == []


def test_a_full_disk_is_a_clear_error_and_what_was_there_stays(path: Path) -> None:
    """`max_page_count` stands in for the full disk: SQLite reports both as SQLITE_FULL."""
    logbook = Logbook(path)
    logbook.append("red", "said", {"text": "kept"})
    pages = logbook._db.execute("PRAGMA page_count").fetchone()[0]
    logbook._db.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(LogbookError, match="disk is full, nothing was written"):
        logbook.append("red", "said", {"text": "x" * 100_000})
    logbook._db.execute("PRAGMA max_page_count = 1000000")
    logbook.append("red", "said", {"text": "room again"})
    assert [e.data["text"] for e in logbook.events("red")] == ["kept", "room again"]


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(LogbookError, match="folder cannot be made"):
        Logbook(tmp_path / "file" / "logbook.sqlite3")


def test_when_the_file_cannot_be_opened_the_talk_goes_on_in_memory(tmp_path: Path) -> None:
    logbook = Logbook.opened(tmp_path)  # a folder is not a file
    assert logbook.notice is not None and "nothing said now will be kept" in logbook.notice
    logbook.append("red", "said", {"text": "loose in"})
    assert len(logbook.events("red")) == 1


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anything")
def test_a_read_only_file_is_a_clear_error(path: Path) -> None:
    Logbook(path).close()
    path.chmod(0o444)
    path.parent.chmod(0o555)
    try:
        with pytest.raises(LogbookError, match=r"only be read|cannot be opened"):
            Logbook(path).append("red", "said", {"text": "loose in"})
    finally:
        path.parent.chmod(0o755)
