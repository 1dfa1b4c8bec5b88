"""Letting devices in: codes, tokens, roles, and what a device that is not paired gets to see."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import select
from starlette.routing import Mount

from server.app import create_app
from server.records.database import Database
from server.records.tables import AuditRow, DeviceRow, PairingRow
from server.settings import Settings
from server.sharing import roles
from server.sharing.caller import COOKIE
from server.sharing.pace import MOST_BY_ALL, MOST_BY_ONE, WINDOW_S, Pace
from server.sharing.roles import Role, role_needed
from tests.conftest import Clock
from tests.web.workshop import Json, Workshop, code_of, new_key

LAN = "http://192.168.7.20:8020"
TABLET, OTHER = "192.168.7.31", "192.168.7.32"
Guest = Callable[..., TestClient]


@pytest.fixture
def settings(settings: Settings) -> Settings:
    return replace(settings, share=True, host="0.0.0.0", allowed_hosts=("lathe.shop",))


@pytest.fixture
def app(settings: Settings, database: Database) -> FastAPI:
    return create_app(settings, database)


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """The machine that Midlimit runs on."""
    with TestClient(app, base_url="http://127.0.0.1:8020", client=("127.0.0.1", 50000)) as opened:
        yield opened


@pytest.fixture
def guest(app: FastAPI, client: TestClient) -> Iterator[Guest]:
    """Makes clients that come from another machine of the shop network."""
    assert client
    with ExitStack() as opened:

        def come(address: str = TABLET, base_url: str = LAN) -> TestClient:
            found = TestClient(
                app, base_url=base_url, client=(address, 40000), follow_redirects=False
            )
            opened.callback(found.close)
            return found

        yield come


def make_code(client: TestClient, role: str = "log") -> str:
    response = client.post("/api/sharing/codes", json={"role": role})
    assert response.status_code == 201, response.text
    code: str = response.json()["code"]
    assert re.fullmatch(r"[0-9]{6}", code)
    return code


def pair(
    client: TestClient, device: TestClient, role: str = "log", name: str = "Tablet", **more: str
) -> Json:
    response = device.post("/api/pair", json={"code": make_code(client, role), "name": name} | more)
    assert response.status_code == 201, response.text
    answer: Json = response.json()
    return answer


def wrong(code: str, step: int = 1) -> str:
    return f"{(int(code) + step) % 1_000_000:06d}"


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


def test_the_machine_itself_needs_no_pairing_and_manages(client: TestClient) -> None:
    assert client.get("/").status_code == 200
    assert client.post("/api/parts", json={"name": "A", "material": "carbon steel", "unit": "mm"})
    assert client.get("/shop/sharing").status_code == 200
    assert "needs no pairing" in client.get("/pair").text


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
    client: TestClient, header: str
) -> None:
    assert client.get("/api/health", headers={header: "203.0.113.9"}).status_code == 401


def test_loopback_under_a_shared_name_has_to_pair(guest: Guest) -> None:
    assert guest("127.0.0.1", "http://lathe.shop").get("/api/health").status_code == 401


# ---- pairing


def test_a_code_lets_one_device_in_with_its_role(client: TestClient, guest: Guest) -> None:
    tablet = guest()
    device = pair(client, tablet, "look", "Bench tablet", initials="KJ")
    assert (device["name"], device["role"], device["initials"]) == ("Bench tablet", "look", "KJ")
    assert tablet.get("/").status_code == 200
    assert tablet.get("/api/health").status_code == 200
    assert guest(OTHER).get("/api/health").status_code == 401


def test_pairing_by_the_form_sets_the_cookie_and_leads_to_the_parts(
    client: TestClient, guest: Guest
) -> None:
    tablet = guest()
    code = make_code(client)
    typed = {"code": f" {code[:3]} {code[3:]} ", "name": "Tablet", "initials": ""}
    answer = tablet.post("/pair", data=typed, headers={"Origin": LAN})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    for word in ("httponly", "samesite=strict", "path=/", "max-age=34560000"):
        assert word in cookie
    assert "secure" not in cookie
    assert tablet.get("/").status_code == 200


def test_under_https_the_cookie_is_secure(client: TestClient, guest: Guest) -> None:
    answer = guest(base_url="https://192.168.7.20:8020").post(
        "/api/pair", json={"code": make_code(client), "name": "Tablet"}
    )
    assert "secure" in answer.headers["set-cookie"].lower()
    page = guest(base_url="https://192.168.7.20:8020").get("/pair")
    assert "plain http" not in page.text


def test_a_code_works_once(client: TestClient, guest: Guest) -> None:
    code = make_code(client)
    first, second = guest(), guest(OTHER)
    body = {"code": code, "name": "Tablet"}
    assert first.post("/api/pair", json=body).status_code == 201
    answer = second.post("/api/pair", json=body)
    assert answer.status_code == 403
    assert code_of(answer.json()) == "wrong_code"
    assert second.get("/api/health").status_code == 401


def test_a_code_is_over_after_five_minutes(client: TestClient, guest: Guest, clock: Clock) -> None:
    code = make_code(client)
    clock.forward(5)
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert code_of(answer.json()) == "wrong_code"


def test_a_code_from_before_the_clock_went_back_is_over(
    client: TestClient, guest: Guest, clock: Clock
) -> None:
    code = make_code(client)
    clock.forward(-60)
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert code_of(answer.json()) == "wrong_code"


def test_a_new_code_ends_the_one_before(client: TestClient, guest: Guest) -> None:
    first = make_code(client)
    make_code(client)
    answer = guest().post("/api/pair", json={"code": first, "name": "Tablet"})
    assert answer.status_code in (201, 403)
    assert code_of(answer.json()) == "wrong_code"


def test_five_wrong_tries_end_a_code_whoever_makes_them(client: TestClient, guest: Guest) -> None:
    code = make_code(client)
    for step in range(1, 6):
        stranger = guest(f"192.168.7.{40 + step}")
        answer = stranger.post("/api/pair", json={"code": wrong(code, step), "name": "Tablet"})
        assert code_of(answer.json()) == "wrong_code"
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert code_of(answer.json()) == "wrong_code"


def test_the_fifth_try_may_still_be_the_right_one(client: TestClient, guest: Guest) -> None:
    code = make_code(client)
    tablet = guest()
    for step in range(1, 5):
        tablet.post("/api/pair", json={"code": wrong(code, step), "name": "Tablet"})
    assert tablet.post("/api/pair", json={"code": code, "name": "T"}).status_code == 201


def test_guessing_is_stopped_by_address_though_new_codes_are_made(
    client: TestClient, guest: Guest
) -> None:
    stranger = guest()
    for _ in range(MOST_BY_ONE):
        code = make_code(client)
        stranger.post("/api/pair", json={"code": wrong(code), "name": "Tablet"})
    code = make_code(client)
    answer = stranger.post("/api/pair", json={"code": code, "name": "Tablet"})
    assert answer.status_code == 429
    assert code_of(answer.json()) == "too_often"
    assert 0 < int(answer.headers["retry-after"]) <= WINDOW_S + 1
    page = stranger.post("/pair", data={"code": code, "name": "Tablet"})
    assert page.status_code == 429
    assert "retry-after" in page.headers
    assert "Too many wrong codes" in page.text
    assert guest(OTHER).post("/api/pair", json={"code": code, "name": "T"}).status_code == 201


def test_guessing_from_many_addresses_is_stopped_for_all(client: TestClient, guest: Guest) -> None:
    for number in range(MOST_BY_ALL):
        code = make_code(client)
        stranger = guest(f"10.0.1.{number + 1}")
        answer = stranger.post("/api/pair", json={"code": wrong(code), "name": "Tablet"})
        assert answer.status_code == 403
    answer = guest("10.0.2.1").post("/api/pair", json={"code": make_code(client), "name": "T"})
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
def test_what_is_no_code_is_said_to_be_none(client: TestClient, guest: Guest, code: str) -> None:
    make_code(client)
    answer = guest().post("/api/pair", json={"code": code, "name": "Tablet"})
    assert answer.status_code == 422
    assert code_of(answer.json()) == "not_a_code"


@pytest.mark.parametrize("name", ["", "   ", "x" * 41, "a\x00b"])
def test_a_device_needs_a_name_that_can_be_shown(
    client: TestClient, guest: Guest, name: str
) -> None:
    code = make_code(client)
    device = guest()
    answer = device.post("/api/pair", json={"code": code, "name": name})
    assert answer.status_code == 422
    assert answer.json()["error"]["field"] == "name"
    assert device.post("/api/pair", json={"code": code, "name": "ok"}).status_code == 201


def test_the_refused_form_keeps_what_was_typed_but_not_the_code(
    client: TestClient, guest: Guest
) -> None:
    code = wrong(make_code(client))
    page = guest().post("/pair", data={"form": "pair", "code": code, "name": "Long bed"})
    assert page.status_code == 403
    assert 'value="Long bed"' in page.text
    assert code not in page.text


def test_a_code_is_made_and_shown_on_this_machine_only(client: TestClient, guest: Guest) -> None:
    page = client.post("/shop/sharing/codes", data={"role": "look"})
    shown = re.search(r'class="code"[^>]*>([0-9]{3}) ([0-9]{3})<', page.text)
    assert shown is not None
    assert page.headers["cache-control"] == "no-store"
    again = client.get("/shop/sharing")
    assert f"{shown[1]} {shown[2]}" not in again.text
    manager = guest()
    pair(client, manager, "manage")
    assert manager.post("/shop/sharing/codes", data={"role": "manage"}).status_code == 403
    answer = manager.post("/api/sharing/codes", json={"role": "manage"})
    assert answer.status_code == 403
    assert code_of(answer.json()) == "role"
    assert "Make a code" not in manager.get("/shop/sharing").text


def test_neither_code_nor_token_is_stored_as_it_is(
    client: TestClient, guest: Guest, database: Database
) -> None:
    code = make_code(client)
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


def test_an_ended_device_is_out_at_once(client: TestClient, guest: Guest) -> None:
    tablet = guest()
    device = pair(client, tablet)
    assert tablet.get("/api/health").status_code == 200
    answer = client.post(f"/shop/sharing/devices/{device['id']}/end", follow_redirects=False)
    assert answer.status_code == 303
    assert tablet.get("/api/health").status_code == 401
    assert "Pair this device" in tablet.get("/").text
    listed = client.get("/api/sharing").json()["devices"]
    assert [each["ended_at"] is not None for each in listed] == [True]
    assert client.post(f"/api/sharing/devices/{device['id']}/end").status_code == 200
    assert client.post("/api/sharing/devices/999/end").status_code == 404


def test_a_device_can_end_its_own_pairing(client: TestClient, guest: Guest) -> None:
    tablet = guest()
    pair(client, tablet)
    assert "Paired as Tablet" in tablet.get("/pair").text
    token = tablet.cookies[COOKIE]
    assert tablet.post("/pair/end").status_code == 303
    tablet.cookies.set(COOKIE, token, domain="192.168.7.20")
    assert tablet.get("/api/health").status_code == 401


def test_a_pairing_ends_after_four_hundred_days(
    client: TestClient, guest: Guest, clock: Clock
) -> None:
    tablet = guest()
    pair(client, tablet)
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
    client: TestClient, guest: Guest, clock: Clock
) -> None:
    tablet = guest()
    pair(client, tablet)

    def seen_at() -> str:
        seen: str = client.get("/api/sharing").json()["devices"][0]["seen_at"]
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
    ) as client:
        answer = client.post("/api/sharing/codes", json={})
        assert (answer.status_code, code_of(answer.json())) == (409, "not_shared")
        assert client.post("/shop/sharing/codes", data={"role": "log"}).status_code == 409
        page = client.get("/shop/sharing")
        assert "Sharing is off" in page.text
        assert "192.168.7.20" not in page.text
        assert client.get("/api/sharing").json()["urls"] == []


# ---- roles


def walked(routes: Sequence[object]) -> Iterator[object]:
    """Every route under its whole address, those of included routers too."""
    for route in routes:
        included = getattr(route, "effective_route_contexts", None)
        if included is None:
            yield route
        else:
            yield from included()


def routes_of(app: FastAPI) -> set[tuple[str, str]]:
    """(method, path) of everything the application answers, as the table writes it."""
    found = set()
    for route in walked(app.routes):
        path = getattr(route, "path", "")
        if isinstance(route, Mount):
            found.add(("GET", f"{path}/{{path}}"))
        for method in getattr(route, "methods", None) or ():
            if method != "HEAD":
                found.add((method, path))
    return found


def test_every_route_has_a_role_and_every_role_a_route(app: FastAPI) -> None:
    found = routes_of(app)
    assert len(found) > 40
    assert found - set(roles.TABLE) == set(), "put these into server/sharing/roles.py"
    assert set(roles.TABLE) - found == set(), "no such routes any more"


def test_what_the_table_does_not_name_asks_for_manage() -> None:
    for method, path in (
        ("GET", "/nowhere"),
        ("PUT", "/"),
        ("DELETE", "/api/parts/1"),
        ("OPTIONS", "/"),
        ("GET", "/static"),
        ("GET", "/pieces/1/lathe/more"),
        ("POST", "/pieces//readings"),
    ):
        assert role_needed(method, path) is Role.MANAGE, (method, path)
    assert role_needed("HEAD", "/pieces/4/lathe") is Role.LOOK
    assert role_needed("GET", "/static/vendor/htmx.min.js") is Role.NOBODY


def filled(path: str) -> str:
    return re.sub(r"\{\w+\}", "999", path)


@pytest.mark.parametrize("role", ["look", "log", "manage"])
def test_a_role_may_do_what_it_says_and_no_more(
    client: TestClient, guest: Guest, role: str
) -> None:
    tablet = guest()
    pair(client, tablet, role)
    mine = Role[role.upper()]
    for (method, path), needed in roles.TABLE.items():
        if path in ("/pair/end", "/pieces/{piece_id}/events-stream"):
            continue
        answer = tablet.request(method, filled(path))
        if needed <= mine:
            assert answer.status_code not in (401, 403), (method, path)
            continue
        assert answer.status_code == 403, (method, path)
        if path.startswith("/api/"):
            assert code_of(answer.json()) == "role"
        else:
            assert "Not with this role" in answer.text


# ---- who did what


def audit(database: Database) -> list[tuple[str, str, str]]:
    with database.reading() as session:
        rows = session.exec(select(AuditRow).order_by(AuditRow.id)).all()  # type: ignore[arg-type]
    return [(row.who, row.device, row.action) for row in rows]


def test_every_change_says_who_did_it_and_from_where(
    client: TestClient, guest: Guest, database: Database, clock: Clock
) -> None:
    shop = Workshop(client, clock)
    job = shop.job("25 h6", "mm")
    tablet = guest()
    pair(client, tablet, "log", "Bench tablet", initials="KJ")
    reading = job.body("25.400")
    assert tablet.post(f"/api/pieces/{job.piece_id}/readings", json=reading).status_code == 201
    step = {"feature_id": job.feature_id, "dial_step": "0.1", "entry_key": new_key()}
    assert tablet.post(f"/api/pieces/{job.piece_id}/passes", json=step).status_code == 201
    event = {"event": "rezeroed", "entry_key": new_key(), "operator": "ML"}
    assert tablet.post(f"/api/pieces/{job.piece_id}/events", json=event).status_code == 201
    scrap = {"as": "scrap", "reason": "dropped", "initials": "ML"}
    assert tablet.post(f"/api/pieces/{job.piece_id}/finish", json=scrap).status_code == 200
    assert audit(database) == [
        ("", "this machine", "lathe added"),
        ("", "this machine", "instrument added"),
        ("", "this machine", "part opened"),
        ("", "this machine", "feature added"),
        ("", "this machine", "piece opened"),
        ("", "this machine", "pairing code made"),
        ("KJ", "an unpaired device", "device paired"),
        ("KJ", "Bench tablet", "reading logged"),
        ("KJ", "Bench tablet", "pass logged"),
        ("ML", "Bench tablet", "event logged"),
        ("ML", "Bench tablet", "piece finished as scrap"),
    ]
    page = client.get("/shop/audit")
    assert page.status_code == 200
    assert page.text.index("piece finished as scrap") < page.text.index("lathe added")
    assert "Bench tablet" in page.text


def test_a_reading_carries_the_initials_of_its_device_unless_others_are_typed(
    client: TestClient, guest: Guest, clock: Clock
) -> None:
    job = Workshop(client, clock).job("25 h6", "mm")
    tablet = guest()
    pair(client, tablet, "log", "Bench tablet", initials="KJ")
    path = f"/api/pieces/{job.piece_id}/readings"
    body = job.body("25.400")
    answer = tablet.post(path, json=body)
    assert answer.json()["reading"]["operator"] == "KJ"
    assert tablet.post(path, json=body).status_code == 200  # the same key is the same reading
    other = tablet.post(path, json=job.body("25.401", operator="ML"))
    assert other.json()["reading"]["operator"] == "ML"
    assert job.read("25.400")["reading"]["operator"] == ""


def test_the_lathe_screen_offers_the_initials_of_its_device(
    client: TestClient, guest: Guest, clock: Clock
) -> None:
    job = Workshop(client, clock).job("25 h6", "mm")
    client.post("/shop/operators", data={"initials": "ML"})
    tablet = guest()
    pair(client, tablet, "log", "Bench tablet", initials="KJ")
    page = tablet.get(f"/pieces/{job.piece_id}/lathe").text
    assert "<option>ML</option>" in page
    assert "<option selected>KJ</option>" in page
    assert "KJ" not in client.get(f"/pieces/{job.piece_id}/lathe").text


def test_the_audit_trail_pages_back_and_has_no_way_to_be_changed(
    client: TestClient, app: FastAPI
) -> None:
    for number in range(120):
        answer = client.post("/shop/operators", data={"initials": f"O{number}"})
        assert answer.status_code == 200
    page = client.get("/shop/audit")
    older = re.search(r'href="(/shop/audit\?before=[0-9]+)"', page.text)
    assert older is not None
    assert ">O119<" in page.text
    assert ">O5<" not in page.text
    back = client.get(older[1]).text
    assert ">O5<" in back
    assert "Older" not in back
    writes = {path for method, path in routes_of(app) if method != "GET"}
    assert not [path for path in writes if "audit" in path]
    assert client.post("/shop/audit").status_code == 405
    assert client.delete("/shop/audit").status_code == 405
