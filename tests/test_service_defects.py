"""Whose fault it is: a wrong request, a sheet that leads nowhere, a defect of ours; each is told as that.

The routes here fail on purpose, on a real service: its own routes have no defect to be reached."""

from collections.abc import Callable, Iterator
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from served import Running, served

from cli.client import Here
from cli.problems import BAD_INPUT, Problem
from service.app import leads_nowhere
from service.contract import AdviceRequest, MeasurementOut, ReadingOut, SpanOut
from service.desk import Call, open_desk
from service.library import Library
from service.logbook import Logbook
from service.routes import ROWS
from service.settings import Settings
from service.table import Row


def ill_shaped(call: Call) -> ReadingOut:
    """An answer that lacks what its shape wants."""
    return ReadingOut.model_validate({"text": call.body.text})


def endless(call: Call) -> MeasurementOut:
    """An answer with a number that is not finite."""
    span = SpanOut(start=0, end=1, text="x")
    return MeasurementOut(quantity="pressure", values=[inf], unit=None, tyre=None, condition=None, span=span)


def by_nothing(call: Call) -> float:
    """A division by nothing."""
    return 1 / (len(call.body.text) - len(call.body.text))


def without_inverse(call: Call) -> Any:
    """A matrix that has no inverse."""
    return np.linalg.inv(np.zeros((2, 2)))


def failing(path: str, answer: Callable[[Call], Any]) -> Row:
    """A route that fails in its own way."""
    return Row("POST", path, "fails", answer, AdviceRequest, ReadingOut, where="solver")


FAILING = [failing(f"/{f.__name__}", f) for f in (ill_shaped, endless, by_nothing, without_inverse)]
CAR = {"settings": {"cross_weight": {"min": 40, "max": 60, "step": 1, "base": 50}}}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service with some routes more."""
    home = tmp_path_factory.mktemp("defects")
    desk = open_desk(Settings(port=0), Library(home), Logbook(home / "logbook.sqlite3"))
    with served(desk, [*ROWS, *FAILING]) as running:
        yield running


@pytest.mark.parametrize("row", FAILING, ids=lambda row: row.path)
def test_a_defect_is_ours_and_stands_in_the_records(service: Running, row: Row) -> None:
    answer = service.post(row.path, {"text": "loose in"})

    assert (answer.status, answer.code()) == (500, "broken")
    assert "Error" not in answer.body.decode(), "no details to the client"
    failure = next(line for line in reversed(service.lines()) if line["what"] == "failure")
    assert failure["path"] == row.path and row.answer.__name__ in failure["trace"]
    assert service.get("/healthz").status == 200


def test_an_answer_of_the_wrong_shape_is_ours_also_with_a_sheet_brought_along(service: Running) -> None:
    answer = service.post("/ill_shaped", {"text": "loose in", "car": CAR})

    assert (answer.status, answer.code()) == (500, "broken")


@pytest.mark.parametrize("row", FAILING[1:], ids=lambda row: row.path)
def test_numbers_that_lead_nowhere_are_the_fault_of_the_sheet_that_brought_them(
    service: Running, row: Row
) -> None:
    answer = service.post(row.path, {"text": "loose in", "car": CAR})

    assert (answer.status, answer.code()) == (422, "bad_sheet")
    assert answer.json()["error"]["where"] == "car"


@pytest.mark.parametrize("row", FAILING, ids=lambda row: row.path)
def test_a_wrong_request_is_the_senders_before_anything_fails(service: Running, row: Row) -> None:
    answer = service.post(row.path, {"text": "loose in", "alternatives": "many", "car": CAR})

    assert (answer.status, answer.code()) == (400, "malformed")
    assert answer.json()["error"]["where"] == "alternatives"


def test_any_other_error_is_a_defect() -> None:
    assert not any(leads_nowhere(error) for error in (KeyError("x"), TypeError("x"), RuntimeError("x")))
    assert leads_nowhere(OverflowError("x")) and leads_nowhere(ZeroDivisionError("x"))


@pytest.mark.parametrize("wrong", [{"alternatives": 9}, {"colour": "red"}, {"session": "a\udcff"}])
def test_the_command_line_names_what_is_wrong_in_a_request(tmp_path: Path, wrong: dict[str, Any]) -> None:
    with pytest.raises(Problem, match=next(iter(wrong))) as refused:
        Here(str(tmp_path / "logbook.sqlite3")).advise({"text": "loose in", **wrong})

    assert refused.value.exit == BAD_INPUT
