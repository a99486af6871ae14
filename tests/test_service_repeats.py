"""What is asked again is answered with the bytes made the first time, and only where that is right."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from served import Running, served

from service.contract import AdviceRequest, ReadingOut
from service.contract_service import TextRequest
from service.desk import Call, open_desk
from service.errors import Problem
from service.library import Library
from service.logbook import Logbook
from service.repeats import EACH_BYTES, Repeats
from service.routes import ROWS
from service.settings import Settings
from service.table import Row

COUNTED: list[str] = []


def count(call: Call) -> bytes:
    """Every call is noted; the text "no" is refused."""
    COUNTED.append(call.body.text)
    if call.body.text == "no":
        raise Problem("not_doable", "no")
    return json.dumps({"call": len(COUNTED)}).encode()


COUNTING = (
    Row("POST", "/alone", "", count, TextRequest, ReadingOut, where="solver", repeats=True),
    Row("POST", "/session", "", count, AdviceRequest, ReadingOut, where="solver", repeats=True),
    Row("POST", "/each", "", count, TextRequest, ReadingOut, where="reader"),
)


@pytest.fixture
def counting(tmp_path: Path) -> Iterator[Running]:
    COUNTED.clear()
    desk = open_desk(Settings(port=0), Library(tmp_path), Logbook(tmp_path / "log.sqlite3"))
    with served(desk, COUNTING) as running:
        yield running


def test_the_same_body_is_answered_once_and_sent_again(counting: Running) -> None:
    bodies = [counting.post("/alone", {"text": "loose in"}).body for _ in range(3)]

    assert bodies == [b'{"call": 1}'] * 3 and COUNTED == ["loose in"]
    assert counting.post("/alone", {"text": "loose off"}).json() == {"call": 2}
    assert counting.post("/each", {"text": "loose in"}).json() == {"call": 3}
    assert counting.post("/each", {"text": "loose in"}).json() == {"call": 4}


def test_a_session_and_a_refusal_are_answered_anew(counting: Running) -> None:
    spoken = {"text": "loose in", "session": "night"}

    assert [counting.post("/session", spoken).json()["call"] for _ in range(2)] == [1, 2]
    assert [counting.post("/alone", {"text": "no"}).code() for _ in range(2)] == ["not_doable"] * 2
    assert COUNTED == ["loose in", "loose in", "no", "no"]


def test_a_repeated_body_passes_the_same_checks(counting: Running) -> None:
    asked = json.dumps({"text": "loose in"}).encode()

    assert counting.ask("POST", "/alone", asked).status == 200
    assert counting.ask("POST", "/alone", asked, {"Content-Type": "text/plain"}).code() == "wrong_type"
    assert counting.ask("POST", "/alone", asked, {"Origin": "http://elsewhere.example"}).status == 403
    assert counting.ask("GET", "/alone").code() == "wrong_method"


def test_only_what_hangs_on_the_body_alone_is_kept() -> None:
    assert {row.path for row in ROWS if row.repeats} == {"/v1/reading", "/v1/advice"}


def test_what_is_kept_is_bounded_and_the_longest_unasked_goes_first() -> None:
    each = 1 + 100 + EACH_BYTES
    repeats = Repeats(3 * each)
    for body in (b"a", b"b", b"c"):
        repeats.keep(body, body * 100)
    assert repeats.get(b"a") == b"a" * 100

    repeats.keep(b"d", b"d" * 100)

    assert repeats.get(b"b") is None and repeats.get(b"a") is not None
    assert (len(repeats), repeats.held) == (3, 3 * each)


def test_an_answer_larger_than_all_there_is_room_for_is_not_kept() -> None:
    repeats = Repeats(1000)

    repeats.keep(b"body", b"x" * 1000)

    assert (len(repeats), repeats.held) == (0, 0)
