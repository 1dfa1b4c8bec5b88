"""Wires on the corners: the crest that was assumed is part of the doubt."""

from __future__ import annotations

import math

import pytest

from tests.web.workshop import Job, Json, Workshop

COLD: Json = {"temperature": {"value": 68, "unit": "F"}}
PITCH, WIRE = 1 / 18, 0.032  # inch
HIGHEST, LOWEST = 0.6236, 0.6149  # major diameter of 5/8-18 UNF-2A, ASME B1.1 table


def over_wires(crest: float, pitch_diameter: float) -> float:
    """Plane geometry of a wire on two sharp corners, derived here: the groove is half a pitch wide
    at the pitch diameter and 2 b at the crest; M = D + w + 2 sqrt(w^2 / 4 - b^2)."""
    b = PITCH / 4 + (crest - pitch_diameter) / 2 * math.tan(math.radians(30))
    assert b < WIRE / 2 * math.cos(math.radians(30)), "not on the corners"
    return crest + WIRE + 2 * math.sqrt(WIRE**2 / 4 - b * b)


def from_reading(reading: float, crest: float) -> float:
    """The same the other way round."""
    stands = (reading - crest - WIRE) / 2
    b = math.sqrt(max(0.0, WIRE**2 / 4 - stands**2))  # 0: no groove yet
    return crest - (2 * b - PITCH / 2) / math.tan(math.radians(30))


def crest_line(job: Job) -> list[str]:
    path = f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working"
    return [line["name"] for line in job.shop.get(path)["budget"] if "crest" in line["name"]]


@pytest.mark.parametrize("crest", [LOWEST, 0.6171, 0.6192, 0.6214, HIGHEST])
@pytest.mark.parametrize("pitch_diameter", [0.626, 0.632, 0.638])
def test_the_doubt_holds_whatever_the_crest_is_within_its_limits(
    shop: Workshop, crest: float, pitch_diameter: float
) -> None:
    job = shop.thread(wire=str(WIRE))
    reading = round(over_wires(crest, pitch_diameter), 4)
    size = job.read(f"{reading:.4f}", **COLD)["size"]
    assert size["is_rough"]
    assert abs(size["value"] - pitch_diameter) <= size["doubt"]
    farthest = max(abs(from_reading(reading, end) - size["value"]) for end in (LOWEST, HIGHEST))
    assert size["doubt"] < 1.3 * farthest + 0.0015  # a rectangle's 2 / sqrt 3, and the reading's


def test_a_measured_crest_narrows_it_and_the_flanks_know_nothing_of_it(shop: Workshop) -> None:
    assumed = shop.thread(wire=str(WIRE))
    measured = shop.thread(wire=str(WIRE), crest_diameter="0.6192")
    reading = f"{over_wires(0.6192, 0.632):.4f}"
    wide = assumed.read(reading, **COLD)["size"]
    narrow = measured.read(reading, **COLD)["size"]
    assert narrow["value"] == pytest.approx(wide["value"], abs=1e-4)
    assert narrow["doubt"] < wide["doubt"] / 2
    assert crest_line(assumed) == crest_line(measured) == ["crest diameter"]

    seated = assumed.read("0.6600", "0.03", confirm=True, **COLD)["size"]
    assert not seated["is_rough"]
    assert crest_line(assumed) == []
