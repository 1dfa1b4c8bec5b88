"""The target card on paper: a quarter of a Letter sheet, whatever stands on it."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Server

pytestmark = pytest.mark.xdist_group("browser")

QUARTER_MM = (107.95, 139.7)  # half of 8.5 in by half of 11 in
LINE_MM = 0.5  # the dashed line to cut along
LONGEST = (
    ("5/8-18 UNF-2A", "in"),
    ("2-4.5 UNC-2B", "in"),
    ("Tr100x12-8e", "in"),
    ("Tr40x14(P7)-7e LH", "mm"),
    ("3/4-6 ACME-2G", "in"),
)
MM = """() => {
  const box = document.querySelector('.card').getBoundingClientRect();
  return [box.width / 96 * 25.4, box.height / 96 * 25.4];
}"""


@pytest.mark.parametrize(("designation", "unit"), LONGEST)
def test_a_card_with_everything_on_it_fits_a_quarter_sheet(
    server: Server, page: Page, designation: str, unit: str
) -> None:
    more = {"rpm": "200", "tool_width": "3" if unit == "mm" else "0.1", "plating": "0.0002"}
    page.emulate_media(media="print")
    asked = urlencode({"designation": designation, "unit": unit} | more)
    page.goto(f"{server.url}/targets?{asked}")
    assert page.locator(".schedule tr").count() > 10
    width_mm, height_mm = page.evaluate(MM)
    assert width_mm <= QUARTER_MM[0]
    assert height_mm <= QUARTER_MM[1] + LINE_MM
