import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.aim import (
    AimOutsideLimits,
    Coat,
    Fit,
    aim_mm,
    checked_aim_mm,
    plain_before_plating,
    thread_before_plating,
)
from server.metrology.model import Kind, Limits, OutOfRange, PlainTarget, ThreadTarget
from server.metrology.units import from_mm, to_mm

OPEN = Limits(None, None)


def inches(low: float, high: float) -> Limits:
    return Limits(to_mm(low, "in"), to_mm(high, "in"))


# 5/8-18 UNF-2A: ASME B1.1 table of limits (design check values): major 0.6149/0.6236,
# pitch 0.5828/0.5875.  2B: minor 0.565/0.578, pitch 0.5889/0.5949.
EXTERNAL = ThreadTarget(
    designation="5/8-18 UNF-2A",
    family="unified",
    kind=Kind.EXTERNAL_THREAD,
    nominal_mm=15.875,
    pitch_mm=25.4 / 18,
    lead_mm=25.4 / 18,
    starts=1,
    half_angle_rad=math.radians(30),
    hand="right",
    tolerance_class="2A",
    major_diameter=inches(0.6149, 0.6236),
    pitch_diameter=inches(0.5828, 0.5875),
    minor_diameter=OPEN,
    basic_pitch_diameter_mm=to_mm(0.5889, "in"),
    allowance_mm=to_mm(0.0014, "in"),
    unit="in",
    decimals=4,
    source="ASME B1.1",
)
INTERNAL = dataclasses.replace(
    EXTERNAL,
    designation="5/8-18 UNF-2B",
    kind=Kind.INTERNAL_THREAD,
    tolerance_class="2B",
    major_diameter=Limits(to_mm(0.625, "in"), None),
    pitch_diameter=inches(0.5889, 0.5949),
    minor_diameter=inches(0.565, 0.578),
    allowance_mm=0.0,
)
SHAFT = PlainTarget(
    "25 h6", "iso286", Kind.OUTSIDE_DIAMETER, 25, "h6", Limits(24.987, 25.0), "mm", 3, "ISO 286-2"
)


def test_the_aim_is_mid_tolerance_unless_moved() -> None:
    assert aim_mm(Limits(24.98, 25.0), Kind.OUTSIDE_DIAMETER) == pytest.approx(24.99)


@pytest.mark.parametrize(
    ("kind", "fit", "aim"),
    [
        (Kind.OUTSIDE_DIAMETER, Fit.TIGHT, 10.03),
        (Kind.OUTSIDE_DIAMETER, Fit.FREE, 10.01),
        (Kind.EXTERNAL_THREAD, Fit.TIGHT, 10.03),
        (Kind.BORE, Fit.TIGHT, 10.01),
        (Kind.BORE, Fit.FREE, 10.03),
        (Kind.INTERNAL_THREAD, Fit.FREE, 10.03),
        (Kind.LENGTH, Fit.TIGHT, 10.03),
    ],
)
def test_tight_leaves_metal_outside_and_inside(kind: Kind, fit: Fit, aim: float) -> None:
    assert aim_mm(Limits(10.0, 10.04), kind, fit) == pytest.approx(aim)


def test_an_open_limit_has_no_middle() -> None:
    with pytest.raises(ValueError, match="only one of the two limits"):
        aim_mm(Limits(None, 10.0), Kind.BORE)


@pytest.mark.parametrize("aim", [24.979, 25.001, math.nan, math.inf])
def test_an_aim_outside_the_limits_is_refused(aim: float) -> None:
    with pytest.raises(AimOutsideLimits, match="aim is"):
        checked_aim_mm(aim, Limits(24.98, 25.0))


def test_an_aim_on_or_in_the_limits_is_taken() -> None:
    for aim in (24.98, 24.99, 25.0):
        assert checked_aim_mm(aim, Limits(24.98, 25.0)) == aim
    assert checked_aim_mm(9.0, Limits(None, 10.0)) == 9.0
    with pytest.raises(AimOutsideLimits):
        checked_aim_mm(11.0, Limits(None, 10.0))


def test_plating_takes_four_thicknesses_off_a_sixty_degree_pitch_diameter() -> None:
    # 0.0003 in on 60 degrees: pitch diameter 4 x 0.0003 = 0.0012, major 2 x 0.0003 = 0.0006
    coat = Coat(to_mm(0.0003, "in"), to_mm(0.0003, "in"))
    before = thread_before_plating(EXTERNAL, coat)
    low, high = before.pitch_diameter.both()
    assert from_mm(low, "in") == pytest.approx(0.5828 - 0.0012)
    assert from_mm(high, "in") == pytest.approx(0.5875 - 0.0012)
    low, high = before.major_diameter.both()
    assert from_mm(low, "in") == pytest.approx(0.6149 - 0.0006)
    assert from_mm(high, "in") == pytest.approx(0.6236 - 0.0006)
    assert before.minor_diameter == OPEN
    assert from_mm(before.pitch_shift_mm, "in") == pytest.approx(0.0012)


def test_an_internal_thread_is_cut_larger_for_plating() -> None:
    coat = Coat(0.005, 0.010)
    before = thread_before_plating(INTERNAL, coat)
    low, high = before.pitch_diameter.both()
    was_low, was_high = INTERNAL.pitch_diameter.both()
    assert low == pytest.approx(was_low + 4 * 0.010)
    assert high == pytest.approx(was_high + 4 * 0.005)
    assert before.major_diameter.low_mm == pytest.approx(15.875 + 0.020)
    assert before.major_diameter.high_mm is None


def test_plating_a_plain_size_shifts_it_by_two_thicknesses() -> None:
    coat = Coat(0.002, 0.004)
    assert plain_before_plating(SHAFT, coat).both() == pytest.approx((24.983, 24.992))
    bore = dataclasses.replace(SHAFT, kind=Kind.BORE)
    assert plain_before_plating(bore, coat).both() == pytest.approx((24.995, 25.004))


def test_a_coat_that_varies_more_than_the_tolerance_is_refused() -> None:
    with pytest.raises(OutOfRange, match="spread of the plating"):
        plain_before_plating(SHAFT, Coat(0, 0.0066))
    with pytest.raises(OutOfRange, match="spread of the plating"):
        thread_before_plating(EXTERNAL, Coat(0, 0.03))
    with pytest.raises(OutOfRange, match="plating"):
        Coat(-0.001, 0.001)
    with pytest.raises(OutOfRange, match="thickest plating"):
        Coat(0.002, 0.001)
    with pytest.raises(ValueError, match="which faces"):
        plain_before_plating(dataclasses.replace(SHAFT, kind=Kind.LENGTH), Coat(0, 0))


@given(st.floats(0, 0.005), st.floats(0, 0.02), st.booleans(), st.floats(0, 1))
@settings(max_examples=80)
def test_a_thread_in_its_preplate_limits_is_in_limits_once_plated(
    spread: float, thinnest: float, internal: bool, where: float
) -> None:
    target = INTERNAL if internal else EXTERNAL
    coat = Coat(thinnest, thinnest + spread)
    low, high = thread_before_plating(target, coat).pitch_diameter.both()
    cut = low + where * (high - low)
    for thickness in (coat.thinnest_mm, coat.thickest_mm):
        grown = 2 * thickness / math.sin(target.half_angle_rad)
        plated = cut - grown if internal else cut + grown
        checked_aim_mm(plated, target.pitch_diameter)


@given(
    st.floats(1, 500), st.floats(0.001, 1), st.sampled_from(list(Kind)), st.sampled_from(list(Fit))
)
@settings(max_examples=60)
def test_every_aim_lies_inside_the_limits(
    low: float, tolerance: float, kind: Kind, fit: Fit
) -> None:
    limits = Limits(low, low + tolerance)
    assert low < checked_aim_mm(aim_mm(limits, kind, fit), limits) < low + tolerance
