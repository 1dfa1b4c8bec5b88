"""A warm reading on the screen: the wait counted down, then asked again, and never finished on."""

from __future__ import annotations

import re
import uuid

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Server

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)


def warm_seat(server: Server) -> tuple[str, int, int]:
    """25 h6 read warm in the hand at 25.002: the verdict hangs on the temperature."""
    dial = {"counts": "diameter", "graduation": "0.02"}
    lathe = {"name": "Bench", "unit": "mm", "cross_slide": dial, "compound": {"graduation": "0.02"}}
    micrometer = {"name": "Micrometer", "kind": "micrometer", "unit": "mm"}
    micrometer |= {"resolution": "0.001", "max_error": "0.002"}
    feature = {
        "label": "Seat",
        "designation": "25 h6",
        "method": "direct",
        "slide": "cross_slide",
        "lathe_id": server.post("/api/lathes", lathe)["id"],
        "instrument_id": server.post("/api/instruments", micrometer)["id"],
    }
    part = {"name": "Shaft", "material": "carbon steel", "unit": "mm"}
    part_id = server.post("/api/parts", part)["id"]
    feature_id = server.post(f"/api/parts/{part_id}/features", feature)["id"]
    piece_id = server.post(f"/api/parts/{part_id}/pieces", {})["id"]
    read(server, piece_id, feature_id, "25.002", {"touch": "warm"})
    return f"{server.url}/pieces/{piece_id}/lathe", piece_id, feature_id


def read(
    server: Server, piece_id: int, feature_id: int, value: str, temperature: dict[str, object]
) -> None:
    body = {"feature_id": feature_id, "value": value, "unit": "mm", "temperature": temperature}
    server.post(f"/api/pieces/{piece_id}/readings", body | {"entry_key": str(uuid.uuid4())})


def test_the_wait_is_counted_down_and_the_verdict_asked_again(page: Page, server: Server) -> None:
    address, piece_id, feature_id = warm_seat(server)
    page.clock.install()
    page.goto(address)
    figure = page.locator(".headline .figure")
    expect(figure).to_have_text(re.compile(r"^\d+:\d\d$"))
    minutes = int((figure.text_content() or "0").split(":")[0])
    page.clock.run_for(1000 * 60 * (minutes + 1))
    expect(figure).to_have_text("Measure")
    expect(page.locator("[data-live]").first).to_contain_text("measure again")

    read(server, piece_id, feature_id, "24.993", {"value": 20, "unit": "C"})
    page.reload()
    expect(page.locator(".headline[data-wait]")).to_have_count(0)


def test_a_screen_from_before_the_warm_reading_does_not_finish_the_piece(
    page: Page, server: Server
) -> None:
    address, piece_id, feature_id = warm_seat(server)
    read(server, piece_id, feature_id, "24.993", {"value": 20, "unit": "C"})
    page.goto(address)
    form = page.locator('form[action$="/finish"]').first
    read(server, piece_id, feature_id, "25.002", {"touch": "warm"})
    form.evaluate("form => form.requestSubmit()")
    expect(page.get_by_text("the reading was taken warm").first).to_be_attached()
    assert server.get(f"/api/pieces/{piece_id}/history")["piece"]["state"] == "open"
