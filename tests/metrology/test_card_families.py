"""One full target card for every family, external and internal, in both units."""

from __future__ import annotations

import math

import pytest

from server.advice.schedule import Purpose
from server.logbook.card_infeed import cutting_passes
from server.logbook.card_typed import asked
from server.logbook.cards import CardNumbers, card
from server.logbook.crib_wires import OwnedWires
from server.metrology import balls, wires
from server.metrology.aim import Fit, ThreadBeforePlating
from server.metrology.model import Limits, Rule, ThreadTarget
from server.metrology.wires import Wires
from tests.metrology.card_samples import DESIGNATIONS, Sample

INCH = 25.4
THREADS = tuple(sample for sample in DESIGNATIONS if sample.kind.is_thread)


def made(
    designation: str, unit: str = "in", owned: tuple[OwnedWires, ...] = (), **fields: str
) -> CardNumbers:
    return card(asked({"designation": designation} | fields, unit), owned)


def name(sample: Sample) -> str:
    return sample.designation


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("sample", DESIGNATIONS, ids=name)
def test_every_designation_makes_a_whole_card(sample: Sample, unit: str) -> None:
    found = made(sample.designation, unit)

    assert found.target.kind is sample.kind
    assert found.target.family == sample.family
    assert found.problems == ()
    low, high = found.limits.both()
    assert low < found.aims_mm[Fit.MID] < high
    tight_is_high = not sample.kind.is_internal
    assert (found.aims_mm[Fit.TIGHT] > found.aims_mm[Fit.FREE]) is tight_is_high
    assert all(low < aim < high for aim in found.aims_mm.values())
    assert (found.gauges is not None) is sample.kind.is_thread
    assert (found.infeed is not None) is sample.kind.is_thread


@pytest.mark.parametrize("sample", THREADS, ids=name)
def test_what_is_read_at_the_limits_means_the_limits(sample: Sample) -> None:
    found = made(sample.designation)
    target, gauges = found.target, found.gauges
    assert isinstance(target, ThreadTarget)
    assert gauges is not None
    assert gauges.measured is not None
    assert gauges.other is not None
    low, high = target.pitch_diameter.both()
    assert gauges.fits.smallest_mm <= gauges.measured.wire_mm <= gauges.fits.largest_mm
    assert {gauges.measured.rule, gauges.other.rule} == set(Rule)
    for measured in (gauges.measured, gauges.other):
        for reading, meant in ((measured.low_mm, low), (measured.high_mm, high)):
            if sample.kind.is_internal:
                back = balls.pitch_diameter_mm(reading, target, measured.wire_mm, measured.rule)
            else:
                back = wires.pitch_diameter_mm(reading, target, measured.wires, measured.rule)
            assert back == pytest.approx(meant, abs=1e-7)


@pytest.mark.parametrize("sample", THREADS, ids=name)
def test_the_passes_reach_the_infeed_and_the_wires_seat_on_the_way(sample: Sample) -> None:
    found = made(sample.designation)
    fed = found.infeed
    assert fed is not None
    assert fed.touch_off is not None
    assert fed.plan is not None
    total = fed.touch_off.infeed.radial_mm
    assert total is not None
    assert total > 0
    assert fed.plan.passes[-1].depth_mm + fed.plan.left_standing_mm == pytest.approx(total)
    line_mm = 0.001 * INCH * math.cos(fed.slides.theta_rad())
    assert 0 <= fed.plan.left_standing_mm < line_mm * 1.001
    assert fed.seat is not None
    assert 0 < fed.seat.infeed_mm < total
    assert fed.set is not None
    relief, crest = fed.set.relief.diameter_mm, fed.crest_mm
    assert (relief > crest) is sample.kind.is_internal


@pytest.mark.parametrize("sample", DESIGNATIONS, ids=name)
def test_plating_takes_the_limits_back_by_its_thickness(sample: Sample) -> None:
    found = made(sample.designation, "mm", plating="0.005")
    sign = 1 if sample.kind.is_internal else -1
    before = found.before_plating
    if isinstance(found.target, ThreadTarget):
        assert isinstance(before, ThreadBeforePlating)
        shift = 2 * 0.005 / math.sin(found.target.half_angle_rad)
        limits = before.pitch_diameter
    else:
        assert isinstance(before, Limits)
        shift, limits = 2 * 0.005, before
    for now, then in zip(limits.both(), found.limits.both(), strict=True):
        assert now == pytest.approx(then + sign * shift, abs=1e-9)


def test_shaft_thread_over_032_wires() -> None:
    """ASME B1.1 and B1.2: 5/8-18 UNF-2A, 0.032 in wires."""
    found = made("5/8-18 UNF-2A", wire="0.032")
    assert found.gauges is not None
    assert found.gauges.measured is not None
    measured = found.gauges.measured
    assert round(measured.constant_mm / INCH, 4) == 0.0479
    assert round(measured.low_mm / INCH, 4) == 0.6307
    assert round(measured.high_mm / INCH, 4) == 0.6354
    assert measured.rule is Rule.HANDBOOK
    assert found.gauges.origin == "typed"


def test_a_fit_pair_shows_its_clearance_range() -> None:
    """ISO 286-2: 40 H7 +25/0, g6 -9/-25 um, so 9 to 50 um of clearance."""
    pair = made("40 H7/g6", "mm").pair
    assert pair is not None
    assert pair.smallest_clearance_mm == pytest.approx(0.009)
    assert pair.largest_clearance_mm == pytest.approx(0.050)
    assert pair.character == "clearance"


def owned(number: int, size: float, **more: bool) -> OwnedWires:
    return OwnedWires(
        number,
        f"set {number}",
        Wires.nominal(size * INCH),
        more.get("is_measured", False),
        more.get("at_zero_force", False),
    )


def test_the_crib_gives_the_usable_set_nearest_to_best() -> None:
    crib = (owned(1, 0.045), owned(2, 0.033), owned(3, 0.018), owned(4, 0.030))
    gauges = made("5/8-18 UNF-2A", owned=crib).gauges
    assert gauges is not None
    assert gauges.crib is not None
    assert gauges.chosen is not None
    assert gauges.chosen.set_id == 2  # best is 0.57735 P = 0.03208 in
    assert [each.set_id for each in gauges.crib.usable] == [2, 4, 1]
    assert [each.set_id for each, _ in gauges.crib.unusable] == [3]
    assert gauges.origin == "crib"


def test_a_size_typed_comes_before_the_crib_and_a_set_picked_before_both() -> None:
    crib = (owned(1, 0.033), owned(2, 0.040))
    typed = made("5/8-18 UNF-2A", owned=crib, wire="0.032").gauges
    picked = made("5/8-18 UNF-2A", owned=crib, wire="0.032", wire_set_id="2").gauges
    assert typed is not None
    assert typed.measured is not None
    assert typed.measured.wire_mm == pytest.approx(0.032 * INCH)
    assert picked is not None
    assert picked.chosen is not None
    assert picked.chosen.set_id == 2


@pytest.mark.parametrize(
    ("zero_force", "rule", "applied"),
    [(True, "exact", True), (True, "handbook", False), (False, "exact", False)],
)
def test_flattening_is_shown_always_and_applied_to_certified_wires_under_the_exact_rule(
    zero_force: bool, rule: str, applied: bool
) -> None:
    crib = (owned(1, 0.032, at_zero_force=zero_force),)
    gauges = made("5/8-18 UNF-2A", owned=crib, rule=rule).gauges
    assert gauges is not None
    assert gauges.measured is not None
    squeeze = gauges.measured.squeeze
    assert squeeze is not None
    assert squeeze.is_applied is applied
    # Hertz contact, steel, 2.5 lb: 3.77 um (computed table)
    assert squeeze.flattening.total_mm == pytest.approx(0.00377, rel=0.02)


def test_no_usable_wire_is_said_and_the_rest_stands() -> None:
    found = made("5/8-18 UNF-2A", wire="0.020")
    assert found.gauges is not None
    assert found.gauges.measured is None
    assert [problem.field for problem in found.problems] == ["wire"]
    assert found.infeed is not None
    assert found.infeed.plan is not None


@pytest.mark.parametrize("passes", [8, 12, 16])
def test_the_number_of_passes_typed_is_kept(passes: int) -> None:
    fed = made("5/8-18 UNF-2A", passes=str(passes)).infeed
    assert fed is not None
    assert fed.plan is not None
    assert cutting_passes(fed.plan) == passes
    assert fed.plan.passes[-1].purpose is Purpose.SPRING
    assert fed.problems == ()


def test_a_number_of_passes_that_cannot_be_says_the_nearest() -> None:
    fed = made("5/8-18 UNF-2A", passes="150").infeed
    assert fed is not None
    assert fed.plan is not None
    assert [problem.field for problem in fed.problems] == ["passes"]
    assert str(cutting_passes(fed.plan)) in fed.problems[0].message


def test_total_infeed_of_the_tip_that_is_typed() -> None:
    """h = (D0 - E)/2 + P/(4 tan a) - f/(2 tan a), the design's formula by hand."""
    found = made("5/8-18 UNF-2A", flat="0.005", crest_diameter="0.6200")
    assert found.infeed is not None
    assert found.infeed.touch_off is not None
    a, p = math.radians(30), 1 / 18
    expected = (0.6200 - 0.58515) / 2 + p / (4 * math.tan(a)) - 0.005 / (2 * math.tan(a))
    radial = found.infeed.touch_off.infeed.radial_mm
    assert radial is not None
    assert radial / INCH == pytest.approx(expected, abs=1e-7)
    assert found.infeed.tip_because == ""


def test_seconds_in_the_groove() -> None:
    """(groove width - tool width) x 60 / (lead x rpm): 0.1 in at 18 an inch and 60 rpm is 1.8 s."""
    fed = made("5/8-18 UNF-2A", rpm="60", tool_width="0.050", groove_width="0.150").infeed
    assert fed is not None
    assert fed.seconds is not None
    assert fed.seconds == pytest.approx(1.8)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("wire", "abc"),
        ("wire", "0.020"),
        ("aim", "0.5900"),
        ("aim", "1e400"),
        ("plating", "-0.001"),
        ("plating", "NaN"),
        ("flat", "0.050"),
        ("nose_radius", "9"),
        ("crest_diameter", "0.500"),
        ("compound_angle_deg", "95"),
        ("compound_angle_deg", "80"),
        ("passes", "2.5"),
        ("passes", "1"),
        ("rpm", "0"),
        ("rpm", "90000"),
        ("tool_width", "5" * 5000),
        ("groove_width", ""),
        ("rule", "guess"),
        ("slide", "sideways"),
        ("slide", "carriage"),
        ("wire_set_id", "77"),
        ("lathe_id", "x"),
    ],
)
def test_a_wrong_secondary_field_is_named_and_the_card_still_stands(field: str, text: str) -> None:
    found = made("5/8-18 UNF-2A", "in", (), **{field: text})
    assert [problem.field for problem in found.problems] == ([field] if text else [])
    assert all(problem.message.strip() for problem in found.problems)
    assert found.limits.both() == pytest.approx((0.5828 * INCH, 0.5875 * INCH))
    assert found.infeed is not None
    assert found.infeed.touch_off is not None


def test_a_groove_no_wider_than_the_tool_is_refused_beside_the_field() -> None:
    found = made("5/8-18 UNF-2A", rpm="60", tool_width="0.150", groove_width="0.100")
    assert [problem.field for problem in found.problems] == ["groove_width"]
    assert found.infeed is not None
    assert found.infeed.seconds is None


def test_a_compound_set_as_fine_feed_leaves_the_cross_slide() -> None:
    fed = made("5/8-18 UNF-2A", compound_angle_deg="80").infeed
    assert fed is not None
    assert fed.plan is not None
    assert {each.slide.value for each in fed.plan.passes} == {"cross_slide"}
