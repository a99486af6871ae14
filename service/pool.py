"""Threads that keep the event loop free: a bounded queue, and an end to work that takes too long.

A thread cannot be killed; CPython can raise an exception in one between two steps of its program, which is
enough for a search that runs away (a sheet with a million clicks, say)."""

import asyncio
import ctypes
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from threading import Lock, get_ident
from time import monotonic
from typing import Any, Generic, TypeVar

from service.errors import Problem

T = TypeVar("T")
PATIENCE = 30.0
"""A request that waited longer than this for a thread is told to come back, s: its client has likely gone."""


LONG_SECONDS = 0.5
"""Work that has taken this long no longer keeps the other threads waiting, s: several usual answers."""


class OutOfTime(Problem):
    """Raised inside work that takes too long."""

    def __init__(self) -> None:
        hint = "try fewer settings or coarser steps, or come back when the service is less busy"
        super().__init__("out_of_time", "the answer took too long and was given up", None, hint, retry=5.0)


class Gate:
    """Lets one thread compute at a time, and the next go along once that one has taken `seconds`.

    Python computes in one thread at a time anyway; two that take turns only make the event loop wait for
    both. The others are there for the day one gets stuck."""

    def __init__(self, seconds: float = LONG_SECONDS) -> None:
        self.seconds = seconds
        self.lock, self.since = Lock(), 0.0

    @contextmanager
    def passed(self) -> Iterator[None]:
        """Wait for the turn."""
        alone = self.lock.acquire(timeout=max(0.0, self.since + self.seconds - monotonic()))
        if alone:
            self.since = monotonic()
        try:
            yield
        finally:
            if alone:
                self.lock.release()


class Job(Generic[T]):
    """One piece of work. Runs in a thread; `end` may be called from another."""

    def __init__(self, work: Callable[..., T], given: tuple[Any, ...], gate: Gate) -> None:
        self.work, self.given, self.gate = work, given, gate
        self.lock = Lock()
        self.asked, self.begun = monotonic(), 0.0
        self.thread: int | None = None
        self.done = False

    def __call__(self) -> T:
        with self.gate.passed():
            return self._run()

    def _run(self) -> T:
        if monotonic() - self.asked > PATIENCE:
            self.done = True
            message = f"no thread was free for {PATIENCE:g} s"
            raise Problem("busy", message, hint="try again", retry=2.0)
        with self.lock:
            self.thread, self.begun = get_ident(), monotonic()
        try:
            return self.work(*self.given)
        finally:
            with self.lock:
                self.thread, self.done = None, True
            _settle()

    def age(self) -> float:
        """Seconds since the work began; 0 while it waits."""
        return monotonic() - self.begun if self.thread is not None else 0.0

    def end(self) -> None:
        """Raise OutOfTime in the work, if it is still running."""
        with self.lock:
            if self.thread is not None:
                raise_in = ctypes.pythonapi.PyThreadState_SetAsyncExc
                raise_in(ctypes.c_ulong(self.thread), ctypes.py_object(OutOfTime))


def _settle() -> None:
    """Steps enough for an exception already on its way to arrive here, not in the thread's next work."""
    for _ in range(4):
        _step()


def _step() -> None:
    return


class Pool:
    """`workers` threads, at most `queue` requests waiting, at most `seconds` for each piece of work."""

    def __init__(self, workers: int, queue: int, seconds: float, name: str) -> None:
        self.most, self.seconds = workers + queue, seconds
        self.held = 0
        self.gate = Gate()
        self.threads = ThreadPoolExecutor(workers, name)

    async def run(self, work: Callable[..., T], *given: Any) -> T:
        """`work(*given)` in a thread. Problem `busy` (queue full, wait too long) or `out_of_time`."""
        if self.held >= self.most:
            raise Problem("busy", f"{self.held} requests are already waiting", hint="try again", retry=1.0)
        self.held += 1
        job, loop = Job(work, given, self.gate), asyncio.get_running_loop()
        timer = loop.call_later(self.seconds, self._watch, job)
        try:
            return await loop.run_in_executor(self.threads, job)
        finally:
            timer.cancel()
            self.held -= 1

    def _watch(self, job: Job[Any]) -> None:
        """End the job if its time is over; look again later if it is not, or not yet begun."""
        left = self.seconds - job.age()
        if left <= 0:
            job.end()
        elif not job.done:
            asyncio.get_running_loop().call_later(max(left, 0.1), self._watch, job)

    def close(self) -> None:
        """Take no more work; drop what has not begun."""
        self.threads.shutdown(wait=False, cancel_futures=True)
