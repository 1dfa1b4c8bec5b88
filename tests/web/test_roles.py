"""What each role may do, and the trail of who did what."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import select
from starlette.routing import Mount

from server.records.database import Database
from server.records.tables import AuditRow
from server.sharing import roles
from server.sharing.roles import Role, role_needed
from tests.conftest import Clock
from tests.web.lan import Guest, pair
from tests.web.workshop import Workshop, code_of, new_key

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


def test_every_route_has_a_role_and_every_role_a_route(shared_app: FastAPI) -> None:
    found = routes_of(shared_app)
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
def test_a_role_may_do_what_it_says_and_no_more(host: TestClient, guest: Guest, role: str) -> None:
    tablet = guest()
    pair(host, tablet, role)
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


@pytest.mark.parametrize("role", ["look", "log"])
def test_a_device_that_may_only_look_sees_no_form_to_log(
    host: TestClient, guest: Guest, clock: Clock, role: str
) -> None:
    job = Workshop(host, clock).job("25 h6", "mm")
    assert job.shop.post(f"/api/pieces/{job.piece_id}/readings", job.body("25.400"), 201)
    tablet = guest()
    pair(host, tablet, role)
    text = tablet.get(f"/pieces/{job.piece_id}/lathe").text
    assert "25.400" in text
    assert ("paired to look" in text) is (role == "look")
    assert ("<form" in text) is (role == "log")


# ---- who did what


def audit(database: Database) -> list[tuple[str, str, str]]:
    with database.reading() as session:
        rows = session.exec(select(AuditRow).order_by(AuditRow.id)).all()  # type: ignore[arg-type]
    return [(row.who, row.device, row.action) for row in rows]


def test_every_change_says_who_did_it_and_from_where(
    host: TestClient, guest: Guest, database: Database, clock: Clock
) -> None:
    shop = Workshop(host, clock)
    job = shop.job("25 h6", "mm")
    tablet = guest()
    pair(host, tablet, "log", "Bench tablet", initials="KJ")
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
    page = host.get("/shop/audit")
    assert page.status_code == 200
    assert page.text.index("piece finished as scrap") < page.text.index("lathe added")
    assert "Bench tablet" in page.text


def test_a_reading_carries_the_initials_of_its_device_unless_others_are_typed(
    host: TestClient, guest: Guest, clock: Clock
) -> None:
    job = Workshop(host, clock).job("25 h6", "mm")
    tablet = guest()
    pair(host, tablet, "log", "Bench tablet", initials="KJ")
    path = f"/api/pieces/{job.piece_id}/readings"
    body = job.body("25.400")
    answer = tablet.post(path, json=body)
    assert answer.json()["reading"]["operator"] == "KJ"
    assert tablet.post(path, json=body).status_code == 200  # the same key is the same reading
    other = tablet.post(path, json=job.body("25.401", operator="ML"))
    assert other.json()["reading"]["operator"] == "ML"
    assert job.read("25.400")["reading"]["operator"] == ""


def test_the_lathe_screen_offers_the_initials_of_its_device(
    host: TestClient, guest: Guest, clock: Clock
) -> None:
    job = Workshop(host, clock).job("25 h6", "mm")
    host.post("/shop/operators", data={"initials": "ML"})
    tablet = guest()
    pair(host, tablet, "log", "Bench tablet", initials="KJ")
    page = tablet.get(f"/pieces/{job.piece_id}/lathe").text
    assert "<option>ML</option>" in page
    assert "<option selected>KJ</option>" in page
    assert "KJ" not in host.get(f"/pieces/{job.piece_id}/lathe").text


def test_the_audit_trail_pages_back_and_has_no_way_to_be_changed(
    host: TestClient, shared_app: FastAPI
) -> None:
    for number in range(120):
        answer = host.post("/shop/operators", data={"initials": f"O{number}"})
        assert answer.status_code == 200
    page = host.get("/shop/audit")
    older = re.search(r'href="(/shop/audit\?before=[0-9]+)"', page.text)
    assert older is not None
    assert ">O119<" in page.text
    assert ">O5<" not in page.text
    back = host.get(older[1]).text
    assert ">O5<" in back
    assert "Older" not in back
    writes = {path for method, path in routes_of(shared_app) if method != "GET"}
    assert not [path for path in writes if "audit" in path]
    assert host.post("/shop/audit").status_code == 405
    assert host.delete("/shop/audit").status_code == 405
