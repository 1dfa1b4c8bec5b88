import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.advice.schedule import (
    Plan,
    Purpose,
    ThreadCuts,
    TurningCuts,
    equal_area_depths_mm,
    pass_count_for_first_cut,
    thread_plan,
    turning_plan,
)
from server.metrology.dials import CompoundSetting, Dial, Slide, SlideCannotFeed, Slides
from server.metrology.infeed import ToolTip, total_infeed_mm
from server.metrology.model import Kind, OutOfRange
from tests.reference_rows import rows

A30 = math.radians(30)
PASS_TABLES = rows("insert_pass_tables")
MAKERS = [row for row in PASS_TABLES if row["obtained"] == "published"]
EQUAL_AREA = [row for row in PASS_TABLES if row["obtained"] == "computed"]


def slides(theta_deg: float = 29.5, graduation: str = "0.01", unit: str = "mm") -> Slides:
    step = Decimal(graduation)
    return Slides(
        Dial("diameter", step, unit),
        Dial("travel", step, unit),
        CompoundSetting(math.radians(theta_deg)),
        Dial("travel", step, unit),
    )


def steps_of(row: dict[str, str]) -> list[float]:
    return [float(step) for step in row["radial_steps_mm"].split("/")]


@pytest.mark.parametrize("row", MAKERS, ids=[row["pitch_mm"] for row in MAKERS])
def test_published_passes_add_up_to_our_total_infeed(row: dict[str, str]) -> None:
    # The tables' h is 0.6134 P = 17H/24: basic thread, nose radius H/6.
    steps, pitch = steps_of(row), float(row["pitch_mm"])
    assert len(steps) == int(row["passes"])
    assert sum(steps) == pytest.approx(float(row["sum_mm"]), abs=1e-9)
    tip = ToolTip(nose_radius_mm=pitch * math.sqrt(3) / 12)
    total = total_infeed_mm(20, 20 - 0.6495190528 * pitch, pitch, A30, tip)
    assert sum(steps) == pytest.approx(total, abs=0.0051)


@pytest.mark.parametrize("row", EQUAL_AREA, ids=[row["case"] for row in EQUAL_AREA])
def test_a_sharp_v_of_equal_area_falls_with_the_square_root(row: dict[str, str]) -> None:
    total, count = float(row["sum_mm"]), int(row["passes"])
    depths = equal_area_depths_mm(total, count, 0.0, A30)
    ours = [here - before for before, here in zip((0.0, *depths), depths, strict=False)]
    assert ours == pytest.approx(steps_of(row), abs=0.5e-3)
    assert pass_count_for_first_cut(total, ours[0], 0.0, A30) == count


def drawn_area(depth: float, flat: float, half_angle: float) -> float:
    """Area under a trapezoidal tool by slices, apart from the formula."""
    slices = 2000
    height = depth / slices
    widths = (flat + 2 * (i + 0.5) * height * math.tan(half_angle) for i in range(slices))
    return sum(widths) * height


@given(st.floats(0.2, 4), st.integers(1, 12), st.floats(0, 2), st.floats(5, 45))
@settings(max_examples=40)
def test_every_pass_takes_the_same_area_of_the_drawn_groove(
    total: float, count: int, flat: float, half_angle_deg: float
) -> None:
    half_angle = math.radians(half_angle_deg)
    areas = [
        drawn_area(d, flat, half_angle)
        for d in (0.0, *equal_area_depths_mm(total, count, flat, half_angle))
    ]
    taken = [after - before for before, after in zip(areas, areas[1:], strict=False)]
    assert taken == pytest.approx([areas[-1] / count] * count, rel=1e-6)


def check_invariants(plan: Plan, total_mm: float, lathe: Slides) -> None:
    on_dial: dict[Slide, Decimal] = {}
    depth = 0.0
    for number, row in enumerate(plan.passes, start=1):
        dial = lathe.dial(row.slide)
        assert row.number == number
        assert row.unit == dial.unit
        assert row.dial_step % dial.graduation == 0
        assert (row.dial_step == 0) == (row.purpose is Purpose.SPRING)
        on_dial[row.slide] = on_dial.get(row.slide, Decimal(0)) + row.dial_step
        assert row.dial_total == on_dial[row.slide]
        depth += row.step_mm
        assert row.depth_mm == pytest.approx(depth, abs=1e-9)
    assert depth <= total_mm + 1e-7
    assert plan.left_standing_mm == pytest.approx(max(0.0, total_mm - depth), abs=1e-9)
    per_unit = 25.4 if lathe.cross_slide.unit == "in" else 1.0
    coarsest = float(lathe.cross_slide.graduation) * per_unit  # no depth per dial is above 1
    assert total_mm - depth < coarsest + 1e-7


@given(
    total=st.floats(0, 4),
    flat=st.floats(0, 2),
    half_angle_deg=st.sampled_from([14.5, 15, 27.5, 30]),
    slide=st.sampled_from([Slide.CROSS_SLIDE, Slide.COMPOUND]),
    plunge_last=st.booleans(),
    least=st.floats(0.02, 0.06),
    first_share=st.floats(2, 6),
    last_share=st.floats(0, 1),
    graduation=st.sampled_from([("0.01", "mm"), ("0.02", "mm"), ("0.001", "in"), ("0.0005", "in")]),
    internal=st.booleans(),
)
@settings(max_examples=250)
def test_a_thread_plan_keeps_its_promises(
    total: float,
    flat: float,
    half_angle_deg: float,
    slide: Slide,
    plunge_last: bool,
    least: float,
    first_share: float,
    last_share: float,
    graduation: tuple[str, str],
    internal: bool,
) -> None:
    kind = Kind.INTERNAL_THREAD if internal else Kind.EXTERNAL_THREAD
    lathe = slides(half_angle_deg - 0.5, *graduation)
    coarsest = float(graduation[0]) * (25.4 if graduation[1] == "in" else 1)
    first = first_share * (least + coarsest)
    cuts = ThreadCuts(first, min(first, least + last_share * (first - least)), least)
    last_slide = Slide.CROSS_SLIDE if plunge_last else None
    plan = thread_plan(
        total, flat, math.radians(half_angle_deg), kind, lathe, slide, cuts, last_slide
    )
    check_invariants(plan, total, lathe)
    cutting = [row for row in plan.passes if row.purpose is not Purpose.SPRING]
    springs = [row for row in plan.passes if row.purpose is Purpose.SPRING]
    assert all(row.step_mm <= first + 1e-7 for row in cutting)
    if len(cutting) > 1:
        assert all(row.step_mm >= least - 1e-7 for row in cutting)
    roughing = [row.dial_step for row in cutting if row.purpose is Purpose.ROUGH]
    if not plunge_last and cuts.last_mm < first - 2 * coarsest:
        one = Decimal(graduation[0])
        assert all(
            later <= earlier + one for earlier, later in zip(roughing, roughing[1:], strict=False)
        )
    if total > first + cuts.last_mm + coarsest and cuts.last_mm < first - 2 * coarsest:
        assert cuts.last_mm - 1e-7 <= cutting[-1].step_mm < cuts.last_mm + 2 * coarsest
    if cutting:
        assert cutting[-1].purpose is Purpose.LAST
        assert len(springs) == 2
        assert plan.passes[-2:] == tuple(springs)
    else:
        assert plan.passes == ()


def test_a_manual_plan_of_m10_on_the_compound() -> None:
    # Manual lathes take two to three times the six passes of the insert table (common practice).
    total = total_infeed_mm(10, 9.0257, 1.5, A30, ToolTip(1.5 / 8))
    plan = thread_plan(
        total,
        1.5 / 8,
        A30,
        Kind.EXTERNAL_THREAD,
        slides(),
        Slide.COMPOUND,
        last_slide=Slide.CROSS_SLIDE,
    )
    cutting = [row for row in plan.passes if row.purpose is not Purpose.SPRING]
    assert 12 <= len(cutting) <= 20
    steps = [row.step_mm for row in cutting[:-1]]
    graduation = 0.01 * math.cos(math.radians(29.5))
    assert all(
        later <= earlier + graduation + 1e-9
        for earlier, later in zip(steps, steps[1:], strict=False)
    )
    assert cutting[-1].slide is Slide.CROSS_SLIDE
    assert 0.025 - 1e-9 <= cutting[-1].step_mm < 0.025 + 0.01 + 0.005
    assert sum(row.step_mm for row in cutting) == pytest.approx(total, abs=0.005)


def test_an_inch_dial_gives_whole_thousandths() -> None:
    plan = thread_plan(
        0.9, 0.1, A30, Kind.EXTERNAL_THREAD, slides(graduation="0.001", unit="in"), Slide.COMPOUND
    )
    assert {str(row.dial_step) for row in plan.passes} <= {f"0.{n:03d}" for n in range(8)}
    assert plan.passes[-1].unit == "in"


def test_a_plan_too_fine_for_its_dial_is_refused() -> None:
    with pytest.raises(OutOfRange, match="first cut"):
        thread_plan(
            0.9,
            0,
            A30,
            Kind.EXTERNAL_THREAD,
            slides(graduation="0.1"),
            Slide.COMPOUND,
            ThreadCuts(first_mm=0.05),
        )
    with pytest.raises(OutOfRange, match="first cut"):
        turning_plan(2.0, Kind.BORE, slides(graduation="5"), Slide.CROSS_SLIDE)


@pytest.mark.parametrize(
    ("numbers", "says"),
    [
        ({"least_mm": 0}, "least cut"),
        ({"first_mm": 0.03}, "first cut"),
        ({"last_mm": 0.01}, "last cut"),
        ({"last_mm": 0.2}, "last cut"),
        ({"spring_passes": -1}, "spring passes"),
        ({"first_mm": math.nan}, "first cut"),
    ],
)
def test_thread_cuts_that_contradict_each_other_are_refused(
    numbers: dict[str, float], says: str
) -> None:
    with pytest.raises(OutOfRange, match=says):
        ThreadCuts(**numbers)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("numbers", "says"),
    [
        ({"finish_mm": 0}, "finish cut"),
        ({"semi_finish_mm": -1}, "semi-finish cut"),
        ({"rough_mm": 0.2}, "rough cut"),
        ({"spring_passes": -1}, "spring passes"),
    ],
)
def test_turning_cuts_that_contradict_each_other_are_refused(
    numbers: dict[str, float], says: str
) -> None:
    with pytest.raises(OutOfRange, match=says):
        TurningCuts(**numbers)  # type: ignore[arg-type]


def test_impossible_grooves_and_endless_plans_are_refused() -> None:
    with pytest.raises(OutOfRange, match="total infeed"):
        equal_area_depths_mm(math.inf, 3, 0, A30)
    with pytest.raises(OutOfRange, match="tip flat"):
        equal_area_depths_mm(1, 3, -1, A30)
    with pytest.raises(OutOfRange, match="half angle"):
        equal_area_depths_mm(1, 3, 0, 0)
    with pytest.raises(OutOfRange, match="passes"):
        equal_area_depths_mm(1, 0, 0, A30)
    with pytest.raises(OutOfRange, match="first cut"):
        pass_count_for_first_cut(1, 0, 0, A30)
    with pytest.raises(OutOfRange, match="total infeed"):
        thread_plan(1e6, 0, A30, Kind.EXTERNAL_THREAD, slides(), Slide.COMPOUND)
    with pytest.raises(OutOfRange, match="passes"):
        turning_plan(1e6, Kind.BORE, slides(), Slide.CROSS_SLIDE)
    with pytest.raises(OutOfRange, match="stock"):
        turning_plan(-0.1, Kind.BORE, slides(), Slide.CROSS_SLIDE)
    with pytest.raises(SlideCannotFeed, match="one flank only"):
        thread_plan(1, 0, A30, Kind.EXTERNAL_THREAD, slides(84), Slide.COMPOUND)


def test_turning_is_roughed_in_equal_cuts_then_finished() -> None:
    # 6.70 on diameter = 3.35 deep: 3 equal roughing cuts of 1.00, 0.25, 0.10
    plan = turning_plan(6.7, Kind.OUTSIDE_DIAMETER, slides(graduation="0.02"), Slide.CROSS_SLIDE)
    assert [row.step_mm for row in plan.passes] == pytest.approx([1, 1, 1, 0.25, 0.1], abs=0.011)
    assert [row.purpose for row in plan.passes] == [
        Purpose.ROUGH,
        Purpose.ROUGH,
        Purpose.ROUGH,
        Purpose.SEMI_FINISH,
        Purpose.LAST,
    ]
    assert plan.passes[-1].dial_total == Decimal("6.70")


@given(
    stock=st.floats(0, 30),
    kind_slide=st.sampled_from(
        [
            (Kind.OUTSIDE_DIAMETER, Slide.CROSS_SLIDE),
            (Kind.BORE, Slide.COMPOUND),
            (Kind.LENGTH, Slide.CARRIAGE),
            (Kind.LENGTH, Slide.COMPOUND),
            (Kind.GROOVE_DIAMETER, Slide.CROSS_SLIDE),
        ]
    ),
    rough=st.floats(0.3, 3),
    finish_share=st.floats(0.1, 1),
    semi_share=st.floats(0, 1),
    graduation=st.sampled_from([("0.01", "mm"), ("0.05", "mm"), ("0.001", "in")]),
)
@settings(max_examples=250)
def test_a_turning_plan_keeps_its_promises(
    stock: float,
    kind_slide: tuple[Kind, Slide],
    rough: float,
    finish_share: float,
    semi_share: float,
    graduation: tuple[str, str],
) -> None:
    kind, slide = kind_slide
    lathe = slides(60, *graduation)
    cuts = TurningCuts(rough, semi_share * rough, finish_share * rough)
    plan = turning_plan(stock, kind, lathe, slide, cuts)
    total = stock if kind is Kind.LENGTH else stock / 2
    check_invariants(plan, total, lathe)
    assert all(row.step_mm <= rough + 1e-7 for row in plan.passes)
    if plan.passes:
        assert plan.passes[-1].purpose is Purpose.LAST
    roughing = [row.dial_step for row in plan.passes if row.purpose is Purpose.ROUGH]
    if roughing:
        assert max(roughing) - min(roughing) <= Decimal(graduation[0])


@pytest.mark.parametrize(
    ("total", "flat", "cuts", "steps"),
    [
        # 0.405 to rough in 3 equal areas is 0.215, 0.105, 0.085: the third is under the least cut
        # and shares 0.190 with the second
        (0.580, 0.043, ThreadCuts(0.223, 0.175, 0.093, 0), [0.215, 0.095, 0.095, 0.175]),
        # 0.265 in 2 is 0.185, 0.080: together over the first cut, so shared out evenly
        (0.400, 0.0, ThreadCuts(0.207, 0.135, 0.088, 0), [0.135, 0.130, 0.135]),
        # 0.220 in 5 is 0.095, 0.040, 0.035, 0.025, 0.025: the last two in one would be deeper than
        # the third, so four passes share what follows the first
        (0.250, 0.0, ThreadCuts(0.1, 0.03, 0.03, 0), [0.095, 0.035, 0.030, 0.030, 0.030, 0.030]),
    ],
)
def test_a_pass_too_small_to_cut_is_shared_out(
    total: float, flat: float, cuts: ThreadCuts, steps: list[float]
) -> None:
    plan = thread_plan(total, flat, A30, Kind.EXTERNAL_THREAD, slides(), Slide.CROSS_SLIDE, cuts)
    assert [row.step_mm for row in plan.passes] == pytest.approx(steps, abs=1e-9)


def test_stock_too_small_for_a_pass_of_its_own_goes_with_the_semi_finish() -> None:
    # 1.40 deep less 0.30 and 0.90 leaves 0.20 to rough: with the semi-finish 1.10, over the cap
    cuts = TurningCuts(rough_mm=1.0, semi_finish_mm=0.9, finish_mm=0.3)
    over = turning_plan(2.8, Kind.BORE, slides(), Slide.CROSS_SLIDE, cuts)
    assert [row.step_mm for row in over.passes] == pytest.approx([0.55, 0.55, 0.30])
    under = turning_plan(2.5, Kind.BORE, slides(), Slide.CROSS_SLIDE, cuts)
    assert [row.step_mm for row in under.passes] == pytest.approx([0.95, 0.30])


def test_a_last_pass_as_deep_as_the_first_stays_one_pass() -> None:
    # 0.102 would be 0.105 in whole graduations of 0.005 deep, over the first cut: 0.100
    cuts = ThreadCuts(0.102, 0.102, 0.02, 0)
    plan = thread_plan(0.5, 0.0, A30, Kind.EXTERNAL_THREAD, slides(), Slide.CROSS_SLIDE, cuts)
    assert plan.passes[-1].step_mm == pytest.approx(0.100)
