"""A memo gives what the function gives, keeps a bounded number, and holds between threads."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from engine.adviser import _pace, _response, advise
from engine.memo import Memo, forget_all
from engine.sheets import at_track, shipped_cars, shipped_tracks
from grammar.reader import read


class Sheet:
    """Something a value may depend on."""

    def __init__(self, number: int) -> None:
        self.number = number


def test_the_last_calls_are_kept_and_the_oldest_goes_first() -> None:
    memo: Memo[int] = Memo(2)
    sheet = Sheet(0)
    made: list[int] = []

    def get(rest: int) -> int:
        def make() -> int:
            made.append(rest)
            return 10 * rest

        return memo.get((sheet,), rest, make)

    assert [get(1), get(2), get(1), get(3), get(1), get(2)] == [10, 20, 10, 30, 10, 20]
    assert made == [1, 2, 3, 2]
    assert len(memo) == 2


def test_an_equal_sheet_is_not_the_same_sheet() -> None:
    memo: Memo[int] = Memo(4)
    for number in range(200):  # the place of a sheet that is gone may be taken by the next one
        sheet = Sheet(number)
        assert memo.get((sheet,), None, lambda sheet=sheet: sheet.number) == number  # type: ignore[misc]
    assert len(memo) == 4


def test_what_raises_is_not_kept() -> None:
    memo: Memo[float] = Memo(2)
    with pytest.raises(ZeroDivisionError):
        memo.get((), 0, lambda: 1 / 0)
    assert memo.get((), 0, lambda: 1.0) == 1.0


def test_many_threads_get_their_own_values() -> None:
    memo: Memo[int] = Memo(3)
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda i: memo.get((memo,), i % 7, lambda: i % 7), range(3000)))
    assert found == [i % 7 for i in range(3000)]
    assert len(memo) <= 3


def test_a_remembered_answer_is_the_answer_made_from_nothing() -> None:
    track = shipped_tracks()["millpond"]
    for name in ("tern-club", "tern-premier"):
        car = at_track(shipped_cars()[name], track)
        setups = [car.base_setup(), {**car.base_setup(), "cross_weight": 51.0}]
        reading = read("loose in, tight off")
        forget_all()
        cold = [advise(reading, car, track, setup) for setup in setups]
        warm = [advise(reading, car, track, setup) for setup in setups]
        assert cold == warm
        assert cold[0] != cold[1]
        forget_all()
        assert [advise(reading, car, track, setup) for setup in reversed(setups)] == cold[::-1]


def test_what_is_shared_cannot_be_written_to() -> None:
    car, track = shipped_cars()["tern-club"], shipped_tracks()["stonecup"]
    shared = _response(car, track, car.base_setup(), _pace(car, track))
    assert shared is _response(car, track, car.base_setup(), _pace(car, track))
    with pytest.raises(ValueError, match="read-only"):
        shared.step[0, 0] = np.nan
