"""What the routes share: settings, sheets, logbook, and the threads that keep the event loop free."""

import asyncio
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from threading import Lock
from time import monotonic
from typing import TYPE_CHECKING, Any, TypeVar

from service.errors import Problem
from service.logbook import Logbook
from service.settings import Settings

if TYPE_CHECKING:
    from service.library import Library

T = TypeVar("T")
PATIENCE = 20.0
"""A request that waited longer than this for a thread is told to come back, s: its client has likely gone."""


class Pool:
    """Threads with a bounded queue."""

    def __init__(self, workers: int, queue: int, name: str) -> None:
        self.most = workers + queue
        self.held = 0
        self.threads = ThreadPoolExecutor(workers, name)

    async def run(self, work: Callable[..., T], *given: Any) -> T:
        """`work(*given)` in a thread. Problem `busy` when the queue is full or the wait was too long."""
        if self.held >= self.most:
            raise Problem("busy", f"{self.held} requests are already waiting", hint="try again", retry=1.0)
        self.held += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(
                self.threads, _in_time, monotonic(), work, given
            )
        finally:
            self.held -= 1

    def close(self) -> None:
        """Take no more work; drop what has not begun."""
        self.threads.shutdown(wait=False, cancel_futures=True)


def _in_time(asked: float, work: Callable[..., T], given: tuple[Any, ...]) -> T:
    if monotonic() - asked > PATIENCE:
        raise Problem("busy", f"no solver thread was free for {PATIENCE:g} s", hint="try again", retry=2.0)
    return work(*given)


@dataclass
class Desk:
    """One running service."""

    settings: Settings
    library: "Library"
    logbook: Logbook
    solvers: Pool
    clerks: Pool
    """Threads for the logbook only, so that a stream never waits behind a solver."""
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
    solvers = Pool(settings.workers, settings.queue, "solver")
    return Desk(settings, library, logbook, solvers, Pool(2, settings.queue, "clerk"))


@dataclass(frozen=True, slots=True)
class Call:
    """One request as a route sees it: checked body (None for GET), names from the path, query, headers."""

    desk: Desk
    body: Any
    names: Mapping[str, str]
    query: Mapping[str, str]
    headers: Mapping[bytes, bytes]
