"""Internal threads over balls, against brute force in the plane and in space."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology import balls
from server.metrology.balls import BallUnusable, Feelers, Taken
from server.metrology.model import Kind, OutOfRange, Rule, ThreadTarget
from tests.metrology.wire_targets import DEG_14_5, DEG_27_5, DEG_30, INCH, exactly, thread


def internal(
    e: float, pitch: float, half_angle: float = DEG_30, starts: int = 1, family: str = "metric"
) -> ThreadTarget:
    """A nut with no tolerance and half a pitch of flank."""
    return thread(
        major=(e + 0.55 * pitch, e + 0.55 * pitch),
        pitch=(e, e),
        minor=(e - 0.4 * pitch, e - 0.4 * pitch),
        pitch_mm=pitch,
        half_angle_rad=half_angle,
        starts=starts,
        family=family,
        kind=Kind.INTERNAL_THREAD,
    )


# ASME B1.1, 5/8-18 UNF-2B: minor 0.565-0.578, pitch 0.5889-0.5949, major minimum 0.6250
UNF_5_8_18_2B = thread(
    major=(0.625 * INCH, None),
    pitch=(0.5889 * INCH, 0.5949 * INCH),
    minor=(0.565 * INCH, 0.578 * INCH),
    pitch_mm=INCH / 18,
    nominal_mm=0.625 * INCH,
    kind=Kind.INTERNAL_THREAD,
    unit="in",
)


def brute_force_centre_mm(e: float, d: float, p: float, lead: float, a: float) -> float:
    """R: how far out a ball can be pushed before some point of the flank stops it.

    A grid on the flank, narrowed again and again; the other flank is its mirror image by half a
    turn about the measuring line.
    """
    q, k, tan_a = d / 2, lead / math.tau, math.tan(a)
    r_mid, t_mid = e / 2 - (q * math.cos(a) - p / 4) / tan_a, 0.0
    r_span, t_span = p, 0.6
    best = math.inf
    for _ in range(14):
        r = np.linspace(max(r_mid - r_span, 1e-6), r_mid + r_span, 61)[:, None]
        t = np.linspace(t_mid - t_span, t_mid + t_span, 61)[None, :]
        z = p / 4 - (r - e / 2) * tan_a + k * t
        reach = q * q - (r * np.sin(t)) ** 2 - z**2
        stops = r * np.cos(t) - np.sqrt(np.where((reach > 0) & (z - k * t > 0), reach, np.nan))
        i, j = np.unravel_index(np.nanargmin(stops), stops.shape)
        best = float(stops[i, j])
        r_mid, t_mid = float(r[i, 0]), float(t[0, j])
        r_span, t_span = r_span / 3, t_span / 3
    return best


CASES = [
    pytest.param(9.026, 1.5, DEG_30, 1, 1.0, id="M10x1.5"),
    pytest.param(9.026, 1.5, DEG_30, 4, 1.1, id="M10x1.5 four starts"),
    pytest.param(14.958, INCH / 18, DEG_30, 1, 0.9, id="5/8-18"),
    pytest.param(22.86, 5.08, DEG_14_5, 1, 1.0, id="1-5 Acme"),
    pytest.param(22.86, 5.08, DEG_14_5, 4, 1.0, id="1-5 Acme four starts"),
    pytest.param(11.345, INCH / 12, DEG_27_5, 2, 1.05, id="1/2-12 BSW two starts"),
]


@pytest.mark.parametrize(("e", "p", "a", "starts", "bests"), CASES)
def test_exact_reading_agrees_with_brute_force(
    e: float, p: float, a: float, starts: int, bests: float
) -> None:
    target = internal(e, p, a, starts)
    d = bests * p / (2 * math.cos(a))
    centres = 2 * brute_force_centre_mm(e, d, p, target.lead_mm, a)

    square = balls.reading_mm(e, target, d, Rule.EXACT, Feelers.THREE)

    assert square == pytest.approx(centres + d, abs=0.0001)


@pytest.mark.parametrize(("e", "p", "a", "starts", "bests"), CASES)
def test_handbook_reading_is_the_plane_groove(
    e: float, p: float, a: float, starts: int, bests: float
) -> None:
    target = internal(e, p, a, starts)
    d = bests * p / (2 * math.cos(a))
    centres = 2 * brute_force_centre_mm(e, d, p, 0.0, a)

    square = balls.reading_mm(e, target, d, Rule.HANDBOOK, Feelers.THREE)

    assert square == pytest.approx(centres + d, abs=0.0001)


def test_two_balls_lean_by_half_a_pitch_unless_the_starts_are_even() -> None:
    d = 0.9
    odd, even = internal(9.0, 1.5), internal(9.0, 1.5, starts=2)
    centres = 9.0 + 0.75 / math.tan(DEG_30) - d / math.sin(DEG_30)

    leaning = balls.reading_mm(9.0, odd, d, Rule.HANDBOOK, Feelers.TWO)
    square = balls.reading_mm(9.0, even, d, Rule.HANDBOOK, Feelers.TWO)

    assert leaning == pytest.approx(math.sqrt(centres**2 + 0.75**2) + d)
    assert square == pytest.approx(centres + d)


def test_across_and_between_differ_by_two_balls() -> None:
    target = internal(9.0, 1.5)
    across = balls.reading_mm(9.0, target, 0.9, Rule.EXACT, Feelers.TWO, Taken.ACROSS)
    between = balls.reading_mm(9.0, target, 0.9, Rule.EXACT, Feelers.TWO, Taken.BETWEEN)

    assert across - between == pytest.approx(1.8)


def test_best_ball_reads_the_same_whatever_the_half_angle_is_by_a_hair() -> None:
    """Contact at the pitch line: the reading's change with the half angle vanishes there."""
    p, step = 1.5, 1e-4
    best = balls.usable(internal(9.0, p)).best_mm
    narrow, wide = (
        balls.reading_mm(9.0, internal(9.0, p, DEG_30 + shift), best, Rule.HANDBOOK, Feelers.THREE)
        for shift in (-step, step)
    )

    assert (wide - narrow) / (2 * step) == pytest.approx(0, abs=1e-6)


def test_unified_2b_limits_over_balls() -> None:
    d = 0.032 * INCH
    over = balls.over_balls(UNF_5_8_18_2B, d, feelers=Feelers.THREE)
    constant = INCH / 36 / math.tan(DEG_30) - d

    assert over.rule is Rule.HANDBOOK
    assert over.low_mm == pytest.approx(0.5889 * INCH + constant)
    assert over.high_mm == pytest.approx(0.5949 * INCH + constant)
    assert over.middle_mm == pytest.approx((over.low_mm + over.high_mm) / 2)
    assert abs(over.lead_correction_mm) < 0.0015


def test_many_starts_take_the_exact_rule() -> None:
    target = internal(22.86, 5.08, DEG_14_5, 4)
    best = balls.usable(target).best_mm
    over = balls.over_balls(target, best)

    assert over.rule is Rule.EXACT
    handbook = balls.over_balls(target, best, Rule.HANDBOOK)
    assert over.low_mm - handbook.low_mm == pytest.approx(over.lead_correction_mm)


def test_bounds_touch_crest_and_bore() -> None:
    """The smallest ball leaves the smallest bore as gap, the largest touches at the largest."""
    fits = balls.usable(UNF_5_8_18_2B)
    e_low, e_high = UNF_5_8_18_2B.pitch_diameter.both()
    bore_low, bore_high = UNF_5_8_18_2B.minor_diameter.both()
    gap = balls.reading_mm(
        e_high, UNF_5_8_18_2B, fits.smallest_mm, Rule.HANDBOOK, Feelers.THREE, Taken.BETWEEN
    )
    touches = e_low - (fits.largest_mm * math.cos(DEG_30) - INCH / 36) / math.tan(DEG_30)

    assert gap == pytest.approx(bore_low)
    assert touches == pytest.approx(bore_high)
    assert fits.smallest_mm < fits.best_mm < fits.largest_mm


def test_a_deep_bore_lets_the_root_decide_and_a_round_crest_the_flank() -> None:
    shallow = thread(
        major=(22.9, 22.9),
        pitch=(22.86, 22.86),
        minor=(20.0, 20.0),
        pitch_mm=5.08,
        half_angle_rad=DEG_14_5,
        kind=Kind.INTERNAL_THREAD,
    )
    rounded = thread(
        major=(12.7, 12.7),
        pitch=(11.345, 11.345),
        minor=(9.989, 9.989),
        pitch_mm=INCH / 12,
        half_angle_rad=DEG_27_5,
        family="whitworth",
        kind=Kind.INTERNAL_THREAD,
    )

    assert "root" in balls.usable(shallow).smallest_because
    assert "rounded crest" in balls.usable(rounded).largest_because


def test_an_unusable_ball_says_what_would_do() -> None:
    with pytest.raises(BallUnusable, match=r"Ball 0.0200 in is too small; use 0.0260 to 0.0393 in"):
        balls.over_balls(UNF_5_8_18_2B, 0.020 * INCH)
    with pytest.raises(BallUnusable, match="too large.*corners of the crest") as fault:
        balls.over_balls(UNF_5_8_18_2B, 0.050 * INCH)
    assert not fault.value.is_too_small


def test_an_external_thread_takes_no_balls() -> None:
    with pytest.raises(ValueError, match="internal threads"):
        balls.usable(exactly(10, 9, 1.5))


@settings(max_examples=100)
@given(
    st.floats(4, 200),
    st.floats(0.02, 0.15),
    st.sampled_from([DEG_30, DEG_27_5, DEG_14_5]),
    st.integers(1, 3),
    st.floats(0.95, 1.1),
    st.sampled_from(list(Rule)),
    st.sampled_from(list(Feelers)),
    st.sampled_from(list(Taken)),
)
def test_pitch_diameter_is_the_way_back(
    e: float,
    ratio: float,
    a: float,
    starts: int,
    bests: float,
    rule: Rule,
    feelers: Feelers,
    taken: Taken,
) -> None:
    target = internal(e, ratio * e, a, starts)
    d = bests * target.pitch_mm / (2 * math.cos(a))
    reads = balls.reading_mm(e, target, d, rule, feelers, taken)

    assert balls.pitch_diameter_mm(reads, target, d, rule, feelers, taken) == pytest.approx(
        e, abs=1e-8
    )
    assert balls.reading_mm(e + 1e-3, target, d, rule, feelers, taken) > reads


def test_impossible_values_are_refused() -> None:
    target = internal(9.0, 1.5)
    with pytest.raises(OutOfRange, match="reading over balls"):
        balls.pitch_diameter_mm(1.0, target, 0.9, Rule.EXACT)
    with pytest.raises(OutOfRange, match="pitch diameter"):
        balls.reading_mm(9.0, internal(9.0, 1.5, starts=12), 0.9, Rule.EXACT)
