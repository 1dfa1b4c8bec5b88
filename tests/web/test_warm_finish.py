"""A warm reading that could flip the verdict is never finished on, from wherever it is tried."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from tests.web.workshop import BASE_URL, LOOPBACK, Job, Json, Workshop, code_of

COLD: Json = {"temperature": {"value": 20, "unit": "C"}}
WARM: Json = {"temperature": {"touch": "warm"}}
WAYS = ("good", "scrap", "concession")
SIGNED = {"initials": "AB", "reason": "it will do"}
SEAT = "25 h6"  # 24.987 to 25.000
WAIT_WORDS = "the reading was taken warm; wait and measure again"


def finish_form(html: str) -> tuple[str, dict[str, str]]:
    """Where the page's finish form posts to, and what it holds as it stands."""
    forms = re.findall(r"<form[^>]*action=\"([^\"]*/finish)\"[^>]*>(.*?)</form>", html, re.S)
    assert len(forms) == 1
    action, inside = forms[0]
    hidden = re.findall(r"<input type=\"hidden\" name=\"(\w+)\" value=\"([^\"]*)\"", inside)
    return action, dict(hidden)


def state_of(job: Job) -> str:
    state: str = job.history()["piece"]["state"]
    return state


def page_refused(job: Job, action: str, fields: dict[str, str], **headers: str) -> None:
    for how in WAYS:
        answer = job.shop.client.post(action, data=fields | SIGNED | {"as": how}, headers=headers)
        assert answer.status_code == 409, answer.text
        assert WAIT_WORDS in answer.text
        assert state_of(job) == "open"


def warm_job(shop: Workshop, reading: str = "25.002") -> Job:
    job = shop.job(SEAT, "mm")
    answer = job.read(reading, **WARM)
    assert answer["warm"]["state"] == "wait"
    return job


@pytest.mark.parametrize("rule", ["u_guard", "1645", "plain"])
@pytest.mark.parametrize("how", WAYS)
def test_the_api_refuses(shop: Workshop, how: str, rule: str) -> None:
    shop.post("/api/shop", {"decision_rule": rule}, 200)
    job = warm_job(shop, "25.006" if rule == "plain" else "25.002")
    assert code_of(job.finish(expect=409, **SIGNED, **{"as": how})) == "wait"
    assert state_of(job) == "open"


@pytest.mark.parametrize("page", ["lathe", "history", "finish"])
def test_the_screen_refuses(shop: Workshop, page: str) -> None:
    job = warm_job(shop)
    html = shop.client.get(f"/pieces/{job.piece_id}/{page}").text
    assert WAIT_WORDS in html
    action, hidden = finish_form(html)
    page_refused(job, action, hidden)
    page_refused(job, action, hidden, **{"HX-Request": "true"})


@pytest.mark.parametrize("page", ["lathe", "history", "finish"])
def test_a_page_from_before_the_warm_reading_refuses(shop: Workshop, page: str) -> None:
    """One tablet shows In limits; at another the part is spring-passed and read warm."""
    job = shop.job(SEAT, "mm")
    assert job.read("24.993", **COLD)["verdict"] == "in_limits"
    html = shop.client.get(f"/pieces/{job.piece_id}/{page}").text
    assert WAIT_WORDS not in html
    action, hidden = finish_form(html)

    assert job.read("25.002", "0", confirm=True, **WARM)["warm"]["state"] == "wait"
    page_refused(job, action, hidden)

    shop.clock.forward(60)
    assert job.read("24.993", **COLD)["verdict"] == "in_limits"
    answer = shop.client.post(action, data=hidden | {"as": "good"}, follow_redirects=False)
    assert answer.status_code == 303
    assert state_of(job) == "good"


def test_a_page_from_before_a_warm_repeat_refuses(shop: Workshop) -> None:
    """A repeat at the same state, without a cut, counts as much."""
    job = shop.job(SEAT, "mm")
    job.read("24.993", **COLD)
    action, hidden = finish_form(shop.client.get(f"/pieces/{job.piece_id}/lathe").text)
    assert job.read("25.002", confirm=True, **WARM)["warm"]["state"] == "wait"
    page_refused(job, action, hidden)
    assert code_of(job.finish(expect=409, **SIGNED)) == "wait"


def test_striking_the_cold_reading_leaves_the_warm_one_to_refuse(shop: Workshop) -> None:
    job = warm_job(shop)
    shop.clock.forward(60)
    cold = job.read("24.993", **COLD)["reading"]["id"]
    action, hidden = finish_form(shop.client.get(f"/pieces/{job.piece_id}/lathe").text)
    job.strike(cold, "misread")
    page_refused(job, action, hidden)


def test_one_warm_station_keeps_the_piece_open(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm")
    job.read("24.993", station="10", **COLD)
    job.read("25.002", station="40", confirm=True, **WARM)
    job.read("24.993", station="70", **COLD)
    assert code_of(job.finish(expect=409, **SIGNED)) == "wait"


def test_waiting_without_measuring_again_does_not_finish_it(shop: Workshop) -> None:
    job = warm_job(shop)
    shop.clock.forward(600)
    assert code_of(job.finish(expect=409, **SIGNED)) == "wait"


def test_the_countdown_goes_on_where_it_was_when_the_page_is_opened_again(
    shop: Workshop,
) -> None:
    job = warm_job(shop)
    address = f"/pieces/{job.piece_id}/lathe"

    def left() -> int:
        found = re.search(r'data-wait="(\d+)"', shop.client.get(address).text)
        assert found
        return int(found[1])

    whole = left()
    shop.clock.forward(2)
    assert left() == pytest.approx(whole - 120, abs=1)
    shop.clock.forward(6000)
    assert left() == 1  # "Measure" at once


def test_another_client_of_the_same_server_is_refused_as_well(shop: Workshop) -> None:
    job = warm_job(shop)
    with TestClient(shop.client.app, base_url=BASE_URL, client=LOOPBACK) as other:
        answer = other.post(f"/api/pieces/{job.piece_id}/finish", json=SIGNED)
    assert answer.status_code == 409
    assert code_of(answer.json()) == "wait"
