"""Letting devices in: codes, tokens, and what a device that is not paired gets to see."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from server.app import create_app
from server.records.database import Database
from server.records.tables import AuditRow, DeviceRow, PairingRow
from server.settings import Settings
from server.sharing.caller import COOKIE
from server.sharing.pace import MOST_BY_ALL, MOST_BY_ONE, WINDOW_S, Pace
from tests.conftest import Clock
from tests.web.lan import LAN, OTHER, Guest, make_code, pair, wrong
from tests.web.workshop import code_of

# ---- what is let in without a pairing


def test_a_device_that_is_not_paired_gets_the_pairing_page_for_every_page(guest: Guest) -> None:
    device = guest()
    for path in ("/", "/targets", "/shop", "/crib", "/pieces/1/lathe", "/nowhere"):
        response = device.get(path)
        assert response.status_code == 401, path
        assert "Pair this device" in response.text
        assert "anyone on this network who listens" in response.text
        assert "script-src 'self'" in response.headers["content-security-policy"]


def test_a_device_that_is_not_paired_gets_401_from_the_api(guest: Guest) -> None:
    device = guest()
    for answer in (
        device.get("/api/health"),
        device.get("/api/openapi.json"),
        device.post("/api/targets", json={"designation": "M10", "unit": "mm"}),
        device.post("/api/parts", content=b"not json"),
        device.get("/api/nothing"),
        device.get("/pieces/1/history", headers={"accept": "application/json"}),
    ):
        assert answer.status_code == 401
        assert code_of(answer.json()) == "not_paired"


def test_a_form_from_a_device_that_is_not_paired_stores_nothing(
    guest: Guest, database: Database
) -> None:
    answer = guest().post("/shop/operators", data={"initials": "KJ"})
    assert answer.status_code == 401
    with database.reading() as session:
        assert session.exec(select(AuditRow)).all() == []


def test_the_pairing_page_brings_its_own_style(guest: Guest) -> None:
    device = guest()
    page = device.get("/pair")
    assert page.status_code == 200
    assert page.headers["cache-control"] == "no-store"
    for path in re.findall(r'(?:href|src)="(/static/[^"]+)"', page.text):
        assert device.get(path).status_code == 200, path


def test_the_machine_itself_needs_no_pairing_and_manages(host: TestClient) -> None:
    assert host.get("/").status_code == 200
    assert host.post("/api/parts", json={"name": "A", "material": "carbon steel", "unit": "mm"})
    assert host.get("/shop/sharing").status_code == 200
    assert "needs no pairing" in host.get("/pair").text


@pytest.mark.parametrize("address", ["127.0.0.1", "127.0.5.9", "::1", "::ffff:127.0.0.1"])
def test_every_loopback_address_is_this_machine(guest: Guest, address: str) -> None:
    assert guest(address, "http://127.0.0.1:8020").get("/api/health").status_code == 200
    assert guest(address, "http://localhost:8020").get("/api/health").status_code == 200


@pytest.mark.parametrize(
    "address", ["192.168.7.31", "10.0.0.1", "::ffff:10.0.0.1", "fe80::1", "testclient", ""]
)
def test_nothing_but_the_address_it_comes_from_makes_a_client_this_machine(
    guest: Guest, address: str
) -> None:
    device = guest(address, "http://127.0.0.1:8020")
    for headers in (
        {},
        {"X-Forwarded-For": "127.0.0.1"},
        {"Forwarded": "for=127.0.0.1"},
        {"X-Real-IP": "127.0.0.1"},
    ):
        assert device.get("/api/health", headers=headers).status_code == 401


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "X-Real-IP"])
def test_what_a_proxy_on_this_machine_passes_on_is_not_this_machine(
    host: TestClient, header: str
) -> None:
    assert host.get("/api/health", headers={header: "203.0.113.9"}).status_code == 401


def test_loopback_under_a_shared_name_has_to_pair(guest: Guest) -> None:
    assert guest("127.0.0.1", "http://lathe.shop").get("/api/health").status_code == 401


# ---- pairing


def test_a_code_lets_one_device_in_with_its_role(host: TestClient, guest: Guest) -> None:
    tablet = guest()
    device = pair(host, tablet, "look", "Bench tablet", initials="KJ")
    assert (device["name"], device["role"], device["initials"]) == ("Bench tablet", "look", "KJ")
    assert tablet.get("/").status_code == 200
    assert tablet.get("/api/health").status_code == 200
    assert guest(OTHER).get("/api/health").status_code == 401


def test_pairing_by_the_form_sets_the_cookie_and_leads_to_the_parts(
    host: TestClient, guest: Guest
) -> None:
    tablet = guest()
    code = make_code(host)
    typed = {"code": f" {code[:3]} {code[3:]} ", "name": "Tablet", "initials": ""}
    answer = tablet.post("/pair", data=typed, headers={"Origin": LAN})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    for word in ("httponly", "samesite=strict", "path=/", "max-age=34560000"):
        assert word in cookie
    assert "secure" not in cookie
    assert tablet.get("/").status_code == 200


def test_under_https_the_cookie_is_secure(host: TestClient, guest: Guest) -> None:
    answer = guest(base_url="https://192.168.7.20:8020").post(
        "/api/pair", json={"code": make_code(host), "name": "Tablet"}
    )
    assert "secure" in answer.headers["set-cookie"].lower()
    page = guest(base_url="https://192.168.7.20:8020").get("/pair")
    assert "plain http" not in page.text


def test_a_code_works_once(host: TestClient, guest: Guest) -> None:
    code = make_code(host)
    first, second = guest(), guest(OTHER)
    body = {"code": code, "name": "Tablet"}
    assert first.post("/api/pair", json=body).status_code == 201
    answer = second.post("/api/pair", json=body)
    assert answer.status_code == 403
    assert code_of(answer.json()) == "wrong_code"
    assert second.get("/api/health").status_code == 401


def test_a_code_is_over_after_five_minutes(host: TestClient, guest: Guest, clock: Clock) -> None:
    code = make_code(host)
    clock.forward(5)
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert code_of(answer.json()) == "wrong_code"


def test_a_code_from_before_the_clock_went_back_is_over(
    host: TestClient, guest: Guest, clock: Clock
) -> None:
    code = make_code(host)
    clock.forward(-60)
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert code_of(answer.json()) == "wrong_code"


def test_a_new_code_ends_the_one_before(host: TestClient, guest: Guest) -> None:
    first = make_code(host)
    make_code(host)
    answer = guest().post("/api/pair", json={"code": first, "name": "Tablet"})
    assert answer.status_code in (201, 403)
    assert code_of(answer.json()) == "wrong_code"


def test_five_wrong_tries_end_a_code_whoever_makes_them(host: TestClient, guest: Guest) -> None:
    code = make_code(host)
    for step in range(1, 6):
        stranger = guest(f"192.168.7.{40 + step}")
        answer = stranger.post("/api/pair", json={"code": wrong(code, step), "name": "Tablet"})
        assert code_of(answer.json()) == "wrong_code"
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert code_of(answer.json()) == "wrong_code"


def test_the_fifth_try_may_still_be_the_right_one(host: TestClient, guest: Guest) -> None:
    code = make_code(host)
    tablet = guest()
    for step in range(1, 5):
        tablet.post("/api/pair", json={"code": wrong(code, step), "name": "Tablet"})
    assert tablet.post("/api/pair", json={"code": code, "name": "T"}).status_code == 201


def test_guessing_is_stopped_by_address_though_new_codes_are_made(
    host: TestClient, guest: Guest
) -> None:
    stranger = guest()
    for _ in range(MOST_BY_ONE):
        code = make_code(host)
        stranger.post("/api/pair", json={"code": wrong(code), "name": "Tablet"})
    code = make_code(host)
    answer = stranger.post("/api/pair", json={"code": code, "name": "Tablet"})
    assert answer.status_code == 429
    assert code_of(answer.json()) == "too_often"
    assert 0 < int(answer.headers["retry-after"]) <= WINDOW_S + 1
    page = stranger.post("/pair", data={"code": code, "name": "Tablet"})
    assert page.status_code == 429
    assert "retry-after" in page.headers
    assert "Too many wrong codes" in page.text
    assert guest(OTHER).post("/api/pair", json={"code": code, "name": "T"}).status_code == 201


def test_guessing_from_many_addresses_is_stopped_for_all(host: TestClient, guest: Guest) -> None:
    for number in range(MOST_BY_ALL):
        code = make_code(host)
        stranger = guest(f"10.0.1.{number + 1}")
        answer = stranger.post("/api/pair", json={"code": wrong(code), "name": "Tablet"})
        assert answer.status_code == 403
    answer = guest("10.0.2.1").post("/api/pair", json={"code": make_code(host), "name": "T"})
    assert answer.status_code == 429


def test_the_pace_lets_an_address_try_again_when_its_time_is_over() -> None:
    now = [1000.0]
    pace = Pace(lambda: now[0])
    for _ in range(MOST_BY_ONE):
        assert pace.wait_s("a") == 0
        pace.note_wrong("a")
    assert pace.wait_s("a") == WINDOW_S + 1
    assert pace.wait_s("b") == 0
    now[0] += WINDOW_S - 1
    assert pace.wait_s("a") == 2
    now[0] += 1
    assert pace.wait_s("a") == 0


@pytest.mark.parametrize("code", ["", "12345", "1234567", "abcdef", "١٢٣٤٥٦", "12 34", "-123456-7"])
def test_what_is_no_code_is_said_to_be_none(host: TestClient, guest: Guest, code: str) -> None:
    make_code(host)
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert answer.status_code == 422
    assert code_of(answer.json()) == "not_a_code"


@pytest.mark.parametrize("name", ["", "   ", "x" * 41, "a\x00b"])
def test_a_device_needs_a_name_that_can_be_shown(host: TestClient, guest: Guest, name: str) -> None:
    code = make_code(host)
    device = guest()
    answer = device.post("/api/pair", json={"code": code, "name": name})
    assert answer.status_code == 422
    assert answer.json()["error"]["field"] == "name"
    assert device.post("/api/pair", json={"code": code, "name": "ok"}).status_code == 201


def test_the_refused_form_keeps_what_was_typed_but_not_the_code(
    host: TestClient, guest: Guest
) -> None:
    code = wrong(make_code(host))
    page = guest().post("/pair", data={"form": "pair", "code": code, "name": "Long bed"})
    assert page.status_code == 403
    assert 'value="Long bed"' in page.text
    assert code not in page.text


def test_a_code_is_made_and_shown_on_this_machine_only(host: TestClient, guest: Guest) -> None:
    page = host.post("/shop/sharing/codes", data={"role": "look"})
    shown = re.search(r'class="code"[^>]*>([0-9]{3}) ([0-9]{3})<', page.text)
    assert shown is not None
    assert page.headers["cache-control"] == "no-store"
    again = host.get("/shop/sharing")
    assert f"{shown[1]} {shown[2]}" not in again.text
    manager = guest()
    pair(host, manager, "manage")
    assert manager.post("/shop/sharing/codes", data={"role": "manage"}).status_code == 403
    answer = manager.post("/api/sharing/codes", json={"role": "manage"})
    assert answer.status_code == 403
    assert code_of(answer.json()) == "role"
    assert "Make a code" not in manager.get("/shop/sharing").text


def test_neither_code_nor_token_is_stored_as_it_is(
    host: TestClient, guest: Guest, database: Database
) -> None:
    code = make_code(host)
    tablet = guest()
    tablet.post("/api/pair", json={"code": code, "name": "Tablet"})
    token = tablet.cookies[COOKIE]
    assert len(token) >= 22  # 128 bits in base 64
    with database.reading() as session:
        rows = [*session.exec(select(PairingRow)), *session.exec(select(DeviceRow))]
        rows += session.exec(select(AuditRow))
    assert len(rows) >= 3
    for row in rows:
        text = str({name: v for name, v in row.model_dump().items() if not name.endswith("_at")})
        assert token not in text
        assert f"'{code}'" not in text


def test_an_ended_device_is_out_at_once(host: TestClient, guest: Guest) -> None:
    tablet = guest()
    device = pair(host, tablet)
    assert tablet.get("/api/health").status_code == 200
    answer = host.post(f"/shop/sharing/devices/{device['id']}/end", follow_redirects=False)
    assert answer.status_code == 303
    assert tablet.get("/api/health").status_code == 401
    assert "Pair this device" in tablet.get("/").text
    listed = host.get("/api/sharing").json()["devices"]
    assert [each["ended_at"] is not None for each in listed] == [True]
    assert host.post(f"/api/sharing/devices/{device['id']}/end").status_code == 200
    assert host.post("/api/sharing/devices/999/end").status_code == 404


def test_a_device_can_end_its_own_pairing(host: TestClient, guest: Guest) -> None:
    tablet = guest()
    pair(host, tablet)
    assert "Paired as Tablet" in tablet.get("/pair").text
    token = tablet.cookies[COOKIE]
    assert tablet.post("/pair/end").status_code == 303
    tablet.cookies.set(COOKIE, token, domain="192.168.7.20")
    assert tablet.get("/api/health").status_code == 401


def test_a_pairing_ends_after_four_hundred_days(
    host: TestClient, guest: Guest, clock: Clock
) -> None:
    tablet = guest()
    pair(host, tablet)
    token = tablet.cookies[COOKIE]
    header = {"Cookie": f"{COOKIE}={token}"}
    clock.forward(399 * 24 * 60)
    assert guest().get("/api/health", headers=header).status_code == 200
    clock.forward(2 * 24 * 60)
    assert guest().get("/api/health", headers=header).status_code == 401


@pytest.mark.parametrize("token", ["x", "", "a" * 22, "a" * 5000, "\"'; drop", "é"])
def test_a_made_up_token_is_nobody(guest: Guest, token: str) -> None:
    header = {"Cookie": f"{COOKIE}={token}".encode()}
    assert guest().get("/api/health", headers=header).status_code == 401


def test_when_a_device_was_last_seen_is_kept_roughly(
    host: TestClient, guest: Guest, clock: Clock
) -> None:
    tablet = guest()
    pair(host, tablet)

    def seen_at() -> str:
        seen: str = host.get("/api/sharing").json()["devices"][0]["seen_at"]
        return seen

    first = seen_at()
    clock.forward(5)
    tablet.get("/")
    assert seen_at() == first
    clock.forward(10)
    tablet.get("/")
    assert seen_at() > first


def test_no_code_is_made_while_sharing_is_off(settings: Settings, database: Database) -> None:
    alone = replace(settings, share=False, host="127.0.0.1", allowed_hosts=())
    with TestClient(
        create_app(alone, database), base_url="http://127.0.0.1:8020", client=("127.0.0.1", 1)
    ) as host:
        answer = host.post("/api/sharing/codes", json={})
        assert (answer.status_code, code_of(answer.json())) == (409, "not_shared")
        assert host.post("/shop/sharing/codes", data={"role": "log"}).status_code == 409
        page = host.get("/shop/sharing")
        assert "Sharing is off" in page.text
        assert "192.168.7.20" not in page.text
        assert host.get("/api/sharing").json()["urls"] == []
