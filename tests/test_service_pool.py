"""Threads of the service: bounded queue, an end to endless work, and threads that are whole afterwards."""

import asyncio
import time
from threading import Event

import pytest

from service.errors import Problem
from service.pool import OutOfTime, Pool


def endless() -> None:
    """Work that never ends by itself."""
    number = 0
    while True:
        number += 1


def test_endless_work_is_ended_and_its_thread_goes_on() -> None:
    async def use() -> int:
        pool = Pool(1, 4, 0.2, "test")
        with pytest.raises(OutOfTime):
            await pool.run(endless)
        total = [await pool.run(sum, range(n)) for n in range(50)]
        assert pool.held == 0
        pool.close()
        return total[-1]

    assert asyncio.run(use()) == sum(range(49))


def test_the_time_is_counted_from_the_work_not_from_the_wait() -> None:
    async def use() -> list[BaseException | None]:
        pool = Pool(1, 10, 0.5, "test")
        found = await asyncio.gather(*(pool.run(time.sleep, 0.2) for _ in range(5)), return_exceptions=True)
        pool.close()
        return found

    assert asyncio.run(use()) == [None] * 5


def test_a_full_queue_is_refused_at_once() -> None:
    async def use() -> None:
        pool, go = Pool(1, 1, 5.0, "test"), Event()
        held = [asyncio.create_task(pool.run(go.wait)) for _ in range(2)]
        await asyncio.sleep(0)
        with pytest.raises(Problem) as refused:
            await pool.run(sum, [1])
        go.set()
        assert await asyncio.gather(*held) == [True, True]
        assert refused.value.code == "busy" and refused.value.retry
        assert await pool.run(sum, [1]) == 1
        pool.close()

    asyncio.run(use())


def test_the_loop_goes_on_while_a_thread_computes() -> None:
    async def use() -> int:
        pool = Pool(1, 1, 0.3, "test")
        work = asyncio.create_task(pool.run(endless))
        beats = 0
        while not work.done():
            beats += 1
            await asyncio.sleep(0.005)
        with pytest.raises(OutOfTime):
            await work
        pool.close()
        return beats

    assert asyncio.run(use()) >= 3
