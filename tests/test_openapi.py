"""The description at /openapi.json is true: the live service is asked what it allows, and what it forbids.

Requests and checks are made by schemathesis from the description alone; its own reading of OpenAPI 3.1 is the
outside authority here. `positive_data_acceptance` is left out: a text of over 200 words or a sheet that makes
no sense fits the schema and is rightly refused."""

from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from requests import Session
from schemathesis import APIOperation, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    allow_header_conformance,
    content_type_conformance,
    negative_data_rejection,
    response_schema_conformance,
    status_code_conformance,
)
from served import Running, served

from service.desk import open_desk
from service.errors import CODES
from service.library import Library
from service.logbook import Logbook
from service.routes import ROWS
from service.settings import Settings

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    allow_header_conformance,
]
EXAMPLES = 10
Operation = APIOperation[Any, Any, Any, Any]
ASKED = [row for row in ROWS if row.path != "/openapi.json"]  # schemathesis leaves out its own source
OPERATIONS = {f"{row.method} {row.path}": row for row in ASKED}
CASES = [(name, GenerationMode.POSITIVE) for name in OPERATIONS]
CASES += [(name, GenerationMode.NEGATIVE) for name, row in OPERATIONS.items() if row.takes]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service with an empty logbook."""
    home = tmp_path_factory.mktemp("openapi")
    with served(open_desk(Settings(port=0), Library(home), Logbook(home / "l.sqlite3"))) as running:
        yield running


@pytest.fixture(scope="module")
def operations(service: Running) -> dict[str, Operation]:
    """What the live description describes."""
    schema = schemathesis.openapi.from_url(f"http://127.0.0.1:{service.port}/openapi.json")
    found = [result.ok() for result in schema.get_all_operations() if isinstance(result, Ok)]
    return {f"{operation.method.upper()} {operation.path}": operation for operation in found}


@pytest.fixture(scope="module")
def wires() -> Iterator[Session]:
    """Connections that are closed at the end."""
    with Session() as session:
        yield session


@pytest.mark.parametrize(("name", "mode"), CASES)
def test_the_service_does_what_it_describes(
    operations: dict[str, Operation], wires: Session, name: str, mode: GenerationMode
) -> None:
    operation = operations[name]
    checks = CHECKS if mode is GenerationMode.POSITIVE else [*CHECKS, negative_data_rejection]

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        case.call_and_validate(session=wires, checks=checks, timeout=20)

    ask()


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("loose in, tight off at half fuel", "change"),
        ("the car feels funny", "question"),
        ("the brakes are gone", "stop"),
        ("loose in, only the toe, one change at most", None),
        ("the car is perfect", None),
        ("water is at 280, rf worn 45 percent and lf 20 percent, limiter at the end of the straight", None),
    ],
)
def test_real_answers_are_as_described(
    operations: dict[str, Operation], wires: Session, text: str, status: str | None
) -> None:
    case = operations["POST /v1/advice"].Case(body={"text": text})
    answer = case.call_and_validate(session=wires, checks=CHECKS, timeout=20)

    assert answer.status_code == 200
    assert status in (None, answer.json()["status"])


def test_every_route_of_the_table_is_described(operations: dict[str, Operation]) -> None:
    assert sorted(operations) == sorted(OPERATIONS)


def test_every_error_code_is_described_somewhere(service: Running) -> None:
    described = service.get("/openapi.json").body.decode()

    assert [code for code in CODES if f"{code}: " not in described] == []


def test_the_document_is_openapi_3_1(service: Running) -> None:
    document = service.get("/openapi.json").json()

    assert document["openapi"].startswith("3.1.")
    assert document["paths"]["/v1/advice"]["post"]["requestBody"]["required"] is True
    change = document["components"]["schemas"]["ChangeOut"]
    assert "from" in change["properties"]
    assert set(change["required"]) == set(change["properties"])
