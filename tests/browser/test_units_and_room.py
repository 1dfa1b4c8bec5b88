"""What a telephone shows with a caution up, a history on paper and on a telephone, two units."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Bench, Server, pages_of
from tests.browser.pictures import take
from tests.browser.stepped_pin import stepped_pin
from tests.browser.test_lathe_screen import SMALL, TAP
from tests.web.workshop import new_key

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)

PHONE = {"width": 390, "height": 844}
LATHE = {
    "name": "Inch lathe",
    "unit": "in",
    "cross_slide": {"counts": "diameter", "graduation": "0.001"},
    "compound": {"graduation": "0.001", "angle_deg": 29.5},
}
LEAST_PRINT_PX = 7 / 72 * 96  # 7 points
SIZES_IN_PRINT = """() => [...document.querySelectorAll('.record *')]
  .filter(e => !e.closest('svg') && e.offsetParent
    && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
  .map(e => parseFloat(getComputedStyle(e).fontSize))"""


def a_piece(server: Server, features: int, readings: int) -> tuple[int, list[int]]:
    """(piece, features): millimetre sizes on an inch lathe, each cut as often as said."""
    part_id, numbers = stepped_pin(server, LATHE, features)
    piece = server.post(f"/api/parts/{part_id}/pieces", {})["id"]
    for number in numbers:
        for place in range(readings):
            reading: dict[str, Any] = {
                "feature_id": number,
                "value": f"{26.0 - 0.125 * place:.3f}",
                "unit": "mm",
                "entry_key": new_key(),
                "temperature": {"value": 20, "unit": "C"},
                "operator": "RT",
                "note": "as turned" if place else "blank",
                "confirm": True,
            }
            if place:
                reading |= {"dial_step": "0.005", "dial_step_unit": "in"}
            server.post(f"/api/pieces/{piece}/readings", reading)
    return piece, numbers


def test_the_keypad_stays_on_a_telephone_while_a_caution_stands(page: Page, bench: Bench) -> None:
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(bench.lathe_url)
    page.keyboard.type("0.6480")
    page.keyboard.press("Enter")
    expect(page.locator(".headline-number")).to_be_visible()
    caution = page.locator(".told .caution:visible").first
    pad = page.locator(".pad").bounding_box()
    assert pad is not None
    assert pad["y"] + pad["height"] <= PHONE["height"]
    assert page.evaluate(SMALL, TAP) == []
    expect(page.locator(".tabs")).not_to_be_in_viewport()  # it stands in their place
    assert caution.evaluate("e => e.scrollHeight <= e.clientHeight"), "none of its words cut off"
    while page.locator("[data-dismiss]:visible").count():
        page.locator("[data-dismiss]:visible").click()
    expect(page.locator(".tabs")).to_be_in_viewport()
    assert page.locator(".pad").bounding_box() == pad


@pytest.mark.parametrize(("features", "readings", "sheets"), [(4, 7, 1), (8, 6, 2)])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_history_prints_in_seven_points_and_numbers_its_sheets(
    server: Server,
    page: Page,
    tmp_path: Path,
    features: int,
    readings: int,
    sheets: int,
    paper: str,
) -> None:
    piece, _ = a_piece(server, features, readings)
    page.goto(f"{server.url}/pieces/{piece}/history")
    page.emulate_media(media="print")
    printed = page.evaluate(SIZES_IN_PRINT)
    assert len(printed) > 100
    assert min(printed) >= LEAST_PRINT_PX - 0.01
    pdf = tmp_path / "history.pdf"
    page.pdf(path=pdf, format=paper)
    assert pages_of(pdf) == sheets
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True).stdout
    assert text.count("as turned") == features * (readings - 1), "nothing is cut off"
    numbers = re.findall(r"\b(\d) ?/ ?2$", text, re.MULTILINE)
    assert numbers == (["1", "2"] if sheets == 2 else [])


def test_a_history_needs_no_sideways_scroll_on_a_telephone(server: Server, page: Page) -> None:
    piece, _ = a_piece(server, 1, 4)
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(f"{server.url}/pieces/{piece}/history")
    assert page.locator(".scroll").evaluate("e => e.scrollWidth <= e.clientWidth")
    last = page.locator(".log-table tbody tr").last
    for words in ("25.625", "0.005 in", "0.125", "as turned"):
        cell = last.locator("td").filter(has_text=words).first
        box = cell.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= PHONE["width"]


def test_pictures_find_fault_with_an_unexpected_answer_only(
    server: Server, browser: Browser, tmp_path: Path
) -> None:
    paths = {"parts": "/", "error": "/parts/99999"}
    for expected, faults in (({"error": 404}, []), ({}, ["error: answered 404, not 200"])):
        found = take(browser, server.url, paths, tmp_path, ["phone"], ["light"], False, expected)
        assert found == faults


def test_a_step_is_cut_as_advised_on_a_dial_of_another_unit(server: Server, page: Page) -> None:
    piece, (feature,) = a_piece(server, 1, 1)
    page.goto(f"{server.url}/pieces/{piece}/lathe?feature={feature}")
    step = page.locator(".headline .figure").inner_text()
    expect(page.locator("[data-part=advised]")).to_contain_text(f"{step} in")
    page.locator("[data-part=advised]").click()
    page.locator("#log-temperature_value").fill("20")
    landing = float(page.locator(".landing-words b").first.inner_text())
    page.locator("#log-value").fill(f"{landing:.3f}")
    page.locator(".send").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
    logged = server.get(f"/api/pieces/{piece}/history")["features"][0]["entries"][-1]
    assert (logged["dial_step"], logged["dial_step_unit"], logged["unit"]) == (step, "in", "mm")
    expect(page.locator(".entry-reading").first).to_contain_text(f"dialled {step} in")
