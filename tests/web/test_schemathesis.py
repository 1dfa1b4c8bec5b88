"""The whole API as its own description has it: nothing sent to it makes a fault."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.checks import CHECKS, load_all_checks
from schemathesis.generation import GenerationMode

from server.app import create_app
from server.records.database import open_database
from server.settings import Settings
from server.sharing.roles import TABLE
from tests.conftest import Clock
from tests.web.workshop import BASE_URL, LOOPBACK, Workshop

OPERATIONS = [
    (method, path)
    for method, path in TABLE
    if path.startswith("/api/") and path != "/api/openapi.json"
]
EXAMPLES = 12  # of either kind for each operation: the whole file takes well under a minute

load_all_checks()
SOUND = CHECKS.get_by_names(
    [
        "not_a_server_error",
        "status_code_conformance",
        "content_type_conformance",
        "response_schema_conformance",
    ]
)
REFUSES_WRONG_BODIES = CHECKS.get_by_names(["negative_data_rejection"])
# No body, and so null, is as good as an empty one to these.
BODY_MAY_BE_LEFT_OUT = (
    "/api/parts/{part_id}/pieces",
    "/api/parts/{part_id}/copy",
    "/api/pieces/{piece_id}/finish",
)


class FromHere:
    """The application, asked by a program on the same machine."""

    def __init__(self, app: Any) -> None:
        self.app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] == "http":
            others = [each for each in scope["headers"] if each[0] != b"host"]
            headers = [(b"host", b"127.0.0.1:8020"), *others]
            scope = scope | {"client": LOOPBACK, "headers": headers}
        await self.app(scope, receive, send)


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The API's description, over a workshop where piece, part and all others have number 1."""
    clock = Clock()
    own = Settings(data_dir=tmp_path_factory.mktemp("api"), clock=clock)
    database = open_database(own)
    app = create_app(replace(own, share=True, host="0.0.0.0"), database)
    with TestClient(app, base_url=BASE_URL, client=LOOPBACK) as client:
        Workshop(client, clock).thread().read("0.6480")
    yield schemathesis.openapi.from_asgi("/api/openapi.json", FromHere(app))
    database.close()


def made_known(value: Any) -> Any:
    """Every number of a row replaced by one that is there."""
    if isinstance(value, dict):
        return {
            name: 1 if name.endswith("_id") and inner is not None else made_known(inner)
            for name, inner in value.items()
        }
    return value


@pytest.mark.parametrize(("method", "path"), OPERATIONS, ids=lambda each: each)
def test_nothing_sent_to_an_operation_makes_a_fault(schema: Any, method: str, path: str) -> None:
    operation = schema[path][method]
    good = operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
    bad = operation.as_strategy(generation_mode=GenerationMode.NEGATIVE)

    checks = SOUND if path in BODY_MAY_BE_LEFT_OUT else SOUND + REFUSES_WRONG_BODIES

    def send(case: Any, is_known: bool) -> None:
        if is_known:
            case.path_parameters = made_known(case.path_parameters)
            case.body = made_known(case.body)
        answer = case.call()
        case.validate_response(answer, checks=checks)

    bounded = settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    bounded(given(case=good, is_known=st.booleans())(send))()
    if operation.body or operation.path_parameters:
        bounded(given(case=bad, is_known=st.just(False))(send))()


def test_every_operation_of_the_description_is_sent_to(schema: Any) -> None:
    described = {
        (found.ok().method.upper(), found.ok().path) for found in schema.get_all_operations()
    }
    assert described == set(OPERATIONS)
