"""Short work on the event loop itself, a little in each of its rounds: everyone else is served between.

A reading takes about as long as handing it to a thread and back would cost, so it is done on the loop. Sixty
that come at once would keep the loop for sixty readings; here the loop looks at its sockets after each.
"""

import asyncio
from collections import deque
from collections.abc import Callable
from time import perf_counter
from typing import Any, TypeVar

__all__ = ["Turnstile"]

T = TypeVar("T")
SECONDS = 0.001
"""Work begun in one round of the loop, s. The last piece begun is always finished."""


class Turnstile:
    """Work is done in the order in which it came."""

    def __init__(self) -> None:
        self.waiting: deque[tuple[asyncio.Future[Any], Callable[..., Any], tuple[Any, ...]]] = deque()

    async def run(self, work: Callable[..., T], *given: Any) -> T:
        """`work(*given)` when its turn comes. Raises what it raises."""
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[T] = loop.create_future()
        self.waiting.append((answer, work, given))
        if len(self.waiting) == 1:
            loop.call_soon(self._round)
        return await answer

    def _round(self) -> None:
        until = perf_counter() + SECONDS
        while True:
            answer, work, given = self.waiting[0]
            if not answer.done():  # whoever asked may have gone
                _settle(answer, work, given)
            self.waiting.popleft()
            if not self.waiting:
                return
            if perf_counter() >= until:
                break
        asyncio.get_running_loop().call_soon(self._round)


def _settle(answer: asyncio.Future[T], work: Callable[..., T], given: tuple[Any, ...]) -> None:
    try:
        answer.set_result(work(*given))
    except Exception as error:
        answer.set_exception(error)
