"""Unified threads over the whole range of the family: what must hold of every one."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from server.metrology.designation import read
from server.metrology.model import DesignationError, ThreadTarget
from server.metrology.threads.unified_limits import CLASSES, pitch_tolerance_2a
from server.metrology.threads.unified_series import combinations, size_name, tpi_name

EVERY_SERIES_THREAD = [
    f"{size_name(diameter)}-{tpi_name(tpi)} {series}"
    for (diameter, tpi), series in combinations().items()
]
LEAST_MM = 0.9 * 0.0001 * 25.4  # limits are a whole number of .0001 in apart


def thread(designation: str) -> ThreadTarget:
    target = read(designation)
    assert isinstance(target, ThreadTarget)
    return target


def read_or_refusal(designation: str) -> ThreadTarget | DesignationError:
    try:
        return thread(designation)
    except DesignationError as error:
        return error


def check_external(target: ThreadTarget) -> None:
    allowance_mm = target.allowance_mm
    assert target.major_diameter.tolerance_mm > LEAST_MM
    assert target.pitch_diameter.tolerance_mm > LEAST_MM
    high_mm = target.pitch_diameter.high_mm
    assert high_mm is not None
    assert high_mm <= target.basic_pitch_diameter_mm - allowance_mm + 1e-9 + LEAST_MM
    major_low_mm, major_high_mm = target.major_diameter.both()
    assert major_high_mm == pytest.approx(target.nominal_mm - allowance_mm, abs=LEAST_MM)
    assert high_mm < major_low_mm
    assert target.minor_diameter.high_mm is not None
    assert target.minor_diameter.high_mm < target.pitch_diameter.both()[0]


def check_internal(target: ThreadTarget) -> None:
    assert target.allowance_mm == 0
    assert target.pitch_diameter.tolerance_mm > LEAST_MM
    assert target.minor_diameter.tolerance_mm > LEAST_MM
    low_mm, high_mm = target.pitch_diameter.both()
    assert low_mm == target.basic_pitch_diameter_mm
    assert target.major_diameter.low_mm is not None
    assert high_mm < target.major_diameter.low_mm
    assert target.minor_diameter.both()[1] < low_mm


@pytest.mark.parametrize("tolerance_class", CLASSES)
def test_limits_of_every_series_thread_are_in_order(tolerance_class: str) -> None:
    assert len(EVERY_SERIES_THREAD) == 357
    for name in EVERY_SERIES_THREAD:
        target = thread(f"{name}-{tolerance_class}")
        assert target.designation == f"{name}-{tolerance_class}"
        check = check_external if tolerance_class.endswith("A") else check_internal
        check(target)


@pytest.mark.parametrize("name", EVERY_SERIES_THREAD[::9])
def test_a_finer_class_lies_inside_the_coarser(name: str) -> None:
    first, second, third = (thread(f"{name}-{number}A") for number in (1, 2, 3))
    assert first.pitch_diameter.both()[0] < second.pitch_diameter.both()[0]
    assert first.pitch_diameter.high_mm == second.pitch_diameter.high_mm
    assert second.pitch_diameter.tolerance_mm > third.pitch_diameter.tolerance_mm
    widths = [thread(f"{name}-{number}B").pitch_diameter.tolerance_mm for number in (1, 2, 3)]
    assert widths[0] > widths[1] > widths[2]


@pytest.mark.parametrize("name", EVERY_SERIES_THREAD[::9])
def test_go_sides_assemble(name: str) -> None:
    """The largest screw of every class goes into the smallest nut of every class."""
    for number in (1, 2, 3):
        screw, nut = thread(f"{name}-{number}A"), thread(f"{name}-{number}B")
        assert screw.pitch_diameter.both()[1] <= nut.pitch_diameter.both()[0]
        assert screw.major_diameter.both()[1] <= nut.nominal_mm + 1e-9


def test_neighbour_sizes_of_the_nine_pitch_series_share_a_tolerance() -> None:
    """As the printed tables have it: 7/8 at 3/4, 15/16 at 1, 5 3/4 at 6."""
    for size, at in (("0.875", "0.75"), ("0.9375", "1"), ("5.75", "6")):
        tolerance = pitch_tolerance_2a(Decimal(size), Decimal(16), None)
        assert tolerance == pitch_tolerance_2a(Decimal(at), Decimal(16), None)
    over_diameter = pitch_tolerance_2a(Decimal("0.875"), Decimal(9), Decimal("0.875"))
    assert over_diameter != pitch_tolerance_2a(Decimal("0.75"), Decimal(9), Decimal("0.875"))


@settings(max_examples=200, deadline=None)
@example(Decimal("0.4380"), 3, "2A", "UNS")
@given(
    st.decimals("0.05", "12", places=4),
    st.integers(1, 100),
    st.sampled_from(["2A", "3A", "2B", "3B"]),
    st.sampled_from(["UNS", "UNRS", "UNJS"]),
)
def test_special_sizes_are_in_order_or_refused(
    diameter: Decimal, tpi: int, tolerance_class: str, series: str
) -> None:
    answer = read_or_refusal(f"{diameter}-{tpi} {series}-{tolerance_class}")
    if isinstance(answer, DesignationError):
        assert answer.code == "not_in_standard"
        assert answer.nearest
        return
    target = answer
    (check_external if tolerance_class.endswith("A") else check_internal)(target)
    assert target.notes
    assert thread(target.designation).pitch_diameter == target.pitch_diameter
