"""Threads of the service: bounded queue, an end to endless work, and threads that are whole afterwards."""

import asyncio
import time
from threading import Event, Lock

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


def test_one_computes_at_a_time() -> None:
    """Threads that take turns only make the event loop wait longer."""
    busy, most = Lock(), []

    def work() -> None:
        most.append(busy.acquire(blocking=False))
        time.sleep(0.01)
        busy.release()

    async def use() -> None:
        pool = Pool(3, 20, 30.0, "test")
        pool.gate.seconds = 60.0
        await asyncio.gather(*(pool.run(work) for _ in range(12)))
        pool.close()

    asyncio.run(use())
    assert most == [True] * 12


def test_work_that_takes_long_keeps_nobody_waiting() -> None:
    async def use() -> tuple[bool, list[int]]:
        pool, go = Pool(2, 20, 30.0, "test"), Event()
        stuck = asyncio.create_task(pool.run(go.wait, 20.0))
        totals = [await pool.run(sum, range(n)) for n in range(20)]
        go.set()
        freed = await stuck
        pool.close()
        return freed, totals

    freed, totals = asyncio.run(use())
    assert freed and totals == [sum(range(n)) for n in range(20)]
