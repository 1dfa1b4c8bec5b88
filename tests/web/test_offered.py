"""What a screen offers: nothing that would be refused, and a word when the disk is nearly full."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from server.sharing.roles import Role, role_needed
from tests.conftest import Clock
from tests.web.lan import Guest, pair
from tests.web.workshop import Workshop

FORM = re.compile(r"<form[^>]*method=\"post\"[^>]*>")
ACTION = re.compile(r"action=\"([^\"]*)\"")


def screens(host: TestClient, clock: Clock) -> list[str]:
    """Every screen, of a part with one finished piece and one in work."""
    shop = Workshop(host, clock)
    job = shop.thread()
    job.read("0.6480")
    done = shop.piece(job.part_id)
    host.post(f"/api/pieces/{done}/finish", json={"as": "scrap", "reason": "dropped"})
    return [
        "/",
        "/targets?designation=25+h6",
        f"/parts/{job.part_id}",
        f"/parts/{job.part_id}/lot",
        f"/parts/{job.part_id}/record",
        f"/pieces/{job.piece_id}/lathe",
        f"/pieces/{job.piece_id}/history",
        f"/pieces/{job.piece_id}/finish",
        f"/pieces/{job.piece_id}/record",
        f"/pieces/{done}/history",
        "/crib",
        "/shop",
        "/help",
    ]


@pytest.mark.parametrize("role", [Role.LOOK, Role.LOG, Role.MANAGE])
def test_no_form_and_no_link_of_a_screen_would_be_refused(
    host: TestClient, guest: Guest, clock: Clock, role: Role
) -> None:
    tablet = guest()
    pair(host, tablet, role.word)
    offered = 0
    for path in screens(host, clock):
        page = tablet.get(path)
        assert page.status_code == 200, path
        for form in FORM.findall(page.text):
            action = ACTION.search(form)
            assert action is not None
            assert role >= role_needed("POST", action[1]), f"{path} offers {action[1]}"
            offered += action[1] != "/language"  # that is for everybody
        for link in re.findall(r"<a[^>]* href=\"(/[^\"#?]*)", page.text):
            assert role >= role_needed("GET", link), f"{path} leads to {link}"
    assert (offered > 0) == (role > Role.LOOK)


def test_whoever_may_manage_is_offered_every_form(host: TestClient, clock: Clock) -> None:
    paths = screens(host, clock)
    found = {
        action[1]
        for path in paths
        for form in FORM.findall(host.get(path).text)
        if (action := ACTION.search(form))
    }
    assert {
        "/parts",
        "/targets",
        "/crib/checks",
        "/crib/instruments",
        "/crib/wires",
        "/crib/lathes",
        "/shop",
        "/shop/operators",
        "/shop/materials",
    } <= found


def test_a_disk_nearly_full_is_said_on_every_screen_and_by_health(
    client: TestClient, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = screens(client, clock)
    assert "warning" not in client.get("/api/health").json()
    usage = type("Usage", (), {"free": 150 * 1024 * 1024})
    monkeypatch.setattr("server.records.space.shutil.disk_usage", lambda _folder: usage)
    if "PostgreSQL" in client.get("/api/health").json()["database"]:
        pytest.skip("the disk of a database server is not this one's to watch")
    health = client.get("/api/health").json()
    assert health["status"] == "ok"
    assert "150 MB" in health["warning"]
    for path in paths:
        assert "Only 150 MB are free" in client.get(path).text, path
