"""What the routes share: settings, sheets, logbook, and the threads that keep the event loop free."""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Any

from service.logbook import Logbook
from service.pool import Pool
from service.settings import Settings
from service.turnstile import Turnstile

if TYPE_CHECKING:
    from service.library import Library


@dataclass
class Desk:
    """One running service."""

    settings: Settings
    library: "Library"
    logbook: Logbook
    solvers: Pool
    clerks: Pool
    """Threads for the logbook only, so that a stream never waits behind a solver."""
    reader: Turnstile = field(default_factory=Turnstile)
    """Readings, in turn, on the event loop."""
    stopping: asyncio.Event = field(default_factory=asyncio.Event)
    streams: int = 0
    turns: tuple[Lock, ...] = field(default_factory=lambda: tuple(Lock() for _ in range(64)))

    def turn(self, session: str) -> Lock:
        """The lock that lets one message of a session be answered before the next is looked at."""
        return self.turns[hash(session) % len(self.turns)]

    def close(self) -> None:
        """Let go of threads; the logbook belongs to whoever opened it."""
        self.solvers.close()
        self.clerks.close()


def open_desk(settings: Settings, library: "Library", logbook: Logbook) -> Desk:
    """A desk with its threads."""
    solvers = Pool(settings.workers, settings.queue, settings.answer_seconds, "solver")
    clerks = Pool(2, settings.queue, settings.answer_seconds, "clerk")
    return Desk(settings, library, logbook, solvers, clerks)


@dataclass(frozen=True, slots=True)
class Call:
    """One request as a route sees it: checked body (None for GET), names from the path, query, headers."""

    desk: Desk
    body: Any
    names: Mapping[str, str]
    query: Mapping[str, str]
    headers: Mapping[bytes, bytes]
