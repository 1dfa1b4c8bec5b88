"""A part of as many equal steps as wanted, made through the JSON."""

from __future__ import annotations

from typing import Any

from tests.browser.conftest import Server

MICROMETER = {
    "name": "0-25 micrometer",
    "kind": "micrometer",
    "unit": "mm",
    "resolution": "0.001",
    "max_error": "0.002",
}


def stepped_pin(server: Server, lathe: dict[str, Any], features: int) -> tuple[int, list[int]]:
    """(part, its features); a lathe and a micrometer of their own."""
    lathe_id = server.post("/api/lathes", lathe)["id"]
    micrometer = server.post("/api/instruments", MICROMETER)["id"]
    part = {"name": "Stepped pin", "material": "carbon steel", "unit": "mm"}
    part_id = server.post("/api/parts", part)["id"]
    numbers = []
    for place in range(features):
        feature: dict[str, Any] = {
            "label": f"Step {place + 1}",
            "designation": "24.90/25.10",
            "method": "direct",
            "slide": "cross_slide",
            "lathe_id": lathe_id,
            "instrument_id": micrometer,
        }
        numbers.append(server.post(f"/api/parts/{part_id}/features", feature)["id"])
    return part_id, numbers
