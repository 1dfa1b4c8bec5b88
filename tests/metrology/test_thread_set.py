import dataclasses
import math
from decimal import Decimal

import pytest

from server.metrology.aim import AimOutsideLimits, Fit
from server.metrology.dials import CompoundSetting, Dial, Slide, Slides
from server.metrology.infeed import ToolTip, root_diameter_mm
from server.metrology.model import Kind, Limits, OutOfRange, ThreadTarget
from server.metrology.tables import rows
from server.metrology.thread_set import (
    GROOVE_CAUTION,
    deepest_root_mm,
    groove_seconds,
    thread_set,
    touch_off,
)
from tests.metrology.test_aim import EXTERNAL, INTERNAL

A30 = math.radians(30)
SLIDES = Slides(
    Dial("diameter", Decimal("0.02")),
    Dial("travel", Decimal("0.02")),
    CompoundSetting(math.radians(29.5)),
)
# M10x1.5-6g, ISO 965-2: major 9.732/9.968, pitch 8.862/8.994, minor at most 8.344.
M10 = ThreadTarget(
    designation="M10x1.5-6g",
    family="metric",
    kind=Kind.EXTERNAL_THREAD,
    nominal_mm=10,
    pitch_mm=1.5,
    lead_mm=1.5,
    starts=1,
    half_angle_rad=A30,
    hand="right",
    tolerance_class="6g",
    major_diameter=Limits(9.732, 9.968),
    pitch_diameter=Limits(8.862, 8.994),
    minor_diameter=Limits(None, 8.344),
    basic_pitch_diameter_mm=9.026,
    allowance_mm=0.032,
    unit="mm",
    decimals=3,
    source="ISO 965-2",
)


def test_the_blank_is_the_major_diameter_aimed_at_its_middle() -> None:
    made = thread_set(EXTERNAL)
    assert made.blank_kind is Kind.OUTSIDE_DIAMETER
    assert made.blank == EXTERNAL.major_diameter
    assert made.blank_aim_mm == pytest.approx((0.6149 + 0.6236) / 2 * 25.4)
    assert made.pitch_diameter_aim_mm == pytest.approx((0.5828 + 0.5875) / 2 * 25.4)


def test_an_internal_thread_is_bored_to_its_minor_diameter() -> None:
    made = thread_set(INTERNAL)
    assert made.blank_kind is Kind.BORE
    assert made.blank_aim_mm == pytest.approx((0.565 + 0.578) / 2 * 25.4)
    assert made.relief.diameter_mm > INTERNAL.nominal_mm
    assert made.chamfer.end_diameter_mm == made.relief.diameter_mm
    assert thread_set(INTERNAL, fit=Fit.TIGHT).pitch_diameter_aim_mm < made.pitch_diameter_aim_mm


def test_metric_relief_is_the_undercut_of_the_standard() -> None:
    # ISO 4755 / DIN 76-1, P 1.5: dg = d - 2.3 (from memory)
    relief = thread_set(M10).relief
    assert relief.diameter_mm == pytest.approx(7.7)
    assert "memory" in relief.source


@pytest.mark.parametrize("row", rows("undercut_iso4755"), ids=lambda row: row["pitch_mm"])
def test_every_undercut_lies_below_the_root_of_a_basic_thread(row: dict[str, str]) -> None:
    # root of the basic profile with r = H/6: d - 1.2269 P (ISO 724 d3 of the older tables)
    pitch, below = float(row["pitch_mm"]), float(row["below_nominal_mm"])
    assert 1.2269 * pitch < below < 1.2269 * pitch + max(0.3, 0.4 * pitch)


@pytest.mark.parametrize("tip", [None, ToolTip(), ToolTip(0.17), ToolTip(nose_radius_mm=0.2)])
@pytest.mark.parametrize("target", [EXTERNAL, INTERNAL, M10], ids=lambda t: t.designation)
def test_the_tool_runs_clear_in_the_relief(target: ThreadTarget, tip: ToolTip | None) -> None:
    made = thread_set(target, tip)
    internal = target.kind.is_internal
    low, high = target.pitch_diameter.both()
    deep = high if internal else low
    if tip is not None:
        root = root_diameter_mm(deep, target.pitch_mm, A30, tip, internal)
        clear = made.relief.diameter_mm - root
        assert (clear if internal else -clear) > 0
    assert made.relief.smallest_width_mm == pytest.approx(2 * target.pitch_mm)
    assert made.relief.usual_width_mm == pytest.approx(3 * target.pitch_mm)


def test_a_sharp_tool_needs_a_deeper_relief_than_the_standard() -> None:
    # sharp V at the low pitch diameter: 8.862 - 0.866025 x 1.5 = 7.563; a fifth of P clear: 7.263
    relief = thread_set(M10, ToolTip()).relief
    assert relief.diameter_mm == pytest.approx(7.263, abs=0.5e-3)
    assert "common practice" in relief.source


def test_the_root_comes_from_what_the_standard_gives() -> None:
    both = dataclasses.replace(M10, minor_diameter=Limits(7.938, 8.344))
    assert deepest_root_mm(both) == 7.938
    assert deepest_root_mm(M10) == pytest.approx(8.344 - (8.994 - 8.862))
    neither = dataclasses.replace(M10, minor_diameter=Limits(None, None))
    assert deepest_root_mm(neither) == pytest.approx(8.862 - 1.5 * math.cos(A30))
    assert deepest_root_mm(INTERNAL) == pytest.approx((0.625 + 0.5949 - 0.5889) * 25.4)


@pytest.mark.parametrize(("angle_deg", "length_per_depth"), [(45, 1.0), (30, 1.7320508)])
def test_the_chamfer_runs_from_the_blank_to_below_the_root(
    angle_deg: float, length_per_depth: float
) -> None:
    chamfer = thread_set(M10, chamfer_angle_rad=math.radians(angle_deg)).chamfer
    depth = (9.968 - 7.7) / 2
    assert chamfer.end_diameter_mm == pytest.approx(7.7)
    assert chamfer.length_mm == pytest.approx(depth * length_per_depth)


def test_impossible_sets_are_refused() -> None:
    with pytest.raises(OutOfRange, match="chamfer angle"):
        thread_set(M10, chamfer_angle_rad=0)
    with pytest.raises(OutOfRange, match="tip flat"):
        thread_set(M10, ToolTip(0.8))
    tiny = dataclasses.replace(M10, family="other", pitch_mm=12, minor_diameter=Limits(None, None))
    with pytest.raises(OutOfRange, match="relief diameter"):
        thread_set(tiny)


def test_touch_off_shows_the_whole_way_in_on_every_dial() -> None:
    # h = (D0 - E)/2 + P cot(a)/4 - f cot(a)/2, f = P/8: 0.461 + 0.48714 (computed by hand)
    way = touch_off(M10, ToolTip(0.1875), 9.85, SLIDES, Slide.COMPOUND)
    h = (9.85 - 8.928) / 2 + 0.324760 * 1.5
    assert way.infeed.radial_mm == pytest.approx(h, abs=1e-5)
    assert way.infeed.cross_slide_dial_mm == pytest.approx(2 * h, abs=1e-5)
    assert way.infeed.compound_dial_mm == pytest.approx(h / math.cos(math.radians(29.5)), abs=1e-5)
    assert way.root_diameter_mm == pytest.approx(9.85 - 2 * h, abs=1e-5)
    assert way.cautions == ()


def test_an_internal_touch_off_goes_outward() -> None:
    bore = 0.572 * 25.4
    way = touch_off(INTERNAL, ToolTip(), bore, SLIDES, Slide.CROSS_SLIDE)
    assert way.infeed.radial_mm is not None
    assert way.infeed.radial_mm > 0
    assert way.root_diameter_mm == pytest.approx(bore + 2 * way.infeed.radial_mm)


@pytest.mark.parametrize(
    ("target", "tip", "crest", "says"),
    [
        (M10, ToolTip(0.5), 9.85, "too blunt"),
        (dataclasses.replace(M10, minor_diameter=Limits(7.9, 8.344)), ToolTip(), 9.85, "sharper"),
        (INTERNAL, ToolTip(0.4), 14.5, "too blunt"),
    ],
)
def test_a_tip_that_misses_the_root_of_the_standard_is_named(
    target: ThreadTarget, tip: ToolTip, crest: float, says: str
) -> None:
    cautions = touch_off(target, tip, crest, SLIDES, Slide.CROSS_SLIDE).cautions
    assert any(says in each for each in cautions)


def test_a_touch_off_to_an_aim_outside_the_limits_is_refused() -> None:
    with pytest.raises(AimOutsideLimits):
        touch_off(M10, ToolTip(), 9.85, SLIDES, Slide.CROSS_SLIDE, 8.85)


def test_time_in_the_groove_is_what_the_lead_and_the_speed_leave() -> None:
    # (4.5 - 3.0) mm at 1.5 mm a turn is one turn: one second at 60 rpm; a double start half that
    assert groove_seconds(4.5, 3.0, 1.5, 60) == pytest.approx(1.0)
    assert groove_seconds(4.5, 3.0, 3.0, 60) == pytest.approx(0.5)
    assert "shoulder" in GROOVE_CAUTION


@pytest.mark.parametrize(
    ("numbers", "says"),
    [
        ((3.0, 3.0, 1.5, 60), "groove width"),
        ((4.5, 0, 1.5, 60), "tool width"),
        ((4.5, 3.0, 0, 60), "lead"),
        ((4.5, 3.0, 1.5, 0), "spindle speed"),
        ((4.5, 3.0, 1.5, math.nan), "spindle speed"),
    ],
)
def test_a_groove_the_tool_cannot_stand_in_is_refused(
    numbers: tuple[float, float, float, float], says: str
) -> None:
    with pytest.raises(OutOfRange, match=says):
        groove_seconds(*numbers)
