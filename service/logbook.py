"""The logbook: what was said, advised, done and reported, in order, in one SQLite file.

An append-only table of events per session; what a session *is* now is a fold over them (`service.state`).
Written in WAL mode with full synchronisation: an `append` that has returned survives a kill or a power cut.
Several processes may write at once. A damaged file is set aside under another name, never overwritten.
"""

import errno
import json
import os
import sqlite3
import threading
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from service.schema import VERSION, migrate

__all__ = ["Event", "Logbook", "LogbookError", "default_path"]

BUSY_SECONDS = 15.0


class LogbookError(Exception):
    """The logbook cannot be read or written. `path` is the file, `reason` why, in words."""

    def __init__(self, path: str, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(f"logbook {path}: {reason}")


@dataclass(frozen=True, slots=True)
class Event:
    """One entry. `id` rises over the whole file; `at` is ISO 8601 UTC; `data` is plain JSON."""

    id: int
    session: str
    kind: str
    at: str
    data: Mapping[str, Any]


def default_path() -> Path:
    """The logbook in the user's data folder (QUARTERTURN_DB names another file)."""
    named = os.environ.get("QUARTERTURN_DB")
    if named:
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("quarterturn", appauthor=False) / "logbook.sqlite3"


class Logbook:
    """An open logbook; safe to share between threads. `notice` is a message to show once (a file set aside),
    or None.

    `path` None opens the default file; ":memory:" keeps everything in memory. Raises LogbookError."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.path = str(default_path() if path is None else path)
        self.notice: str | None = None
        self.cache: dict[str, Any] = {}
        """Folded states by session, kept by `service.state`; always rebuildable."""
        self._lock = threading.RLock()
        self._db = self._open()

    @classmethod
    def opened(cls, path: str | Path | None = None) -> "Logbook":
        """Open the file; if that cannot be done, an empty logbook in memory whose `notice` says why nothing
        will be kept."""
        try:
            return cls(path)
        except LogbookError as error:
            spare = cls(":memory:")
            spare.notice = f"{error}; nothing said now will be kept"
            return spare

    def append(self, session: str, kind: str, data: Mapping[str, Any]) -> int:
        """Write one event; its id. It is on disk when this returns."""
        return self.append_all(session, [(kind, data)])[0]

    def append_all(self, session: str, entries: Iterable[tuple[str, Mapping[str, Any]]]) -> list[int]:
        """Write several events as one: all or none. Their ids."""
        at = datetime.now(UTC).isoformat(timespec="milliseconds")
        rows = [(session, kind, at, _dump(data)) for kind, data in entries]
        with self._lock, self._guarded():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                ids = [int(self._db.execute(_INSERT, row).lastrowid or 0) for row in rows]
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
        return ids

    def events(self, session: str, after: int = 0) -> list[Event]:
        """Events of a session with an id above `after`, oldest first."""
        with self._lock, self._guarded():
            rows = self._db.execute(_SELECT, (session, after)).fetchall()
        return [Event(i, s, k, at, json.loads(data)) for i, s, k, at, data in rows]

    def sessions(self) -> list[str]:
        """Names of all sessions, the one written last first."""
        with self._lock, self._guarded():
            rows = self._db.execute(
                "SELECT session FROM events GROUP BY session ORDER BY max(id) DESC"
            ).fetchall()
        return [str(row[0]) for row in rows]

    def last_id(self, session: str) -> int:
        """Id of the session's newest event, 0 if it has none."""
        with self._lock, self._guarded():
            row = self._db.execute("SELECT max(id) FROM events WHERE session = ?", (session,)).fetchone()
        return int(row[0] or 0)

    def lines(self, session: str) -> Iterator[str]:
        """The raw events as JSON Lines, oldest first."""
        for event in self.events(session):
            record = {
                "id": event.id,
                "session": session,
                "kind": event.kind,
                "at": event.at,
                "data": event.data,
            }
            yield _dump(record)

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._db.close()

    def __del__(self) -> None:
        with suppress(AttributeError, sqlite3.Error):
            self._db.close()

    def _guarded(self) -> "_Guard":
        return _Guard(self.path)

    def _open(self) -> sqlite3.Connection:
        if self.path != ":memory:":
            try:
                Path(self.path).parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise LogbookError(self.path, f"its folder cannot be made: {error.strerror}") from error
        seen = _identity(self.path)
        try:
            return self._connect()
        except _Damaged as damage:
            self.notice = _set_aside(self.path, seen, str(damage))
            return self._connect()

    def _connect(self) -> sqlite3.Connection:
        with self._guarded():
            db = sqlite3.connect(
                self.path, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False
            )
        try:
            with self._guarded():
                _prepare_in_time(db, self.path)
        except BaseException as error:
            db.close()
            cause = error.__cause__
            if isinstance(cause, sqlite3.DatabaseError) and _is_damage(cause):
                raise _Damaged(str(cause)) from error
            raise
        return db


class _Damaged(Exception):
    """The file is not a sound logbook."""


class _Guard:
    """Turns what SQLite raises into a LogbookError that says what is the matter."""

    def __init__(self, path: str) -> None:
        self.path = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, sqlite3.Error):
            raise LogbookError(self.path, _reason(error)) from error
        if isinstance(error, OSError):
            raise LogbookError(self.path, error.strerror or str(error)) from error


def _prepare_in_time(db: sqlite3.Connection, path: str) -> None:
    """Prepare, and again while another process is just making the same file: SQLite's own wait does not cover
    the change to WAL."""
    deadline = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            return _prepare(db, path)
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorname.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))
            if not busy or time.monotonic() > deadline:
                raise
            time.sleep(0.01)


def _prepare(db: sqlite3.Connection, path: str) -> None:
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if version > VERSION:
        raise LogbookError(
            path, f"written by a newer version (format {version}, this one knows up to {VERSION})"
        )
    if version:
        verdict = db.execute("PRAGMA quick_check(1)").fetchone()[0]
        if verdict != "ok":
            raise _Damaged(str(verdict))
    if str(db.execute("PRAGMA journal_mode").fetchone()[0]).lower() not in ("wal", "memory"):
        db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    if version < VERSION:
        migrate(db)


def _identity(path: str) -> tuple[int, int] | None:
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _set_aside(path: str, seen: tuple[int, int] | None, why: str) -> str | None:
    """Rename the damaged file (and its journal) if it is still the one that was looked at; the message to
    show."""
    if _identity(path) != seen:
        return None  # another process has already set it aside
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    aside = f"{path}.damaged-{stamp}"
    count = 1
    while os.path.exists(aside):
        count += 1
        aside = f"{path}.damaged-{stamp}-{count}"
    try:
        os.rename(path, aside)
        for tail in ("-wal", "-shm"):
            if os.path.exists(path + tail):
                os.rename(path + tail, aside + tail)
    except OSError as error:
        raise LogbookError(path, f"damaged ({why}) and could not be set aside: {error.strerror}") from error
    return f"logbook {path} was damaged ({why}); it is kept as {aside} and a new one was started"


def _is_damage(error: sqlite3.DatabaseError) -> bool:
    name = getattr(error, "sqlite_errorname", "") or ""
    return name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))


def _reason(error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", "") or ""
    for start, words in _REASONS.items():
        if name.startswith(start):
            return words
    if isinstance(error.__cause__, OSError) and error.__cause__.errno == errno.ENOSPC:
        return _REASONS["SQLITE_FULL"]
    return str(error)


def _dump(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


_INSERT = "INSERT INTO events (session, kind, at, data) VALUES (?, ?, ?, ?)"
_SELECT = "SELECT id, session, kind, at, data FROM events WHERE session = ? AND id > ? ORDER BY id"
_REASONS = {
    "SQLITE_FULL": "the disk is full, nothing was written",
    "SQLITE_READONLY": "the file may only be read",
    "SQLITE_CANTOPEN": "the file cannot be opened",
    "SQLITE_BUSY": f"another program kept it busy for {BUSY_SECONDS:g} s, nothing was written",
    "SQLITE_IOERR": "the disk gave an error (full, or taken away), nothing was written",
    "SQLITE_NOTADB": "the file is not a logbook",
    "SQLITE_CORRUPT": "the file is damaged",
}
