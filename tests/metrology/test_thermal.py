"""Warm readings: published corrections, touch ranges, and the three states in their order."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.decision import RangeVerdict, Verdict
from server.metrology.model import OutOfRange
from server.metrology.thermal import (
    NOT_NOTED,
    TemperatureRange,
    Touch,
    TouchNeedsMetal,
    WarmState,
    expansion_factor,
    part_temperature,
    size_at_20c_mm,
    state,
    warm_size,
)
from tests.reference_rows import rows

STEEL = 11.5e-6
AGREED = RangeVerdict(*[Verdict.STOCK_LEFT] * 4)
FLIPPING = RangeVerdict(Verdict.TOO_CLOSE, Verdict.TOO_CLOSE, Verdict.IN_LIMITS, Verdict.IN_LIMITS)


@pytest.mark.parametrize("row", rows("thermal_examples"), ids=lambda row: row["case"])
def test_corrections_match_the_worked_examples_to_their_printed_digits(row: dict[str, str]) -> None:
    reading_mm = float(row["reading_mm"])
    size_mm = size_at_20c_mm(
        reading_mm,
        float(row["part_expansion_1e6"]) * 1e-6,
        float(row["part_temperature_c"]),
        float(row["instrument_expansion_1e6"]) * 1e-6,
        float(row["instrument_temperature_c"]),
    )
    shift_mm = reading_mm - size_mm
    found = {"size_mm": size_mm, "shift_um": shift_mm * 1e3, "shift_nm": shift_mm * 1e6}
    assert found[row["quantity"]] == pytest.approx(
        float(row["printed"]), abs=float(row["half_digit"])
    )


def test_a_part_and_an_instrument_alike_need_no_correction_at_any_temperature() -> None:
    assert expansion_factor(STEEL, 33.0, STEEL, 33.0) == 1.0


@given(
    temperature_c=st.floats(-10, 90),
    expansion=st.floats(1e-6, 2e-4),
    size_mm=st.floats(1, 500),
)
@settings(max_examples=100)
def test_warming_a_part_and_correcting_gives_its_size_back(
    temperature_c: float, expansion: float, size_mm: float
) -> None:
    warm_mm = size_mm * (1 + expansion * (temperature_c - 20))
    found_mm = size_at_20c_mm(warm_mm, expansion, temperature_c, STEEL, 20.0)
    assert found_mm == pytest.approx(size_mm, rel=1e-12)


@pytest.mark.parametrize(
    ("note", "minutes", "low_c", "high_c"),
    [
        (Touch.SHOP, 1.0, 18.0, 28.0),
        (Touch.SHOP, 31.0, 18.0, 22.0),
        (Touch.SHOP, None, 18.0, 22.0),
        (None, 5.0, 18.0, 30.0),
        (None, 30.0, 18.0, 30.0),
        (None, 31.0, 18.0, 22.0),
        (None, None, 18.0, 22.0),
        (Touch.BARELY_WARM, 1.0, 28.0, 36.0),
        (Touch.WARM, 1.0, 34.0, 46.0),
        (Touch.TOO_HOT, None, 44.0, 70.0),
    ],
)
def test_a_touch_is_a_range(
    note: Touch | None, minutes: float | None, low_c: float, high_c: float
) -> None:
    found = part_temperature(note, 20.0, minutes, is_metal=True)
    assert (found.low_c, found.high_c) == (low_c, high_c)
    assert not found.is_number
    assert found.spread_c == 0


def test_touch_ranges_keep_to_the_published_bounds_of_the_skin() -> None:
    """Neutral 33, pain from 45, no injury below 44, instant burn above 70 (sensory physiology)."""
    at = {touch: part_temperature(touch, 20.0, 1.0, is_metal=True) for touch in Touch}
    assert at[Touch.BARELY_WARM].low_c < 33 < at[Touch.BARELY_WARM].high_c
    assert at[Touch.WARM].low_c > 30
    assert at[Touch.WARM].high_c <= 46
    assert at[Touch.TOO_HOT].low_c == 44
    assert at[Touch.TOO_HOT].high_c == 70
    assert [at[touch].middle_c for touch in Touch] == sorted(at[touch].middle_c for touch in Touch)


def test_in_a_hot_shop_a_part_is_never_taken_for_colder_than_the_shop() -> None:
    found = part_temperature(Touch.BARELY_WARM, 38.0, 1.0, is_metal=True)
    assert found.low_c == 36.0
    assert found.high_c > found.low_c


def test_a_user_can_narrow_a_touch() -> None:
    found = part_temperature(
        Touch.WARM, 20.0, 1.0, is_metal=True, ranges_c={Touch.WARM: (38.0, 41.0)}
    )
    assert (found.low_c, found.high_c) == (38.0, 41.0)
    other = part_temperature(
        Touch.TOO_HOT, 20.0, 1.0, is_metal=True, ranges_c={Touch.WARM: (38.0, 41.0)}
    )
    assert other.low_c == 44.0


def test_a_plastic_needs_a_number() -> None:
    with pytest.raises(TouchNeedsMetal, match="measure its temperature"):
        part_temperature(Touch.WARM, 20.0, 1.0, is_metal=False)
    assert part_temperature(26.0, 20.0, 1.0, is_metal=False).low_c == 26.0


def test_a_number_is_one_size_and_its_spread_goes_to_the_doubt() -> None:
    found = part_temperature(31.5, 20.0, 1.0, is_metal=True)
    assert (found.low_c, found.high_c, found.spread_c) == (31.5, 31.5, 0.5)
    assert found.is_number
    assert not warm_size(25.0, found, STEEL, STEEL, 20.0).is_range


@pytest.mark.parametrize("value", [-41.0, 301.0, float("nan"), float("inf")])
def test_temperatures_nobody_measures_at_are_refused(value: float) -> None:
    with pytest.raises(OutOfRange, match="temperature"):
        part_temperature(value, 20.0, None, is_metal=True)
    with pytest.raises(OutOfRange, match="temperature"):
        expansion_factor(STEEL, 20.0, STEEL, value)


def test_nothing_noted_is_said_to_be_not_noted() -> None:
    found = part_temperature(None, 20.0, None, is_metal=True)
    assert (found.words, found.is_noted) == (NOT_NOTED, False)


@pytest.mark.parametrize("note", [*Touch, 20.0])
def test_a_touch_or_a_number_is_a_note(note: float | Touch) -> None:
    found = part_temperature(note, 20.0, None, is_metal=True)
    assert found.is_noted
    assert found.touch == (note if isinstance(note, Touch) else None)


def test_a_warm_part_reads_large_and_its_size_is_a_range() -> None:
    warm = TemperatureRange(30.0, 40.0, "warm in the hand")
    size = warm_size(25.0, warm, STEEL, STEEL, 20.0)
    assert size.shift_low_mm == pytest.approx(25 * STEEL * 10, rel=1e-3)
    assert size.shift_high_mm == pytest.approx(25 * STEEL * 20, rel=1e-3)
    assert size.low_mm == 25.0 - size.shift_high_mm
    assert size.high_mm == 25.0 - size.shift_low_mm
    assert size.low_mm < size.central_mm < size.high_mm
    assert size.thermal_error_mm == size.shift_high_mm


def test_over_wires_the_reading_is_corrected_before_the_wire_geometry() -> None:
    warm = TemperatureRange(40.0, 40.0, "40 °C", is_number=True)
    reading_mm, constant_mm = 16.1, 1.2
    size = warm_size(reading_mm, warm, STEEL, STEEL, 20.0, lambda m: m - constant_mm)
    factor = expansion_factor(STEEL, 40.0, STEEL, 20.0)
    assert size.central_mm == pytest.approx(reading_mm * factor - constant_mm, abs=1e-12)
    assert size.shift_low_mm == pytest.approx(reading_mm * (1 - factor), abs=1e-12)


@pytest.mark.parametrize(
    ("verdicts", "move", "error_mm", "expected"),
    [
        (FLIPPING, 0.0, 0.0, WarmState.WAIT),
        (AGREED, 0.0011, 0.0, WarmState.WAIT),
        (AGREED, -0.0011, 0.0, WarmState.WAIT),
        (AGREED, 0.0010, 0.012, WarmState.SETTLED),
        (AGREED, 0.0, 0.0121, WarmState.DRIFTING),
    ],
)
def test_wait_is_tested_before_settled_and_drifting_is_the_rest(
    verdicts: RangeVerdict, move: float, error_mm: float, expected: WarmState
) -> None:
    assert state(verdicts, move, 0.001, error_mm, tolerance_mm=0.12) is expected
