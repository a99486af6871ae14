"""The tables of the logbook file, and the way up from older formats. `PRAGMA user_version` holds the format.

Format 1 had no time on an event and did not refuse changes to old events; format 2 has both.
"""

import sqlite3

VERSION = 2

_FORMAT_1 = (
    "CREATE TABLE IF NOT EXISTS events ("
    "id INTEGER PRIMARY KEY AUTOINCREMENT, session TEXT NOT NULL, kind TEXT NOT NULL, data TEXT NOT NULL)",
    "CREATE INDEX IF NOT EXISTS events_by_session ON events (session, id)",
)
_FORMAT_2 = (
    "ALTER TABLE events ADD COLUMN at TEXT NOT NULL DEFAULT ''",
    "CREATE TRIGGER events_stay BEFORE UPDATE ON events "
    "BEGIN SELECT RAISE(ABORT, 'events are never changed'); END",
    "CREATE TRIGGER events_keep BEFORE DELETE ON events "
    "BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END",
)
STEPS = (_FORMAT_1, _FORMAT_2)
"""`STEPS[n]` takes format n to n + 1; format 0 is an empty file."""


def migrate(db: sqlite3.Connection) -> None:
    """Bring an open file to VERSION in one transaction; safe when several processes do it at once."""
    db.execute("BEGIN IMMEDIATE")
    try:
        version = int(db.execute("PRAGMA user_version").fetchone()[0])
        for step in STEPS[version:]:
            for statement in step:
                db.execute(statement)
        db.execute(f"PRAGMA user_version = {VERSION}")
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
