import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.dials import (
    CompoundSetting,
    Dial,
    Slide,
    SlideCannotFeed,
    Slides,
    depth_per_dial,
    dial_step_mm,
    rounded_to_leave_metal,
    size_per_dial,
    swing_words,
)
from server.metrology.model import Kind, OutOfRange

ROUND = (Kind.OUTSIDE_DIAMETER, Kind.BORE)
THOU = Decimal("0.001")


def slides(
    angle_deg: float = 29.5,
    measured_from: str = "cross_slide",
    counts: str = "travel",
) -> Slides:
    dial = Dial(counts, THOU, "in")  # type: ignore[arg-type]
    setting = CompoundSetting(math.radians(angle_deg), measured_from)  # type: ignore[arg-type]
    return Slides(dial, dial, setting, Dial("travel", Decimal("0.1"), "mm"))


# Diameter per unit of slide travel, printed to 5 places (computed, agrees with a polygon).
@pytest.mark.parametrize(
    ("theta_deg", "diameter_per_travel"),
    [
        (14, 1.94059),
        (14.5, 1.93630),
        (15, 1.93185),
        (25, 1.81262),
        (27, 1.78201),
        (29, 1.74924),
        (29.5, 1.74071),
        (30, 1.73205),
    ],
)
def test_compound_feeds_the_diameter_by_twice_the_cosine(
    theta_deg: float, diameter_per_travel: float
) -> None:
    ratio = size_per_dial(Slide.COMPOUND, slides(theta_deg), Kind.EXTERNAL_THREAD)
    assert ratio == pytest.approx(diameter_per_travel, abs=0.5e-5)


@pytest.mark.parametrize("kind", ROUND)
def test_cross_slide_dial_counts_what_it_says(kind: Kind) -> None:
    assert size_per_dial(Slide.CROSS_SLIDE, slides(counts="diameter"), kind) == 1
    assert size_per_dial(Slide.CROSS_SLIDE, slides(counts="travel"), kind) == 2


@pytest.mark.parametrize("kind", ROUND)
def test_fine_feed_of_ten_to_one_is_5_739_degrees_from_the_axis(kind: Kind) -> None:
    # asin(0.1) = 5.739 deg; a published hobby machining article gives 5.75 deg: 0.1002
    assert depth_per_dial(Slide.COMPOUND, slides(5.739, "axis"), kind) == pytest.approx(
        0.1, abs=0.5e-5
    )
    assert depth_per_dial(Slide.COMPOUND, slides(5.75, "axis"), kind) == pytest.approx(
        0.1002, abs=0.5e-4
    )


def test_both_scale_conventions_are_put_in_words() -> None:
    # One setting reads 29.5 or 60.5 by the scale (published: a school shop test)
    words = CompoundSetting(math.radians(29.5)).words
    assert "29.5° on a scale that is zero along the cross-slide" in words
    assert "60.5° on a scale that is zero along the lathe axis" in words
    assert CompoundSetting(math.radians(60.5), "axis").words == words


def test_lengths_are_fed_by_the_carriage_or_along_the_axis() -> None:
    assert size_per_dial(Slide.CARRIAGE, slides(), Kind.LENGTH) == 1
    assert size_per_dial(Slide.COMPOUND, slides(0, "axis"), Kind.LENGTH) == 1
    assert size_per_dial(Slide.COMPOUND, slides(30, "axis"), Kind.LENGTH) == pytest.approx(
        math.cos(math.radians(30))
    )


@pytest.mark.parametrize(
    ("slide", "angle_deg", "measured_from", "kind", "says"),
    [
        (Slide.CARRIAGE, 29.5, "cross_slide", Kind.BORE, "can't feed a diameter"),
        (Slide.CROSS_SLIDE, 29.5, "cross_slide", Kind.LENGTH, "can't feed a length"),
        (Slide.COMPOUND, 0, "cross_slide", Kind.LENGTH, "square to the lathe axis"),
        (Slide.COMPOUND, 0, "axis", Kind.OUTSIDE_DIAMETER, "lies along the lathe axis"),
        (Slide.COMPOUND, 5.74, "axis", Kind.EXTERNAL_THREAD, "one flank only"),
        (Slide.COMPOUND, 29.5, "axis", Kind.INTERNAL_THREAD, "29.5° is measured from there"),
        (Slide.COMPOUND, 5.74, "axis", Kind.GROOVE_DIAMETER, "side of the groove"),
    ],
)
def test_a_slide_that_cannot_feed_says_what_would(
    slide: Slide, angle_deg: float, measured_from: str, kind: Kind, says: str
) -> None:
    with pytest.raises(SlideCannotFeed, match=says) as caught:
        size_per_dial(slide, slides(angle_deg, measured_from), kind)
    assert caught.value.slide is slide


def test_a_missing_dial_or_angle_is_named() -> None:
    bare = Slides(Dial("travel", THOU, "in"))
    with pytest.raises(SlideCannotFeed, match="No dial is noted for the compound"):
        size_per_dial(Slide.COMPOUND, bare, Kind.BORE)
    unset = Slides(bare.cross_slide, bare.cross_slide)
    with pytest.raises(SlideCannotFeed, match="angle of the compound is not noted"):
        size_per_dial(Slide.COMPOUND, unset, Kind.BORE)


@pytest.mark.parametrize("angle_deg", [-0.1, 90.1, math.nan])
def test_a_compound_angle_outside_a_quarter_turn_is_refused(angle_deg: float) -> None:
    with pytest.raises(OutOfRange, match="compound angle"):
        CompoundSetting(math.radians(angle_deg))


def test_words_for_a_dial_or_scale_that_is_none_are_refused() -> None:
    with pytest.raises(ValueError, match="diameter or travel"):
        Dial("radius", THOU)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="cross_slide or axis"):
        CompoundSetting(0.1, "spindle")  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match="graduation"):
        Dial("travel", Decimal(0))
    with pytest.raises(ValueError, match="use in or mm"):
        Dial("travel", THOU, "cm")


@pytest.mark.parametrize(
    ("step", "graduation", "rounded"),
    [
        (0.0690, "0.001", "0.069"),
        (0.06899999999999999, "0.001", "0.069"),
        (0.06899, "0.001", "0.068"),
        (0.0695, "0.0005", "0.0695"),
        (0.00099999999999, "0.001", "0.001"),
        (0.0009, "0.001", "0.000"),
        (-0.0001, "0.001", "-0.001"),
        (-0.002, "0.001", "-0.002"),
        (0.1749, "0.02", "0.16"),
    ],
)
def test_steps_are_rounded_toward_leaving_metal(step: float, graduation: str, rounded: str) -> None:
    assert rounded_to_leave_metal(step, Decimal(graduation)) == Decimal(rounded)


def test_a_typed_inch_graduation_stays_exact_through_millimetres() -> None:
    step_mm = dial_step_mm(
        0.6480 * 25.4 - 0.5790 * 25.4,
        Slide.CROSS_SLIDE,
        slides(counts="diameter"),
        Kind.OUTSIDE_DIAMETER,
    )
    assert str(Dial("diameter", THOU, "in").leaving_metal(step_mm)) == "0.069"


# Common practice for a tool in front of the work; internal and left-hand each turn it round.
@pytest.mark.parametrize(
    ("kind", "hand", "handle", "leading"),
    [
        (Kind.EXTERNAL_THREAD, "right", "tailstock", "headstock"),
        (Kind.EXTERNAL_THREAD, "left", "headstock", "tailstock"),
        (Kind.INTERNAL_THREAD, "right", "headstock", "headstock"),
        (Kind.INTERNAL_THREAD, "left", "tailstock", "tailstock"),
    ],
)
def test_hand_and_inside_swing_the_compound_round(
    kind: Kind, hand: str, handle: str, leading: str
) -> None:
    words = swing_words(kind, hand)
    assert f"handle end of the compound toward the {handle}" in words
    assert f"leading flank is the one on the {leading} side" in words
    assert ("drawing it back" in words) is kind.is_internal


def test_a_plain_size_has_no_leading_flank() -> None:
    with pytest.raises(ValueError, match="leading flank"):
        swing_words(Kind.BORE, "right")


@given(
    st.decimals("-2", "2", places=6),
    st.sampled_from(["0.0001", "0.0005", "0.001", "0.01", "0.02", "0.05", "0.025"]),
)
@settings(max_examples=100)
def test_rounding_never_exceeds_and_loses_less_than_a_graduation(
    step: Decimal, graduation_text: str
) -> None:
    graduation = Decimal(graduation_text)
    rounded = rounded_to_leave_metal(step, graduation)
    assert rounded % graduation == 0
    assert 0 <= step - rounded < graduation


@given(st.integers(0, 100_000), st.sampled_from(["0.0001", "0.0005", "0.001", "0.02"]))
@settings(max_examples=100)
def test_a_whole_number_of_graduations_stays_what_it_is(count: int, graduation_text: str) -> None:
    graduation = Decimal(graduation_text)
    dial = Dial("travel", graduation, "in")
    assert dial.leaving_metal(float(count * graduation) * 25.4) == count * graduation


@given(st.floats(0, 90), st.sampled_from(list(Kind)))
@settings(max_examples=100)
def test_both_compound_conventions_agree(theta_deg: float, kind: Kind) -> None:
    def feed(lathe: Slides) -> float | None:
        try:
            return size_per_dial(Slide.COMPOUND, lathe, kind)
        except SlideCannotFeed:
            return None

    one, other = feed(slides(theta_deg)), feed(slides(90 - theta_deg, "axis"))
    if one is not None and other is not None:
        assert one == pytest.approx(other, rel=1e-9)
    else:  # only within rounding of the angle at which a feed is refused
        assert one is other or min(abs(theta_deg - at) for at in (0.5, 45, 89.5)) < 1e-9
