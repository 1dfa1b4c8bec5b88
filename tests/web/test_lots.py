"""The lot: pieces side by side, drift, the dial for the next piece, capability, first and last."""

from __future__ import annotations

import random
import statistics
from html import unescape

import pytest
from scipy import stats

from server.pages.lot_drawing import Run, RunPoint, draw_run
from tests.web.workshop import Job, Json, Workshop, new_key

COLD = {"temperature": {"value": 20, "unit": "C"}}


def turn(shop: Workshop, job: Job, size: str, closed_as: str = "good", piece: int = 0) -> int:
    """One more piece of the job's part, measured once and finished."""
    piece_id = piece or shop.piece(job.part_id)
    body = job.body(size, confirm=True, **COLD) | {"entry_key": new_key()}
    shop.post(f"/api/pieces/{piece_id}/readings", body, 201)
    if closed_as:
        finish = {"as": closed_as, "initials": "RT", "reason": "as it is"}
        shop.post(f"/api/pieces/{piece_id}/finish", finish, 200)
    return piece_id


def lot(shop: Workshop, job: Job) -> Json:
    return shop.get(f"/api/parts/{job.part_id}/lot")


def feature(shop: Workshop, job: Job) -> Json:
    found: Json = lot(shop, job)["features"][0]
    return found


def drifting(shop: Workshop, count: int, per_piece: float = 0.004) -> tuple[Job, list[float]]:
    job = shop.job("24.90/25.10", "mm")
    pick = random.Random(7)
    sizes = [round(24.95 + per_piece * n + pick.uniform(-0.002, 0.002), 3) for n in range(count)]
    for n, size in enumerate(sizes):
        turn(shop, job, f"{size:.3f}", piece=job.piece_id if n == 0 else 0)
    return job, sizes


def page(shop: Workshop, job: Job) -> str:
    answer = shop.client.get(f"/parts/{job.part_id}/lot")
    assert answer.status_code == 200
    return unescape(answer.text)


def test_the_pieces_stand_side_by_side(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    turn(shop, job, "24.990", piece=job.piece_id)
    turn(shop, job, "25.200", closed_as="concession")
    turn(shop, job, "24.850", closed_as="scrap")
    turn(shop, job, "25.300", closed_as="")

    found = lot(shop, job)

    assert [piece["state"] for piece in found["pieces"]] == ["good", "concession", "scrap", "open"]
    sizes = found["features"][0]["sizes"]
    assert [each["size"] for each in sizes] == pytest.approx([24.99, 25.2, 24.85, 25.3], abs=1e-4)
    assert [each["verdict"] for each in sizes] == [
        "in_limits",
        "stock_left",
        "past_limit",
        "stock_left",
    ]
    text = page(shop, job)
    assert "4 pieces, 3 of them finished, 1 scrapped" in text
    for size in ("24.990", "25.200", "24.850", "25.300"):
        assert f"<b>{size}</b>" in text


def test_a_worn_tool_shows_as_drift_and_the_dial_follows_it(shop: Workshop) -> None:
    job, sizes = drifting(shop, 8)

    found = feature(shop, job)

    expected = stats.theilslopes(sizes, range(1, 9), 0.95)
    assert found["drift"]["per_piece"] == pytest.approx(expected.slope, abs=2e-6)
    assert found["drift"]["low"] == pytest.approx(expected.low_slope, abs=2e-6)
    assert found["drift"]["high"] == pytest.approx(expected.high_slope, abs=2e-6)
    assert found["drift"]["is_sure"]
    assert "as a tool that wears leaves it" in found["words"]["drift"]
    line = expected.intercept + 9 * expected.slope
    centring = found["centring"]
    assert centring["follows_drift"]
    assert centring["expected"] == pytest.approx(line, abs=2e-5)
    # The dial counts diameter in 0.02 mm; the aim is 25.000: less comes off, rounded to metal on.
    assert centring["stock"] == pytest.approx(line - 25.0, abs=2e-5)
    dial = float(centring["dial"])
    assert dial == pytest.approx(0.02 * ((line - 25.0) // 0.02), abs=1e-9)
    assert dial <= centring["stock"]


def test_a_whole_line_is_not_taken_off_to_mend_a_small_part_of_one(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    for n, size in enumerate(("24.998", "24.999", "24.997")):
        turn(shop, job, size, piece=job.piece_id if n == 0 else 0)

    found = feature(shop, job)

    # 0.002 mm under the aim; a line of the dial is 0.02 mm.
    assert found["centring"]["stock"] == pytest.approx(-0.002, abs=1e-6)
    assert float(found["centring"]["dial"]) == 0
    assert "leave the setting as it is" in found["words"]["centring"]


def test_the_setting_stands_where_the_pieces_are_centred(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    for n, size in enumerate(("25.001", "24.999", "25.003", "25.000", "25.002", "24.998")):
        turn(shop, job, size, piece=job.piece_id if n == 0 else 0)

    found = feature(shop, job)

    assert not found["drift"]["is_sure"]
    assert not found["centring"]["follows_drift"]
    assert found["centring"]["expected"] == pytest.approx(25.0005, abs=1e-5)
    assert float(found["centring"]["dial"]) == 0
    assert "leave the setting as it is" in found["words"]["centring"]
    assert found["words"]["drift"].startswith("No sure drift")


def test_the_compound_dial_is_told_in_its_own_count(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm", {"angle_deg": 60.0}, slide="compound")
    turn(shop, job, "25.050", piece=job.piece_id)

    centring = feature(shop, job)["centring"]

    # 0.05 mm on diameter by a compound at 60 degrees that counts travel: 0.05 / (2 cos 60).
    assert centring["slide"] == "compound"
    assert centring["stock"] == pytest.approx(0.05, abs=2e-5)
    assert float(centring["dial"]) == pytest.approx(0.04, abs=1e-9)


def test_a_new_tool_starts_the_drift_anew(shop: Workshop) -> None:
    job, _ = drifting(shop, 6)
    piece = shop.piece(job.part_id)
    body = {"event": "tool_changed", "feature_id": job.feature_id, "entry_key": new_key()}
    shop.post(f"/api/pieces/{piece}/events", body, 201)
    turn(shop, job, "25.000", piece=piece)

    found = feature(shop, job)

    assert found["since_piece"] == 7
    assert found["drift"] is None
    assert found["centring"]["expected"] == pytest.approx(25.0, abs=1e-4)
    assert "since piece 7, after the tool was changed" in found["words"]["drift"]


def test_capability_waits_for_enough_pieces_and_says_how_many(shop: Workshop) -> None:
    job, sizes = drifting(shop, 24, per_piece=0.0003)
    found = feature(shop, job)
    assert found["capability"] is None
    assert "from 25 finished pieces on; this lot has 24" in found["words"]["capability"]
    assert lot(shop, job)["least_pieces"] == 25

    turn(shop, job, "24.960")

    figures = feature(shop, job)["capability"]
    sizes = [*sizes, 24.96]
    s, mean = statistics.stdev(sizes), statistics.fmean(sizes)
    assert figures["count"] == 25
    assert figures["cp"] == pytest.approx(0.2 / (6 * s), rel=1e-3)
    assert figures["cpk"] == pytest.approx(min(25.1 - mean, mean - 24.9) / (3 * s), rel=1e-3)
    assert figures["cp_interval"][0] < figures["cp"] < figures["cp_interval"][1]
    assert f"Cp {figures['cp']:.2f}" in page(shop, job)


def test_first_and_last_piece_are_checked(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    turn(shop, job, "25.010", piece=job.piece_id)
    found = feature(shop, job)
    assert "in the middle half of the limits: the setting stands" in found["first"]
    assert found["last"] == ""

    turn(shop, job, "25.070")
    found = feature(shop, job)
    assert "0.060 mm larger than the first" in found["last"]

    other = shop.job("24.90/25.10", "mm")
    turn(shop, other, "25.080", piece=other.piece_id)
    turn(shop, other, "25.080")
    found = feature(shop, other)
    assert "outside the middle half" in found["first"]
    assert "no different from the first" in found["last"]


def test_a_bore_drifts_the_other_way(shop: Workshop) -> None:
    job = shop.job("40 H11", "mm", kind="bore")
    for n in range(7):
        size = 40.1 - 0.006 * n
        turn(shop, job, f"{size:.3f}", piece=job.piece_id if n == 0 else 0)
    found = feature(shop, job)
    assert found["drift"]["per_piece"] == pytest.approx(-0.006, abs=1e-6)
    assert "as a tool that wears leaves it" in found["words"]["drift"]
    # 40.058 is what the eighth should come to; the aim is 40.080: that much more must come out.
    assert found["centring"]["stock"] == pytest.approx(40.08 - 40.058, abs=1e-4)


def test_an_empty_lot_has_a_page_and_an_unknown_part_none(shop: Workshop) -> None:
    part_id = shop.part("mm")
    assert "No piece yet" in shop.client.get(f"/parts/{part_id}/lot").text
    shop.get("/api/parts/999/lot", 404)
    assert shop.client.get("/parts/999/lot").status_code == 404


def test_the_part_leads_to_its_lot(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    assert f'href="/parts/{job.part_id}/lot"' in shop.client.get(f"/parts/{job.part_id}").text


SIZES = (24.96, 24.99, 25.05, 25.12)


def run(**more: object) -> Run:
    points = tuple(
        RunPoint(number=str(n), size_mm=size, doubt_mm=0.003) for n, size in enumerate(SIZES, 1)
    )
    given = {"low_mm": 24.9, "high_mm": 25.1, "aim_mm": 25.0, "unit": "mm", "places": 3}
    return Run(**(given | {"points": points} | more))  # type: ignore[arg-type]


def test_the_run_is_drawn_to_a_linear_scale() -> None:
    drawing = draw_run(run(next_mm=25.0, line=(0, 24.96, 3, 25.12)))
    heights = [mark.y for mark in drawing.marks]
    assert heights == sorted(heights, reverse=True), "larger sizes above"
    low = drawing.band_top + drawing.band_height
    per_mm = drawing.band_height / 0.2
    for mark, size in zip(drawing.marks, SIZES, strict=True):
        assert mark.y == pytest.approx(low - (size - 24.9) * per_mm, abs=0.3)
    assert drawing.next_y == drawing.aim
    assert drawing.next_x > drawing.marks[-1].x
    assert drawing.line == (
        drawing.marks[0].x,
        drawing.marks[0].y,
        drawing.marks[3].x,
        drawing.marks[3].y,
    )


def test_a_piece_in_work_does_not_squash_the_band() -> None:
    points = (
        RunPoint(number="1", size_mm=25.0, doubt_mm=0.003),
        RunPoint(number="2", size_mm=31.0, doubt_mm=0.003, is_open=True),
    )
    drawing = draw_run(run(points=points))
    assert drawing.band_height > 100
    assert drawing.marks[1].y < drawing.band_top


@pytest.mark.parametrize("count", [1, 30, 500])
def test_a_run_of_any_length_stays_in_its_frame(count: int) -> None:
    points = tuple(
        RunPoint(number=str(n), size_mm=25 + 0.001 * (n % 7), doubt_mm=0.01) for n in range(count)
    )
    drawing = draw_run(
        Run(low_mm=24.9, high_mm=25.1, aim_mm=25.0, unit="mm", places=3, points=points)
    )
    assert all(drawing.left <= mark.x <= drawing.right for mark in drawing.marks)
    assert all(0 <= mark.top <= mark.bottom <= drawing.foot for mark in drawing.marks)
    assert sum(bool(mark.number) for mark in drawing.marks) <= 25
