"""Readings on the event loop: in turn, a little in each round, and nobody else waits for all of them."""

import asyncio
from time import perf_counter

import pytest

from service.turnstile import SECONDS, Turnstile


def busy(number: int) -> int:
    """Work that keeps the loop for longer than one round may."""
    until = perf_counter() + 2 * SECONDS
    while perf_counter() < until:
        pass
    return number


def test_the_loop_goes_round_between_pieces_of_work() -> None:
    """Ten pieces that came at once: the loop has turned about ten times when the last is done."""

    async def use() -> tuple[list[int], int]:
        turnstile, rounds = Turnstile(), 0
        work = asyncio.gather(*(turnstile.run(busy, number) for number in range(10)))
        while not work.done():
            rounds += 1
            await asyncio.sleep(0)
        return await work, rounds

    done, rounds = asyncio.run(use())
    assert done == list(range(10)) and rounds >= 10


def test_work_is_done_in_the_order_in_which_it_came() -> None:
    async def use() -> list[int]:
        turnstile, order = Turnstile(), list[int]()
        await asyncio.gather(*(turnstile.run(order.append, number) for number in range(500)))
        assert not turnstile.waiting
        return order

    assert asyncio.run(use()) == list(range(500))


def test_what_fails_fails_alone() -> None:
    async def use() -> tuple[object, ...]:
        turnstile = Turnstile()
        return await asyncio.gather(
            turnstile.run(int, "1"),
            turnstile.run(int, "one"),
            turnstile.run(int, "2"),
            return_exceptions=True,
        )

    first, second, third = asyncio.run(use())
    assert (first, third) == (1, 2) and isinstance(second, ValueError)


def test_who_has_gone_is_passed_over() -> None:
    async def use() -> list[int]:
        turnstile, done = Turnstile(), list[int]()
        first, gone, last = (asyncio.create_task(turnstile.run(done.append, n)) for n in range(3))
        await asyncio.sleep(0)
        gone.cancel()
        await asyncio.gather(first, last)
        with pytest.raises(asyncio.CancelledError):
            await gone
        return done

    assert asyncio.run(use()) == [0, 2]
