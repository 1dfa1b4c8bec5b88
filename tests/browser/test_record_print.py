"""The inspection record on paper: one page for each piece."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Server, pages_of
from tests.browser.stepped_pin import stepped_pin

LATHE = {
    "name": "Bench lathe",
    "unit": "mm",
    "cross_slide": {"counts": "diameter", "graduation": "0.02"},
    "compound": {"graduation": "0.02", "angle_deg": 29.5},
}
SIZES = ("25.001", "24.998", "25.004")


def finished_lot(server: Server, features: int) -> tuple[int, int]:
    """(part, first piece): three pieces of a part with that many features, all finished."""
    part_id, numbers = stepped_pin(server, LATHE, features)
    pieces = [server.post(f"/api/parts/{part_id}/pieces", {})["id"] for _ in SIZES]
    for piece_id, size in zip(pieces, SIZES, strict=True):
        for number in numbers:
            reading = {
                "feature_id": number,
                "value": size,
                "unit": "mm",
                "entry_key": str(uuid.uuid4()),
                "temperature": {"value": 20, "unit": "C"},
                "operator": "RT",
            }
            server.post(f"/api/pieces/{piece_id}/readings", reading)
        server.post(f"/api/pieces/{piece_id}/finish", {"initials": "RT"})
    return part_id, pieces[0]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_lot_prints_one_page_a_piece(
    server: Server, page: Page, tmp_path: Path, paper: str
) -> None:
    part_id, piece_id = finished_lot(server, features=8)
    for path, wanted in ((f"/parts/{part_id}/record", 3), (f"/pieces/{piece_id}/record", 1)):
        page.goto(server.url + path)
        pdf = tmp_path / "record.pdf"
        page.pdf(path=pdf, format=paper)
        assert pages_of(pdf) == wanted
