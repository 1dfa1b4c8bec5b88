import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.dials import CompoundSetting, Dial, Slide, Slides, size_per_dial
from server.metrology.infeed import (
    ToolTip,
    flank_stock,
    pitch_diameter_at_mm,
    root_diameter_mm,
    stock_left,
    stock_on_size_mm,
    tip_flat_of_nose_radius_mm,
    total_infeed_mm,
)
from server.metrology.model import Kind, OutOfRange
from tests.reference_rows import rows

HUNDREDTH = Decimal("0.01")
CASES = rows("infeed_cases")
TOTALS = rows("total_infeed")
A30 = math.radians(30)


def lathe(theta_deg: float, counts: str = "travel") -> Slides:
    cross = Dial(counts, HUNDREDTH)  # type: ignore[arg-type]
    return Slides(
        cross,
        Dial("travel", HUNDREDTH),
        CompoundSetting(math.radians(theta_deg)),
        Dial("travel", HUNDREDTH),
    )


def number(row: dict[str, str], column: str) -> float:
    return float(row[column])


def half_angle(row: dict[str, str]) -> float:
    return math.radians(number(row, "incl_deg") / 2)


def move(row: dict[str, str]) -> tuple[float, float]:
    """(radial, axial) of the last step of a case."""
    theta = math.radians(number(row, "compound_deg_from_cross_slide"))
    travel = number(row, "slide_s2_mm") - number(row, "slide_s1_mm")
    return (
        travel * math.cos(theta) + number(row, "final_plunge_mm"),
        travel * math.sin(theta) + number(row, "final_axial_shift_mm"),
    )


@pytest.mark.parametrize("row", CASES, ids=[row["case"] for row in CASES])
def test_flank_stock_agrees_with_the_polygon(row: dict[str, str]) -> None:
    stock = flank_stock(*move(row), half_angle(row))
    for side, ours in (("lead", stock.leading_mm), ("trail", stock.trailing_mm)):
        assert ours == pytest.approx(number(row, f"{side}_formula_mm"), abs=1e-5)
        polygon = row[f"{side}_flank_stock_polygon_mm"]
        if polygon:  # the two fine-feed rows carry no polygon stock
            assert ours == pytest.approx(float(polygon), abs=1e-5)


@pytest.mark.parametrize("row", CASES, ids=[row["case"] for row in CASES])
def test_the_reading_falls_by_what_the_flanks_lose(row: dict[str, str]) -> None:
    radial, axial = move(row)
    stock = flank_stock(radial, axial, half_angle(row))
    flanks = (stock.leading_mm + stock.trailing_mm) / math.sin(half_angle(row))
    theta_deg = number(row, "compound_deg_from_cross_slide")
    # Fed too steep from the crest on, the trailing flank is the path of the tip: 2 radial.
    from_crest = row["note"].startswith(("theta>a", "as above"))
    ours = 2 * radial if from_crest else flanks
    assert ours == pytest.approx(-number(row, "dM_formula_mm"), abs=1.1e-5)
    scallops = 3e-4 if from_crest else 1.1e-5  # 30 discrete passes, see the row's note
    assert ours == pytest.approx(-number(row, "dM_polygon_mm"), abs=scallops)
    if theta_deg <= 45 and not number(row, "final_plunge_mm") and radial:
        travel = number(row, "slide_s2_mm") - number(row, "slide_s1_mm")
        per_travel = size_per_dial(Slide.COMPOUND, lathe(theta_deg), Kind.EXTERNAL_THREAD)
        assert per_travel * travel == pytest.approx(ours, abs=1e-5)


@pytest.mark.parametrize("row", CASES, ids=[row["case"] for row in CASES])
def test_depth_and_axial_place_agree_with_the_polygon(row: dict[str, str]) -> None:
    theta = math.radians(number(row, "compound_deg_from_cross_slide"))
    travel = number(row, "slide_s2_mm")
    standing = 0.95 if row["case"].startswith("10:1") else 0.0  # groove plunged beforehand
    depth = standing + travel * math.cos(theta) + number(row, "final_plunge_mm")
    place = travel * math.sin(theta) + number(row, "final_axial_shift_mm")
    assert depth == pytest.approx(number(row, "depth_polygon_mm"), abs=1e-5)
    assert place == pytest.approx(number(row, "axial_pos_mm"), abs=1e-5)


@pytest.mark.parametrize("row", TOTALS, ids=[row["case"] for row in TOTALS])
def test_total_infeed_agrees_with_the_table(row: dict[str, str]) -> None:
    pitch, a = number(row, "P_mm"), half_angle(row)
    tip = ToolTip(number(row, "tip_flat_mm"), number(row, "nose_r_mm"))
    crest, target = number(row, "D_actual_mm"), number(row, "E_target_mm")
    radial = total_infeed_mm(crest, target, pitch, a, tip)
    # flats are printed to 5 places: up to 0.5e-5 cot a / 2 of h beside the half digit
    spread = 0.5e-5 * (1 + 0.5 / math.tan(a))
    assert radial == pytest.approx(number(row, "radial_h_mm"), abs=spread)
    assert radial / pitch == pytest.approx(number(row, "h_over_P"), abs=spread)
    angle_deg = number(row, "compound_deg")
    left = stock_left(
        target + 2 * radial,
        target,
        Kind.EXTERNAL_THREAD,
        lathe(angle_deg, "diameter"),
        Slide.COMPOUND,
        a,
    )
    assert left.cross_slide_dial_mm == pytest.approx(
        number(row, "diameter_dial_mm"), abs=2 * spread
    )
    assert left.compound_dial_mm == pytest.approx(
        number(row, "compound_travel_mm"), abs=1.2 * spread
    )
    assert radial / math.cos(a) == pytest.approx(
        number(row, "compound_at_half_angle_mm"), abs=1.2 * spread
    )
    back = pitch_diameter_at_mm(radial, crest, pitch, a, tip)
    assert back == pytest.approx(target, abs=1e-9)


def half_width_at(height: float, a: float, tip: ToolTip) -> float:
    """Half the width of the tool at a height above its lowest point: drawn, not the formula."""
    r = tip.nose_radius_mm
    tangent_height = r * (1 - math.sin(a))
    if r and height < tangent_height:
        return math.sqrt(r * r - (r - height) ** 2)
    start = r * math.cos(a) if r else tip.flat_mm / 2
    return start + (height - tangent_height) * math.tan(a)


@given(
    pitch=st.floats(0.3, 6),
    half_angle_deg=st.floats(5, 45),
    share=st.floats(0.0, 0.95),
    is_round=st.booleans(),
    internal=st.booleans(),
)
@settings(max_examples=100)
def test_at_the_total_infeed_the_drawn_groove_is_half_a_pitch_wide_at_the_pitch_line(
    pitch: float, half_angle_deg: float, share: float, is_round: bool, internal: bool
) -> None:
    a = math.radians(half_angle_deg)
    if is_round:
        tip = ToolTip(nose_radius_mm=share * pitch / (4 * math.cos(a)))
    else:
        tip = ToolTip(flat_mm=share * pitch / 2)
    target = 10 * pitch
    crest = target + (-0.6 if internal else 0.6) * pitch
    h = total_infeed_mm(crest, target, pitch, a, tip, internal)
    above = 0.3 * pitch
    assert 2 * half_width_at(h - above, a, tip) == pytest.approx(pitch / 2, rel=1e-9)
    assert pitch_diameter_at_mm(h, crest, pitch, a, tip, internal) == pytest.approx(target)
    root = crest + 2 * h if internal else crest - 2 * h
    assert root_diameter_mm(target, pitch, a, tip, internal) == pytest.approx(root)


def cut_profile(moves: list[tuple[float, float]], a: float, at: float) -> float:
    """Depth of a groove of sharp V cuts at an axial place; a move is (depth, axial)."""
    return max(depth - abs(at - axial) / math.tan(a) for depth, axial in moves)


@given(
    theta_deg=st.floats(0, 29.9),
    depth=st.floats(0.5, 1.0),
    step=st.floats(0.005, 0.1),
)
@settings(max_examples=60)
def test_flank_stock_agrees_with_a_drawn_groove(
    theta_deg: float, depth: float, step: float
) -> None:
    shift = math.tan(math.radians(theta_deg))
    before = [(depth, depth * shift)]
    after = [*before, (depth + step, (depth + step) * shift)]
    middle = depth * shift

    def edge(moves: list[tuple[float, float]], sign: int, level: float) -> float:
        inside, outside = middle, middle + sign * 2.0
        for _ in range(60):
            half = (inside + outside) / 2
            if cut_profile(moves, A30, half) > level:
                inside = half
            else:
                outside = half
        return outside

    level = 0.1
    lead = (edge(after, 1, level) - edge(before, 1, level)) * math.cos(A30)
    trail = (edge(before, -1, level) - edge(after, -1, level)) * math.cos(A30)
    stock = flank_stock(step, step * shift, A30)
    assert stock.leading_mm == pytest.approx(lead, abs=1e-9)
    assert stock.trailing_mm == pytest.approx(trail, abs=1e-9)


# f = 2 r (1/sin a - 1) tan a; r = H/6 on 60 degrees gives the h = 0.61343 P of insert tables
# (published: an insert maker's table, h 0.92 for P 1.5, 1.23 for P 2).
@pytest.mark.parametrize(("pitch", "published_h"), [(1.5, 0.92), (2.0, 1.23)])
def test_a_nose_radius_of_a_sixth_of_h_gives_the_published_depth(
    pitch: float, published_h: float
) -> None:
    radius = pitch * math.sqrt(3) / 2 / 6
    basic = 10 - 0.649519 * pitch
    h = total_infeed_mm(10, basic, pitch, A30, ToolTip(nose_radius_mm=radius))
    assert h == pytest.approx(published_h, abs=0.005)
    flat = tip_flat_of_nose_radius_mm(radius, A30)
    assert total_infeed_mm(10, basic, pitch, A30, ToolTip(flat)) == pytest.approx(h)


def test_internal_depth_of_a_basic_thread_is_five_eighths_of_h() -> None:
    # 0.5413 P from the basic minor diameter with a flat of P/8 (5H/8 of ISO 68-1)
    pitch = 1.5
    minor, middle = 10 - 1.082532 * pitch, 10 - 0.649519 * pitch
    h = total_infeed_mm(minor, middle, pitch, A30, ToolTip(pitch / 8), internal=True)
    assert h / pitch == pytest.approx(0.5413, abs=0.5e-4)


@pytest.mark.parametrize(
    ("tip", "says"),
    [
        (ToolTip(0.75), "tip flat"),
        (ToolTip(nose_radius_mm=0.44), "nose radius"),
    ],
)
def test_a_tip_wider_than_the_groove_is_refused(tip: ToolTip, says: str) -> None:
    with pytest.raises(OutOfRange, match=says):
        total_infeed_mm(10, 9.0257, 1.5, A30, tip)


def test_impossible_tips_and_crests_are_refused() -> None:
    with pytest.raises(OutOfRange, match="tip flat"):
        ToolTip(-0.1)
    with pytest.raises(OutOfRange, match="nose radius"):
        ToolTip(nose_radius_mm=math.nan)
    with pytest.raises(ValueError, match="not both"):
        ToolTip(0.1, 0.1)
    with pytest.raises(OutOfRange, match="crest diameter"):
        total_infeed_mm(9, 9.0257, 1.5, A30, ToolTip())
    with pytest.raises(OutOfRange, match="bore"):
        total_infeed_mm(9.1, 9.0257, 1.5, A30, ToolTip(), internal=True)
    with pytest.raises(OutOfRange, match="half angle"):
        flank_stock(0.1, 0, 0)
    with pytest.raises(OutOfRange, match="nose radius"):
        tip_flat_of_nose_radius_mm(-1, A30)


def test_a_thread_on_the_compound_shows_every_direction() -> None:
    # Per unit travel at 29.5: lead 0.86163, trail 0.00873 (computed)
    left = stock_left(10.174071, 10.0, Kind.EXTERNAL_THREAD, lathe(29.5), Slide.COMPOUND, A30)
    assert left.diameter_mm == pytest.approx(0.174071)
    assert left.radial_mm == pytest.approx(0.0870355)
    assert left.compound_dial_mm == pytest.approx(0.1, abs=1e-6)
    assert left.on_dial_mm(Slide.CROSS_SLIDE) == pytest.approx(0.0870355)
    assert left.leading_flank_mm == pytest.approx(0.086163, abs=1e-6)
    assert left.trailing_flank_mm == pytest.approx(0.000873, abs=1e-6)
    assert left.carriage_dial_mm is None
    assert left.axial_mm is None
    assert left.warnings == ()


def test_a_plunge_shares_the_stock_between_the_flanks() -> None:
    left = stock_left(10.2, 10.0, Kind.EXTERNAL_THREAD, lathe(29.5), Slide.CROSS_SLIDE, A30)
    assert left.leading_flank_mm == pytest.approx(0.05)
    assert left.trailing_flank_mm == pytest.approx(0.05)


def test_cut_past_the_aim_every_direction_is_negative() -> None:
    left = stock_left(9.9, 10.0, Kind.EXTERNAL_THREAD, lathe(29.5), Slide.COMPOUND, A30)
    parts = (
        left.diameter_mm,
        left.radial_mm,
        left.leading_flank_mm,
        left.trailing_flank_mm,
        left.cross_slide_dial_mm,
        left.compound_dial_mm,
    )
    assert all(part is not None and part < 0 for part in parts)


def test_too_steep_a_compound_warns_of_steps() -> None:
    steep = stock_left(10.2, 10.0, Kind.EXTERNAL_THREAD, lathe(31), Slide.COMPOUND, A30)
    assert any("trailing flank is left with steps" in each for each in steep.warnings)
    assert steep.trailing_flank_mm == 0
    at_half = stock_left(10.2, 10.0, Kind.EXTERNAL_THREAD, lathe(30), Slide.COMPOUND, A30)
    assert at_half.warnings == ()


def test_a_fine_feed_in_a_thread_shows_no_dial_and_says_why() -> None:
    left = stock_left(10.2, 10.0, Kind.INTERNAL_THREAD, lathe(84.26), Slide.COMPOUND, A30)
    assert left.compound_dial_mm is None
    assert left.leading_flank_mm is None
    assert any("one flank only" in each for each in left.warnings)
    plunged = stock_left(10.2, 10.4, Kind.INTERNAL_THREAD, lathe(84.26), Slide.CROSS_SLIDE, A30)
    assert plunged.compound_dial_mm is None
    assert plunged.leading_flank_mm == pytest.approx(0.05)
    assert plunged.warnings == ()


def test_a_bore_counts_metal_as_positive() -> None:
    left = stock_left(39.8, 40.0, Kind.BORE, lathe(84.26), Slide.CROSS_SLIDE)
    assert left.diameter_mm == pytest.approx(0.2)
    assert left.cross_slide_dial_mm == pytest.approx(0.1)
    assert left.compound_dial_mm == pytest.approx(0.1 / math.cos(math.radians(84.26)))
    assert left.leading_flank_mm is None
    assert left.trailing_flank_mm is None


def test_a_length_has_axial_stock_only() -> None:
    left = stock_left(50.3, 50.0, Kind.LENGTH, lathe(90), Slide.CARRIAGE)
    assert left.axial_mm == pytest.approx(0.3)
    assert left.carriage_dial_mm == pytest.approx(0.3)
    assert left.compound_dial_mm == pytest.approx(0.3)
    assert (left.diameter_mm, left.radial_mm, left.cross_slide_dial_mm) == (None, None, None)
    assert (left.leading_flank_mm, left.trailing_flank_mm) == (None, None)


def test_an_angled_compound_widens_a_groove() -> None:
    groove = stock_left(20.2, 20.0, Kind.GROOVE_DIAMETER, lathe(30), Slide.COMPOUND)
    assert any("widens the groove by 0.58" in each for each in groove.warnings)


def test_a_thread_needs_its_half_angle() -> None:
    with pytest.raises(ValueError, match="half angle"):
        stock_left(10.2, 10.0, Kind.EXTERNAL_THREAD, lathe(29.5), Slide.COMPOUND)


SIZES = st.floats(5, 200)
STOCKS = st.floats(0, 5)
KINDS = st.sampled_from(list(Kind))


@given(SIZES, KINDS, st.sampled_from(list(Slide)), st.floats(0, 90))
@settings(max_examples=100)
def test_stock_left_is_zero_at_the_aim(
    aim: float, kind: Kind, slide: Slide, theta_deg: float
) -> None:
    left = stock_left(aim, aim, kind, lathe(theta_deg), slide, A30)
    parts = (
        left.diameter_mm,
        left.radial_mm,
        left.axial_mm,
        left.leading_flank_mm,
        left.trailing_flank_mm,
        left.cross_slide_dial_mm,
        left.compound_dial_mm,
        left.carriage_dial_mm,
    )
    assert {part for part in parts if part is not None} == {0}


@given(SIZES, STOCKS, KINDS, st.floats(0, 90), st.sampled_from(["in", "mm"]))
@settings(max_examples=150)
def test_what_is_dialled_never_passes_the_aim_and_leaves_less_than_a_graduation(
    aim: float, stock: float, kind: Kind, theta_deg: float, unit: str
) -> None:
    graduation = Decimal("0.001") if unit == "in" else Decimal("0.02")
    dial = Dial("travel", graduation, unit)
    setting = CompoundSetting(math.radians(theta_deg))
    slides = Slides(Dial("diameter", graduation, unit), dial, setting, dial)
    size = aim - stock if kind.is_internal else aim + stock
    left = stock_left(size, aim, kind, slides, Slide.CROSS_SLIDE, A30)
    fed = 0
    for slide in Slide:
        on_dial = left.on_dial_mm(slide)
        if on_dial is None:
            continue
        fed += 1
        per_dial = size_per_dial(slide, slides, kind)
        step = slides.dial(slide).leaving_metal(on_dial)
        per_unit = 25.4 if unit == "in" else 1.0
        remaining = stock - float(step) * per_unit * per_dial
        one_graduation = float(graduation) * per_unit * per_dial
        noise = 2e-6 * one_graduation + 1e-12 * aim
        assert -noise <= remaining < one_graduation + noise
    assert fed >= 1


@given(SIZES, STOCKS, KINDS, st.floats(0, 44))
@settings(max_examples=60)
def test_inch_and_millimetre_dials_agree(
    aim: float, stock: float, kind: Kind, theta_deg: float
) -> None:
    setting = CompoundSetting(math.radians(theta_deg))
    inch, metric = Dial("travel", HUNDREDTH, "in"), Dial("travel", HUNDREDTH, "mm")
    size = aim + stock
    one, other = (
        stock_left(size, aim, kind, Slides(dial, dial, setting, dial), Slide.COMPOUND, A30)
        for dial in (inch, metric)
    )
    assert one == other
    assert stock_on_size_mm(size, aim, kind) == (-1 if kind.is_internal else 1) * (size - aim)
