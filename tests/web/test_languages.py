"""Which language a screen is in, and how a device chooses it."""

from __future__ import annotations

import pytest
from fastapi import Request
from fastapi.testclient import TestClient

from server.pages.language import LANGUAGES, language_of


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
