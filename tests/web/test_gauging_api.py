"""Features over balls, over the crib's own wires, and over wires certified to zero force."""

from __future__ import annotations

import math
from typing import Any

import pytest

from server.metrology.flattening import measuring_force_n, over_wires
from tests.web.workshop import SHAFT_THREAD, Workshop, code_of

NUT = "1/2-13 UNC-2B"  # ASME B1.1: pitch diameter 0.4500 to 0.4565, minor 0.417 to 0.434
INCH = 25.4


def across_balls(pitch_diameter: float, ball: float, pitch: float = 1 / 13) -> float:
    """Two balls half a pitch apart along the axis, by plane geometry."""
    centres = pitch_diameter + pitch / 2 / math.tan(math.radians(30)) - 2 * ball
    return math.hypot(centres, pitch / 2) + ball


def test_an_internal_thread_is_read_over_balls(shop: Workshop) -> None:
    job = shop.job(NUT, method="over_balls", wire="0.046", slide="compound", rule="handbook")

    answer = job.read(f"{across_balls(0.4490, 0.046):.4f}")

    assert answer["size"]["value"] == pytest.approx(0.4490, abs=6e-5)  # a reading of four places
    assert answer["verdict"] == "stock_left"
    assert answer["stock_left"]["diameter"] == pytest.approx(0.45325 - 0.4490, abs=1e-4)


def test_balls_in_a_narrow_groove_are_told_from_seated_ones(shop: Workshop) -> None:
    # Bored to 0.425; balls 0.046 seat once their centres are 0.425 - 0.046 sin 30 apart.
    job = shop.job(NUT, method="over_balls", wire="0.046", slide="compound", crest_diameter="0.425")
    early = math.hypot(0.425 - 0.046 * 0.8, 1 / 26) + 0.046  # H = 0.8 q: on the corners

    answer = job.read(f"{early:.4f}")

    b = 0.023 * 0.6  # half opening of the groove at the bore
    size = 0.425 + (2 * b - 1 / 26) / math.tan(math.radians(30))
    assert answer["size"]["value"] == pytest.approx(size, abs=4e-4)
    assert answer["verdict"] == "stock_left"


@pytest.mark.parametrize(("ball", "code"), [("", "wire_missing"), ("0.090", "wire_unusable")])
def test_an_internal_thread_needs_a_ball_that_fits(shop: Workshop, ball: str, code: str) -> None:
    part, lathe, instrument = shop.part(), shop.lathe(), shop.instrument()

    body = shop.feature(part, NUT, lathe, instrument, expect=422, method="over_balls", wire=ball)

    assert code_of(body) == code
    assert body["error"]["field"] == "wire"
    if not ball:  # best ball P / (2 cos 30) = 0.0444 in for 13 threads an inch
        assert "0.0444" in body["error"]["message"]


def wire_set(shop: Workshop, nominal: str, **more: object) -> int:
    body = {"name": f"{nominal} wires", "unit": "in", "nominal": nominal, **more}
    return int(shop.post("/api/wire-sets", body, 201)["id"])


def test_without_a_wire_the_crib_gives_its_nearest_usable_set(shop: Workshop) -> None:
    part, lathe, instrument = shop.part(), shop.lathe(), shop.instrument()
    wire_set(shop, "0.080")  # too large for 18 threads an inch
    wire_set(shop, "0.040")
    wire_set(shop, "0.032", measured=["0.0321", "0.0319", "0.0321"])

    found = shop.feature(part, SHAFT_THREAD, lathe, instrument, method="over_wires")

    # Half the single wire and a quarter of each of the pair.
    assert found["over_wires"]["wire"] == pytest.approx(0.0321 / 2 + (0.0319 + 0.0321) / 4)


def test_flattening_is_applied_under_the_exact_rule_to_wires_certified_to_zero_force(
    shop: Workshop,
) -> None:
    part, lathe, instrument = shop.part(), shop.lathe(), shop.instrument()
    free = wire_set(shop, "0.032", sized="zero_force")
    loaded = wire_set(shop, "0.032")
    squeeze = over_wires(
        0.58515 * INCH, 0.032 * INCH, math.radians(30), measuring_force_n(INCH / 18)
    )

    def over(set_id: int, rule: str) -> tuple[float, bool]:
        found = shop.feature(
            part,
            SHAFT_THREAD,
            lathe,
            instrument,
            method="over_wires",
            wire_set_id=set_id,
            rule=rule,
        )
        assert found["flattening"]["total"] == pytest.approx(squeeze.total_mm / INCH, rel=0.02)
        return found["over_wires"]["low"], found["flattening"]["applied"]

    low_exact, applied = over(loaded, "exact")
    assert applied is False
    low_handbook, applied = over(free, "handbook")
    assert applied is False
    low_free, applied = over(free, "exact")
    assert applied is True
    assert low_exact - low_free == pytest.approx(squeeze.total_mm / INCH, rel=0.02)
    assert low_handbook < low_exact


def test_a_reading_of_the_low_limit_over_free_wires_is_the_low_limit(shop: Workshop) -> None:
    free = wire_set(shop, "0.032", sized="zero_force")
    job = shop.thread(wire="", wire_set_id=free, rule="exact", instrument={"resolution": "0.00001"})
    targets = shop.targets(SHAFT_THREAD, wire="0.032", rule="exact")
    free_low = targets["over_wires"]["low"] - targets["flattening"]["total"]

    answer = job.read(f"{free_low:.5f}", confirm=True)

    assert answer["size"]["value"] == pytest.approx(0.5828, abs=1.2e-5)


def test_where_the_wires_seat_is_told_when_the_tip_is_known(shop: Workshop) -> None:
    part, lathe, instrument = shop.part(), shop.lathe(), shop.instrument()
    common: dict[str, Any] = {
        "method": "over_wires",
        "wire": "0.032",
        "slide": "compound",
        "rule": "handbook",
    }

    without = shop.feature(part, SHAFT_THREAD, lathe, instrument, **common)
    found = shop.feature(
        part,
        SHAFT_THREAD,
        lathe,
        instrument,
        **common,
        tool={"flat": "0.007"},
        crest_diameter="0.6200",
    )

    assert without["seats_at"] is None
    seats = found["seats_at"]
    a = math.radians(30)
    # W = f + 2 h tan a reaches w cos a; there M = D0 + w (1 + sin a).
    assert seats["infeed"] == pytest.approx((0.032 * math.cos(a) - 0.007) / 2 / math.tan(a))
    assert seats["reading"] == pytest.approx(0.6200 + 0.032 * 1.5, abs=1e-6)
    assert seats["crest_is_assumed"] is False
