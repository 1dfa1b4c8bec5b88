"""Which language a screen is in, and how a device chooses it."""

from __future__ import annotations

import html
import json
import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi import Request
from fastapi.testclient import TestClient
from sqlmodel import select

from server.pages import view_render
from server.pages.language import LANGUAGES, language_of
from server.records.database import Database
from server.records.tables import EntryRow
from tests.web.lan import Guest, pair
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


def test_whoever_is_paired_chooses_and_nobody_else(host: TestClient, guest: Guest) -> None:
    tablet = guest()
    german = {"language": "de"}
    assert tablet.post("/language", data=german).status_code == 401
    pair(host, tablet, "look")
    assert tablet.post("/language", data=german).status_code == 303
    assert "set-cookie" not in tablet.post("/language", data={"language": "xx"}).headers


def test_the_choice_is_sent_back_over_https_only_where_it_was_made_so(client: TestClient) -> None:
    for scheme, is_secure in (("http", False), ("https", True)):
        answer = client.post(
            f"{scheme}://127.0.0.1:8020/language",
            data={"language": "de"},
            headers={"origin": f"{scheme}://127.0.0.1:8020"},
            follow_redirects=False,
        )
        assert ("secure" in answer.headers["set-cookie"].lower()) == is_secure


def test_without_its_file_a_language_is_shown_in_english(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(LANGUAGES, "xx", "a language without a file")
    page = client.get("/", headers={"accept-language": "xx"})
    assert page.status_code == 200
    assert '<html lang="xx"' in page.text
    assert "Finished pieces" in page.text


def test_the_scripts_get_their_words_whole(shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    job = shop.job("25 h6", "mm")
    words = '{"a \\"b\\" <c>": "d & \'e\'"}'
    monkeypatch.setattr(view_render, "script_words", lambda _: words)
    page = shop.client.get(f"/pieces/{job.piece_id}/lathe", headers={"accept-language": "de"}).text
    found = re.search(r'<body data-words="([^"]*)">', page)
    assert found is not None
    assert json.loads(html.unescape(found[1])) == {'a "b" <c>': "d & 'e'"}


def test_many_who_ask_at_once_get_one_set_of_templates() -> None:
    templates = view_render.Templates()
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: templates["de"], range(16)))
    assert {id(each) for each in found} == {id(templates["de"])}
    assert found[0].globals["language"] == "de"
