"""Kill -9 at random points: what was acknowledged is there, nothing torn is read. (SQLite's promise for WAL
with synchronous=FULL: https://sqlite.org/wal.html, https://sqlite.org/atomiccommit.html.)"""

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from service.logbook import Logbook

KILLS = 240
ROOT = Path(__file__).parents[1]
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="SIGKILL and fork are POSIX")


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, int]]:
    """A logbook written by processes that were killed, and how many turns each had been told were kept."""
    path = tmp_path_factory.mktemp("crash") / "logbook.sqlite3"
    command = [sys.executable, str(ROOT / "tests" / "crash_writer.py"), str(path), str(KILLS), "7"]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert done.returncode == 0, done.stderr
    return path, json.loads(done.stdout)


def test_every_process_was_killed_and_some_had_written(killed: tuple[Path, dict[str, int]]) -> None:
    _, acknowledged = killed
    assert len(acknowledged) == KILLS
    assert sum(count > 0 for count in acknowledged.values()) > KILLS / 4


def test_nothing_acknowledged_is_lost_and_nothing_is_torn(killed: tuple[Path, dict[str, int]]) -> None:
    path, acknowledged = killed
    logbook = Logbook(path)
    assert logbook.notice is None
    for name, count in acknowledged.items():
        events = logbook.events(name)
        said = [e.data["text"].split()[0] for e in events if e.kind == "said"]
        assert said == [f"{name}/{i}" for i in range(len(said))]
        assert len(said) >= count
        assert [e.data.get("for", e.data.get("text")) for e in events[::2]] == [
            e.data["for"] for e in events[1::2]
        ]
        assert len(events) == 2 * len(said), "a turn is written whole or not at all"


def test_the_file_is_sound_and_ids_only_rise(killed: tuple[Path, dict[str, int]]) -> None:
    path, _ = killed
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    ids = [row[0] for row in db.execute("SELECT id FROM events ORDER BY rowid")]
    db.close()
    assert ids == sorted(set(ids))
