"""Which language a screen is in, and how a device chooses it."""

from __future__ import annotations

import pytest
from fastapi import Request
from fastapi.testclient import TestClient
from sqlmodel import select

from server.pages.language import LANGUAGES, language_of
from server.records.database import Database
from server.records.tables import EntryRow
from tests.web.workshop import Workshop, new_key


def asked(accept: str = "", cookie: str = "") -> Request:
    headers = {"accept-language": accept, "cookie": f"language={cookie}" if cookie else ""}
    sent = [(name.encode(), text.encode()) for name, text in headers.items() if text]
    return Request({"type": "http", "headers": sent})


@pytest.mark.parametrize(
    ("accept", "cookie", "language"),
    [
        ("de-AT,de;q=0.9", "", "de"),
        ("DE", "", "de"),
        ("fr, de;q=0.5", "", "de"),
        ("en-GB, de;q=0.5", "", "en"),
        ("fr, *;q=0.1", "", "en"),
        ("", "", "en"),
        ("en-US", "de", "de"),
        ("de", "en", "en"),
        ("de", "xx", "de"),
        ("", "xx", "en"),
        ("en;q=0.3, de-CH;q=0.8", "", "de"),
        ("de;q=0, fr", "", "en"),
        ("de;q=much, en", "", "de"),
    ],
)
def test_the_choice_of_the_device_goes_before_the_wish_of_its_browser(
    accept: str, cookie: str, language: str
) -> None:
    assert language_of(asked(accept, cookie)) == language


def test_the_shop_screen_offers_every_language_by_its_own_name(client: TestClient) -> None:
    page = client.get("/shop").text
    for code, word in LANGUAGES.items():
        pressed = "true" if code == "en" else "false"
        assert f'value="{code}" lang="{code}" aria-pressed="{pressed}">{word}</button>' in page


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_chosen_stays_with_the_device(client: TestClient, language: str) -> None:
    answer = client.post("/language", data={"language": language}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/shop")
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith(f"language={language};")
    for part in ("path=/", "max-age=31536000", "samesite=lax", "httponly"):
        assert part in cookie


@pytest.mark.parametrize("sent", [{}, {"language": ""}, {"language": "xx"}, {"language": "EN"}])
def test_a_language_that_there_is_not_is_refused(client: TestClient, sent: dict[str, str]) -> None:
    answer = client.post("/language", data=sent, follow_redirects=False)
    assert answer.status_code == 422
    assert "Choose English or Deutsch." in answer.text
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("typed", ["25,013", "25.013", "25,01"])
def test_a_device_in_german_writes_a_decimal_comma(
    shop: Workshop, database: Database, typed: str
) -> None:
    job = shop.job("25 h6", "mm")
    sent = {"form": "log", "feature_id": str(job.feature_id), "value": typed, "unit": "mm"}
    address = f"/pieces/{job.piece_id}/readings"

    def log(language: str) -> int:
        headers = {"accept-language": language, "hx-request": "true"}
        return shop.client.post(
            address, data={**sent, "entry_key": new_key()}, headers=headers
        ).status_code

    assert log("en") == (422 if typed == "25,013" else 200)
    assert log("de") == 200
    kept = shop.get(f"/api/pieces/{job.piece_id}/history")["features"][0]["entries"]
    assert {entry["value"] for entry in kept} == {typed}
    with database.reading() as session:
        sizes_mm = session.exec(select(EntryRow.value_mm)).all()
    assert {*sizes_mm} == {float(typed.replace(",", "."))}


def test_a_dial_step_and_a_temperature_may_have_a_decimal_comma_too(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    headers = {"accept-language": "de", "hx-request": "true"}
    address = f"/pieces/{job.piece_id}/readings"
    first = {"form": "log", "feature_id": str(job.feature_id), "value": "27,500", "unit": "mm"}
    second = {**first, "value": "26,250", "dial_step": "1,260", "temperature_value": "21,5"}
    for sent in (first, second):
        sent["entry_key"] = new_key()
        assert shop.client.post(address, data=sent, headers=headers).status_code == 200
    kept = shop.get(f"/api/pieces/{job.piece_id}/history")["features"][0]["entries"]
    assert [entry.get("dial_step") for entry in kept] == [None, "1,260"]
