"""An answer that settles an entry names its key; any other leaves the browser holding it."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from server.logbook.book import Logbook
from server.pages.lathe import ENTRY_MARK
from tests.web.workshop import BASE_URL, LOOPBACK, Job, Workshop, new_key


@pytest.fixture
def job(shop: Workshop) -> Job:
    return shop.job("25 h6", "mm")


def sent(job: Job, kind: str, **fields: str) -> tuple[int, str | None, str]:
    """(status, the key that the answer names, the key that was sent)"""
    key = new_key()
    answer = job.shop.client.post(
        f"/pieces/{job.piece_id}/{kind}",
        data={"feature_id": str(job.feature_id), "entry_key": key} | fields,
        headers={"hx-request": "true", ENTRY_MARK: key},
    )
    return answer.status_code, answer.headers.get(ENTRY_MARK), key


@pytest.mark.parametrize(
    ("kind", "fields", "status"),
    [
        ("readings", {"value": "25.400", "unit": "mm"}, 200),
        ("readings", {"value": "25.4.00", "unit": "mm"}, 422),
        ("readings", {"value": "1.0000", "unit": "mm"}, 409),
        ("readings", {"value": "25.400", "unit": "mm", "note": "n" * 9000}, 422),
        ("readings", {"value": "25.400", "unit": "mm", "feature_id": ""}, 422),
        ("readings", {"value": "25.400", "unit": "mm", "feature_id": "99"}, 404),
        ("passes", {"dial_step": "0.1", "unit": "mm"}, 200),
        ("passes", {"dial_step": "0.1.0", "unit": "mm"}, 422),
        ("events", {"event": "rezeroed"}, 200),
        ("events", {"event": "slept"}, 422),
        ("gauges", {"tried": "go enters"}, 200),
        ("gauges", {"tried": "stop enters"}, 422),
    ],
)
def test_an_entry_stored_or_refused_is_named(
    job: Job, kind: str, fields: dict[str, str], status: int
) -> None:
    found, named, key = sent(job, kind, **fields)
    assert (found, named) == (status, key)


def test_an_entry_of_a_finished_piece_is_named_and_told_why(job: Job) -> None:
    finished = {"as": "scrap", "reason": "chattered", "initials": "AB"}
    job.shop.post(f"/api/pieces/{job.piece_id}/finish", finished)
    key = new_key()
    answer = job.shop.client.post(
        f"/pieces/{job.piece_id}/readings",
        data=job.body("25.400", entry_key=key),
        headers={"hx-request": "true", ENTRY_MARK: key},
    )
    assert (answer.status_code, answer.headers[ENTRY_MARK]) == (409, key)
    assert "was finished as scrap" in answer.text


def test_a_fault_names_no_entry(
    job: Job, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def break_down(*_: object) -> None:
        raise RuntimeError("disk")

    monkeypatch.setattr(Logbook, "log_reading", break_down)
    patient = TestClient(
        client.app, base_url=BASE_URL, raise_server_exceptions=False, client=LOOPBACK
    )
    key = new_key()
    answer = patient.post(
        f"/pieces/{job.piece_id}/readings",
        data=job.body("25.400", entry_key=key),
        headers={"hx-request": "true", ENTRY_MARK: key},
    )
    assert answer.status_code == 500
    assert ENTRY_MARK not in answer.headers


def test_scripts_and_styles_are_sent_small_and_pages_as_they_are(client: TestClient) -> None:
    for path, encoding in (("/static/outbox.js", "gzip"), ("/", None)):
        answer = client.get(path, headers={"accept-encoding": "gzip"})
        assert answer.status_code == 200
        assert answer.headers.get("content-encoding") == encoding
    assert "midlimit.outbox" in client.get("/static/outbox.js").text


@pytest.mark.parametrize("key", ["", "a\tb", "ä", "x" * 65])
def test_what_is_no_key_is_not_given_back(job: Job, key: str) -> None:
    answer = job.shop.client.get(
        f"/pieces/{job.piece_id}/lathe", headers={ENTRY_MARK.encode(): key.encode()}
    )
    assert answer.status_code == 200
    assert ENTRY_MARK not in answer.headers
