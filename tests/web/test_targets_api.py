"""POST /api/targets: limits, wires and over-wire sizes, in the unit asked for."""

from __future__ import annotations

import math

import pytest

from tests.web.workshop import SHAFT_THREAD, Workshop, code_of

HALF_A_TENTH = 0.00005  # inch tables print four places
HALF_A_MICROMETRE = 0.0005  # metric tables print three


def test_shaft_thread_gives_the_published_limits_and_over_wire_sizes(shop: Workshop) -> None:
    found = shop.targets(SHAFT_THREAD, wire="0.032")

    # ASME B1.1, table of limits of size: 5/8-18 UNF-2A.
    assert found["kind"] == "external_thread"
    assert found["unit"] == "in"
    assert found["allowance"] == pytest.approx(0.0014, abs=HALF_A_TENTH)
    assert found["limits"]["major_diameter"] == {"low": 0.6149, "high": 0.6236}
    assert found["limits"]["pitch_diameter"] == {"low": 0.5828, "high": 0.5875}
    assert found["pitch"] == pytest.approx(1 / 18, abs=1e-8)
    assert found["lead"] == pytest.approx(1 / 18, abs=1e-8)
    assert found["half_angle_deg"] == 30
    assert found["source"].startswith("ASME B1.1")
    # ASME B1.2: three-wire constant for 18 threads an inch and 0.032 in wires.
    over = found["over_wires"]
    assert over["wire"] == 0.032
    assert over["rule"] == "handbook"
    assert over["constant"] == pytest.approx(0.0479, abs=HALF_A_TENTH)
    assert over["low"] == pytest.approx(0.6307, abs=HALF_A_TENTH)
    assert over["high"] == pytest.approx(0.6354, abs=HALF_A_TENTH)
    assert over["aim"] == pytest.approx((over["low"] + over["high"]) / 2, abs=1e-8)


def test_best_wire_is_the_published_one_and_lies_between_the_ends(shop: Workshop) -> None:
    wires = shop.targets(SHAFT_THREAD)["wires"]

    # Best wire 0.57735 P = 0.032075 in at 18 threads an inch (ASME B1.2).
    assert wires["best"] == pytest.approx(0.032075, abs=5e-7)
    assert wires["smallest"] < wires["best"] < wires["largest"]


def test_without_a_wire_there_is_no_over_wire_size(shop: Workshop) -> None:
    assert shop.targets(SHAFT_THREAD)["over_wires"] is None
    assert shop.targets(SHAFT_THREAD, wire="")["over_wires"] is None


def test_exact_rule_moves_the_sizes_by_the_lead_correction_and_keeps_the_constant(
    shop: Workshop,
) -> None:
    handbook = shop.targets(SHAFT_THREAD, wire="0.032", rule="handbook")["over_wires"]
    exact = shop.targets(SHAFT_THREAD, wire="0.032", rule="exact")["over_wires"]

    assert exact["rule"] == "exact"
    assert exact["constant"] == handbook["constant"]
    assert exact["lead_correction"] == handbook["lead_correction"] > 0
    for end in ("low", "high", "aim"):
        moved = exact[end] - handbook[end]
        assert moved == pytest.approx(exact["lead_correction"], abs=1e-6)


def test_a_steep_thread_takes_the_exact_rule_unless_told(shop: Workshop) -> None:
    # 3/4-6 Acme: c is about 0.001 in, far above the 0.00015 in up to which tables leave it out.
    best = shop.targets("3/4-6 ACME-2G")["wires"]["best"]
    found = shop.targets("3/4-6 ACME-2G", wire=f"{best:.5f}")["over_wires"]

    assert found["rule"] == "exact"
    assert found["lead_correction"] > 0.00015


def test_millimetres_and_inches_say_the_same(shop: Workshop) -> None:
    inch = shop.targets(SHAFT_THREAD, "in", wire="0.032")
    metric = shop.targets(SHAFT_THREAD, "mm", wire="0.8128")

    assert metric["unit"] == "mm"
    for name, limits in inch["limits"].items():
        for end, value in limits.items():
            other = metric["limits"][name][end]
            assert (other is None) == (value is None)
            if value is not None:
                assert other == pytest.approx(value * 25.4, abs=1e-6)
    for name in ("wire", "constant", "lead_correction", "low", "high", "aim"):
        assert metric["over_wires"][name] == pytest.approx(
            inch["over_wires"][name] * 25.4, abs=1e-6
        )


@pytest.mark.parametrize(
    ("designation", "kind", "low", "high"),
    [
        ("25 h6", "outside_diameter", 24.987, 25.000),  # ISO 286-2: h6 over 18 to 30: 0/-13 um
        ("40 H7", "bore", 40.000, 40.025),  # ISO 286-2: H7 over 30 to 50: +25/0 um
        ("Ø40 H7", "bore", 40.000, 40.025),
        ("12.70 +0.00/-0.02", "outside_diameter", 12.68, 12.70),
        ("24.98/25.00", "outside_diameter", 24.98, 25.00),
    ],
)
def test_plain_sizes_have_one_size_and_no_wires(
    shop: Workshop, designation: str, kind: str, low: float, high: float
) -> None:
    found = shop.targets(designation, "mm")

    assert found["kind"] == kind
    assert found["limits"] == {"size": {"low": low, "high": high}}
    assert found["wires"] is None
    assert found["over_wires"] is None
    assert found["source"]


def test_metric_thread_has_the_published_pitch_diameter(shop: Workshop) -> None:
    # ISO 965-2: M10 6g pitch diameter 8.994 / 8.862.
    found = shop.targets("M10x1.5-6g", "mm")

    assert found["limits"]["pitch_diameter"]["high"] == pytest.approx(8.994, abs=HALF_A_MICROMETRE)
    assert found["limits"]["pitch_diameter"]["low"] == pytest.approx(8.862, abs=HALF_A_MICROMETRE)


def test_internal_thread_is_measured_over_balls(shop: Workshop) -> None:
    # ASME B1.1: 10-32 UNF-2B pitch diameter 0.1697 to 0.1736, minor 0.156 to 0.164.
    found = shop.targets("#10-32 UNF-2B", wire="0.018")

    assert found["kind"] == "internal_thread"
    assert found["limits"]["pitch_diameter"] == {"low": 0.1697, "high": 0.1736}
    assert found["limits"]["minor_diameter"] == {"low": 0.156, "high": 0.164}
    over = found["over_wires"]
    assert over["measured"] == "over_balls"
    # Plane geometry of two balls half a pitch apart along the axis: R = hypot(C, P/2) + d.
    for end, pitch_diameter in (("low", 0.1697), ("high", 0.1736)):
        centres = pitch_diameter + 1 / 64 / math.tan(math.radians(30)) - 2 * 0.018
        across = math.hypot(centres, 1 / 64) + 0.018
        assert over[end] == pytest.approx(across, abs=2e-6)
    assert shop.targets("#10-32 UNF-2B")["over_wires"] is None


def test_an_unusable_ball_is_refused(shop: Workshop) -> None:
    body = shop.targets("#10-32 UNF-2B", wire="0.030", expect=422)

    assert code_of(body) == "wire_unusable"
    assert body["error"]["message"].startswith("Ball")


def test_flattening_is_shown_and_not_applied_to_wires_of_unknown_certificate(
    shop: Workshop,
) -> None:
    found = shop.targets(SHAFT_THREAD, wire="0.032", rule="exact")

    # Hertz contact, 5/8-18, best wire, 2.5 lb, steel: 3.77 um (computed table).
    assert found["flattening"]["total"] == pytest.approx(0.00377 / 25.4, rel=0.02)
    assert found["flattening"]["force_n"] == pytest.approx(11.12, abs=0.01)  # ASME B1.2: 2.5 lb
    assert found["flattening"]["applied"] is False


@pytest.mark.parametrize(
    ("designation", "kind"),
    [
        ("25 g6", "outside_diameter"),
        ("25 ±0.05", "outside_diameter"),
        ("25 G7", "bore"),
        ("5/8-18 UNF", "external_thread"),
        ("M10", "external_thread"),
        ("M10-6H", "internal_thread"),
        ("5/8-18 UNF-2B", "internal_thread"),
    ],
)
def test_kind_where_nothing_says_it(shop: Workshop, designation: str, kind: str) -> None:
    assert shop.targets(designation, "mm")["kind"] == kind


def test_a_kind_given_decides(shop: Workshop) -> None:
    assert shop.targets("24.98/25.00", "mm", kind="bore")["kind"] == "bore"
    assert shop.targets("24.98/25.00", "mm", kind="length")["kind"] == "length"
    assert shop.targets("24.98/25.00", "mm", kind="groove_diameter")["kind"] == "groove_diameter"


@pytest.mark.parametrize(
    ("designation", "code", "named"),
    [
        ("5/8-18 UNF-4A", "not_in_standard", "2A"),  # no such class
        ("5/8-18 UNX-2A", "not_in_standard", "UNX"),  # no such series
        ("5/8-18 FOO", "not_in_standard", "FOO"),  # no such family
        ("9-18 UNF-2A", "not_in_standard", "UNF"),  # the series stops before it
        ("25 i6", "not_in_standard", "i"),  # ISO 286 has no letter i
        ("25 h99", "not_in_standard", "99"),
        ("5000 h6", "not_in_standard", "500"),
        ("M10x40-6g", "not_in_standard", "M10x1.5"),  # deeper than the part is thick
        ("banana", "designation_unreadable", "banana"),
        ("", "designation_unreadable", "type"),
        ("25.4", "designation_unreadable", "tolerance"),
        ("25.00/25.00", "designation_unreadable", "zero"),
        ("9" * 5000, "designation_unreadable", "long"),
    ],
)
def test_a_designation_that_cannot_be_read_says_which_part(
    shop: Workshop, designation: str, code: str, named: str
) -> None:
    body = shop.targets(designation, expect=422)

    assert code_of(body) == code
    assert body["error"]["field"] == "designation"
    assert named.lower() in body["error"]["message"].lower()


def test_a_letter_that_is_not_given_is_answered_with_its_neighbours(shop: Workshop) -> None:
    # ISO 286-1:2010 has no deviation q; p and r stand beside it.
    body = shop.targets("40 q6", "mm", expect=422)

    assert body["error"]["message"] == "ISO 286 has no letter q. Nearest: 40 r6, 40 p6."


@pytest.mark.parametrize(("wire", "word"), [("0.020", "small"), ("0.060", "large")])
def test_a_wire_that_cannot_measure_the_thread_is_refused(
    shop: Workshop, wire: str, word: str
) -> None:
    body = shop.targets(SHAFT_THREAD, wire=wire, expect=422)

    assert code_of(body) == "wire_unusable"
    assert body["error"]["field"] == "wire"
    assert word in body["error"]["message"]


@pytest.mark.parametrize("wire", ["abc", "-0.032", "0", "NaN", "1e400", "3" * 5000])
def test_a_wire_that_is_no_size_is_refused(shop: Workshop, wire: str) -> None:
    body = shop.targets(SHAFT_THREAD, wire=wire, expect=422)

    assert code_of(body) in ("not_a_number", "not_positive")
    assert body["error"]["field"] == "wire"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"designation": SHAFT_THREAD}, "unit"),
        ({"unit": "in"}, "designation"),
        ({"designation": SHAFT_THREAD, "unit": "cm"}, "unit"),
        ({"designation": SHAFT_THREAD, "unit": "in", "rule": "guess"}, "rule"),
        ({"designation": SHAFT_THREAD, "unit": "in", "kind": "cone"}, "kind"),
        ({"designation": 5, "unit": "in"}, "designation"),
    ],
)
def test_a_field_that_is_missing_or_wrong_is_named(
    shop: Workshop, body: dict[str, object], field: str
) -> None:
    answer = shop.post("/api/targets", body, 422)

    code_of(answer)
    assert answer["error"]["field"] == field
