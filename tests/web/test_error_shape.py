"""Errors have one shape, the framework's own included; strangers are refused."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from httpx2 import Response

from tests.web.workshop import BASE_URL, LOOPBACK, Workshop, code_of

JSON = {"content-type": "application/json"}
PART = {"name": "Shaft", "material": "carbon steel", "unit": "in"}


def shape(response: Response) -> dict[str, Any]:
    """The body of an error, its shape checked."""
    assert response.headers["content-type"].startswith("application/json")
    body: dict[str, Any] = response.json()
    assert set(body) <= {"error", "problems"}
    code_of(body)
    for problem in body.get("problems", []):
        assert set(problem) == {"code", "message", "field"}
    return body


@pytest.mark.parametrize(
    ("method", "path", "status", "code"),
    [
        ("GET", "/api/nothing", 404, "not_found"),
        ("GET", "/api", 404, "not_found"),
        ("POST", "/api/pieces/1/dance", 404, "not_found"),
        ("GET", "/api/lathes", 405, "method_not_allowed"),
        ("DELETE", "/api/parts", 405, "method_not_allowed"),
        ("PUT", "/api/pieces/1/readings", 405, "method_not_allowed"),
        ("POST", "/api/health", 405, "method_not_allowed"),
        ("GET", "/api/pieces/x/history", 422, "invalid"),
        ("GET", "/api/pieces/0/history", 422, "invalid"),
        ("GET", "/api/pieces/99999999999999999999/history", 422, "invalid"),
        ("GET", "/api/pieces/7/history", 404, "not_found"),
        ("POST", "/api/targets", 422, "missing"),
    ],
)
def test_the_framework_s_own_errors_have_the_shape(
    shop: Workshop, method: str, path: str, status: int, code: str
) -> None:
    response = shop.client.request(method, path)

    assert response.status_code == status
    assert code_of(shape(response)) == code


@pytest.mark.parametrize("path", ["/nothing", "/static/nothing.css", "/pieces/99/history"])
def test_a_program_that_takes_json_gets_it_everywhere(shop: Workshop, path: str) -> None:
    response = shop.client.get(path, headers={"accept": "application/json"})

    assert response.status_code == 404
    assert code_of(shape(response)) == "not_found"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"null",
        b"[]",
        b"7",
        b'"text"',
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"name": ' + b"9" * 5000 + b"}",
        b'{"name": "\\ud800", "material": "carbon steel", "unit": "in"}',
        b"name=Shaft",
    ],
)
def test_a_body_that_is_no_json_object_is_refused(shop: Workshop, content: bytes) -> None:
    response = shop.client.post("/api/parts", content=content, headers=JSON)

    assert response.status_code in (400, 422)
    shape(response)


def test_a_form_is_no_json(shop: Workshop) -> None:
    response = shop.client.post("/api/parts", data=PART)

    assert response.status_code == 422
    shape(response)


def test_several_problems_are_all_named(shop: Workshop) -> None:
    body = shape(shop.client.post("/api/parts", json={"unit": "cubit"}))

    fields = {problem["field"] for problem in body["problems"]}
    assert fields == {"name", "material", "unit"}
    assert body["error"] == body["problems"][0]


def test_a_body_too_large_is_refused_with_or_without_its_length(shop: Workshop) -> None:
    def spaces() -> Iterator[bytes]:
        for _ in range(300):
            yield b" " * 1024

    stated = shop.client.post("/api/parts", content=b" " * 300_000, headers=JSON)
    unstated = shop.client.post("/api/parts", content=spaces(), headers=JSON)
    for response in (stated, unstated):
        assert response.status_code == 413
        assert code_of(shape(response)) == "too_large"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "[::", "8.8.8.8:8020"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_foreign_host_is_refused_always(shop: Workshop, host: str, method: str) -> None:
    for path in ("/api/health", "/api/parts", "/", "/static/vendor/htmx.min.js"):
        response = shop.client.request(method, path, headers={"host": host})
        assert response.status_code == 400
        assert code_of(shape(response)) == "foreign_host"


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "http://127.0.0.1:9999",
        "http://localhost:8020",  # another name than the one asked
        "http://127.0.0.1:8020.evil.example",
        "http://[",
        "",
    ],
)
def test_a_foreign_origin_is_refused_always(shop: Workshop, origin: str) -> None:
    for method, path in (("POST", "/api/parts"), ("GET", "/api/health"), ("POST", "/")):
        response = shop.client.request(method, path, json=PART, headers={"origin": origin})
        assert response.status_code == 403
        assert code_of(shape(response)) == "foreign_origin"
    assert shop.client.post("/api/parts", json=PART).json()["id"] == 1


@pytest.mark.parametrize("site", ["cross-site", "same-site", "rubbish"])
def test_a_browser_that_says_another_site_sent_it_is_refused(shop: Workshop, site: str) -> None:
    headers = {"sec-fetch-site": site}

    response = shop.client.post("/api/parts", json=PART, headers=headers)
    assert response.status_code == 403
    assert code_of(shape(response)) == "foreign_origin"


def test_our_own_pages_and_programs_without_an_origin_are_served(shop: Workshop) -> None:
    for headers in (
        {},
        {"origin": BASE_URL},
        {"origin": BASE_URL, "sec-fetch-site": "same-origin"},
    ):
        assert shop.client.post("/api/parts", json=PART, headers=headers).status_code == 201


@pytest.mark.parametrize("host", ["localhost:8020", "LOCALHOST", "127.0.0.1", "[::1]:8020"])
def test_every_name_of_this_machine_is_served(shop: Workshop, host: str) -> None:
    assert shop.client.get("/api/health", headers={"host": host}).status_code == 200


def test_every_answer_forbids_foreign_scripts_and_framing(shop: Workshop) -> None:
    for path in ("/api/health", "/api/nothing"):
        headers = shop.client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"


def test_a_fault_answers_with_a_reference_and_no_traceback(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fastapi.testclient import TestClient

    from server.logbook import targets

    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(targets, "look_up", broken)
    quiet = TestClient(
        shop.client.app, base_url=BASE_URL, client=LOOPBACK, raise_server_exceptions=False
    )
    response = quiet.post("/api/targets", json={"designation": "25 h6", "unit": "mm"})

    assert response.status_code == 500
    body = shape(response)
    assert code_of(body) == "fault"
    assert "secret" not in response.text
