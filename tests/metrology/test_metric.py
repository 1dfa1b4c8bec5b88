"""ISO metric threads over the whole range of the family: what must hold of every one."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.designation import read
from server.metrology.model import DesignationError, ThreadTarget
from server.metrology.threads.metric_series import combinations, written

EXTERNAL = [
    f"{grade}{position}{crest}{position}"
    for grade in range(3, 10)
    for crest in (4, 6, 8)
    for position in "efgh"
]
INTERNAL = [
    f"{grade}{position}{crest}{position}"
    for grade in range(4, 9)
    for crest in range(4, 9)
    for position in "GH"
]
EVERY_SIZE = [
    written(diameter, pitch) for diameter, pitches in combinations().items() for pitch in pitches
]


def thread(designation: str) -> ThreadTarget:
    target = read(designation)
    assert isinstance(target, ThreadTarget)
    return target


def read_or_refusal(designation: str) -> ThreadTarget | DesignationError:
    try:
        return thread(designation)
    except DesignationError as error:
        return error


def check(target: ThreadTarget) -> None:
    for limits in (target.major_diameter, target.pitch_diameter, target.minor_diameter):
        assert limits.tolerance_mm > 0.0009
    sign = 1 if target.kind.is_internal else -1
    pitch_low_mm, pitch_high_mm = target.pitch_diameter.both()
    go_mm = pitch_low_mm if target.kind.is_internal else pitch_high_mm
    shifted_mm = target.basic_pitch_diameter_mm + sign * target.allowance_mm
    assert go_mm == pytest.approx(shifted_mm, abs=1e-9)
    assert target.minor_diameter.both()[1] < pitch_low_mm
    assert pitch_high_mm < target.major_diameter.both()[0]
    if not target.kind.is_internal:
        assert target.major_diameter.both()[1] <= target.nominal_mm + 1e-9


@pytest.mark.parametrize("tolerance_class", ["6g", "4h", "5g6g", "6H", "4H5H", "6G"])
def test_limits_of_every_standard_size_are_in_order(tolerance_class: str) -> None:
    assert len(EVERY_SIZE) == 352
    for size in EVERY_SIZE:
        target = thread(f"{size}-{tolerance_class}")
        assert target.designation == f"{size}-{tolerance_class}"
        check(target)


@pytest.mark.parametrize("size", ["M5x0.8", "M10x1.5", "M30x2", "M100x6", "M300x8"])
def test_every_grade_and_position_is_read(size: str) -> None:
    seen = set()
    for tolerance_class in (*EXTERNAL, *INTERNAL):
        target = thread(f"{size}-{tolerance_class}")
        check(target)
        seen.add(target.tolerance_class)
    assert len(seen) == len(EXTERNAL) + len(INTERNAL)


def test_coarser_grades_are_wider_and_positions_shift() -> None:
    widths = [thread(f"M20x1.5-{n}g6g").pitch_diameter.tolerance_mm for n in range(3, 10)]
    assert widths == sorted(widths)
    assert len(set(widths)) == 7
    highs = [thread(f"M20x1.5-6{position}").major_diameter.both()[1] for position in "efgh"]
    assert highs == sorted(highs)
    assert highs[-1] == 20.0


def test_a_grade_too_coarse_for_a_fine_pitch_is_refused() -> None:
    answer = read_or_refusal("M3x0.5-8H")
    assert isinstance(answer, DesignationError)
    assert (answer.code, answer.part) == ("not_in_standard", "8H")
    assert answer.nearest == ("M3x0.5-6H",)


def test_a_grade_that_the_standard_leaves_out_is_marked() -> None:
    assert any("no grade 8" in note for note in thread("M3x0.5-8g").notes)
    assert not thread("M10x1.5-8g").notes


@settings(max_examples=250, deadline=None)
@given(
    st.decimals("1", "400", places=2),
    st.decimals("0.2", "10", places=2),
    st.sampled_from([*EXTERNAL, *INTERNAL]),
)
def test_special_sizes_are_in_order_or_refused(
    diameter: Decimal, pitch: Decimal, tolerance_class: str
) -> None:
    answer = read_or_refusal(f"M{diameter}x{pitch}-{tolerance_class}")
    if isinstance(answer, DesignationError):
        assert answer.code == "not_in_standard"
        assert answer.nearest
        return
    target = answer
    check(target)
    assert thread(target.designation).pitch_diameter == target.pitch_diameter
    in_series = pitch in combinations().get(diameter, {})
    assert in_series or any("outside the standard's range" in note for note in target.notes)
