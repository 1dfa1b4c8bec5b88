"""Stations along and around a diameter, the cure of a taper, and what gauges prove."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.decision import GuardRule, Verdict
from server.metrology.model import Limits
from server.metrology.stations import (
    Station,
    Taper,
    compound_shift_rad,
    cure_words,
    gauge_evidence,
    out_of_round_mm,
    tailstock_shift_mm,
    taper,
    worst_verdict,
)

LIMITS = Limits(24.98, 25.00)


def _at(
    size_mm: float, position_mm: float | None = None, angle_deg: float | None = None
) -> Station:
    return Station(size_mm, 0.002, 0.001, position_mm, angle_deg)


def _mm(length_mm: float) -> str:
    return f"{length_mm:.3f}"


@given(
    slope=st.floats(-0.01, 0.01), positions=st.lists(st.integers(0, 300), min_size=2, unique=True)
)
@settings(max_examples=60)
def test_the_taper_of_a_cone_is_its_slope(slope: float, positions: list[int]) -> None:
    found = taper([_at(25 + slope * x, float(x)) for x in positions])
    assert found is not None
    assert found.per_length == pytest.approx(slope, abs=1e-10)
    assert found.length_mm == max(positions) - min(positions)


def test_readings_around_one_position_count_as_their_mean() -> None:
    found = taper([_at(25.00, 0, 0), _at(25.02, 0, 90), _at(25.03, 100, 0), _at(25.03, 100, 90)])
    assert found is not None
    assert found.over_mm == pytest.approx(0.02)


def test_one_position_has_no_taper() -> None:
    assert taper([_at(25.0, 10.0), _at(25.01, 10.0)]) is None
    assert taper([_at(25.0), _at(25.01)]) is None


def test_the_tailstock_moves_by_half_the_taper_between_centres() -> None:
    """0.02 mm on 100 mm, 300 mm between centres: 0.06 on diameter, 0.03 at the tailstock.

    Derived: offset = taper x length / 2, the rule for turning a taper by set-over.
    """
    grown = Taper(0.0002, 0.02, 100.0)
    assert tailstock_shift_mm(grown, 300.0) == pytest.approx(0.03)
    with pytest.raises(ValueError, match="between centres"):
        tailstock_shift_mm(grown, 0.0)


def test_the_compound_swings_by_half_the_included_angle() -> None:
    assert math.degrees(compound_shift_rad(Taper(0.05, 5.0, 100.0))) == pytest.approx(
        1.432, abs=5e-4
    )


def test_moving_the_tailstock_as_told_turns_it_parallel() -> None:
    """Work between centres with the tailstock end e toward the tool is cut 2 e smaller there."""
    length_mm, misaligned_mm = 300.0, -0.04  # away from the operator: the tailstock end is large
    cut = [_at(25 - 2 * misaligned_mm * x / length_mm, x) for x in (20.0, 150.0, 280.0)]
    found = taper(cut)
    assert found is not None
    assert misaligned_mm + tailstock_shift_mm(found, length_mm) == pytest.approx(0, abs=1e-12)


def test_the_cure_is_said_with_its_direction() -> None:
    big_at_tailstock, big_at_chuck = Taper(0.0002, 0.02, 100.0), Taper(-0.0002, -0.02, 100.0)
    found = cure_words(big_at_tailstock, 300.0, _mm)
    assert "0.020 larger at the tailstock end over 100.000" in found
    assert "move the tailstock 0.030 toward the operator" in found
    assert "away from the operator" in cure_words(big_at_chuck, 300.0, _mm)
    chucked = cure_words(big_at_tailstock, None, _mm)
    assert "swing it 0.006°" in chucked
    assert "move the tailstock 0.010 toward the operator for every 100.000" in chucked
    assert "nearer to the axis" in chucked
    assert "away from the axis" in cure_words(big_at_chuck, None, _mm)
    assert "compound" in cure_words(big_at_chuck, 300.0, _mm, is_internal=True)
    assert cure_words(Taper(0.0, 0.0, 100.0), 300.0, _mm) == "No taper between the stations."


def test_out_of_round_is_the_worst_position() -> None:
    stations = [_at(25.00, 0, 0), _at(25.01, 0, 90), _at(25.00, 50, 0), _at(25.03, 50, 60)]
    assert out_of_round_mm(stations) == pytest.approx(0.03)
    assert out_of_round_mm([_at(25.0, 0, 0), _at(25.1, 50, 0)]) is None
    assert out_of_round_mm([_at(25.0), _at(25.1)]) is None


@pytest.mark.parametrize(
    ("sizes_mm", "outside", "inside"),
    [
        ([24.990, 24.992], Verdict.IN_LIMITS, Verdict.IN_LIMITS),
        ([24.990, 24.999], Verdict.TOO_CLOSE, Verdict.TOO_CLOSE),
        ([24.990, 25.010], Verdict.STOCK_LEFT, Verdict.PAST_LIMIT),
        ([24.990, 24.970], Verdict.PAST_LIMIT, Verdict.STOCK_LEFT),
        ([25.010, 24.970], Verdict.PAST_LIMIT, Verdict.PAST_LIMIT),
    ],
)
def test_the_worst_station_decides(
    sizes_mm: list[float], outside: Verdict, inside: Verdict
) -> None:
    stations = [_at(size) for size in sizes_mm]
    assert worst_verdict(stations, LIMITS, is_internal=False).verdict is outside
    assert worst_verdict(stations, LIMITS, is_internal=True).verdict is inside


def test_each_side_names_its_station() -> None:
    stations = [_at(24.985, 0), _at(24.995, 50), _at(24.990, 100)]
    shaft = worst_verdict(stations, LIMITS, is_internal=False)
    bore = worst_verdict(stations, LIMITS, is_internal=True)
    assert (shaft.metal_on, shaft.metal_gone) == (stations[1], stations[0])
    assert (bore.metal_on, bore.metal_gone) == (stations[0], stations[1])
    assert shaft.spread_mm == pytest.approx(0.010)
    assert not shaft.is_uncurable


def test_a_spread_over_the_tolerance_must_be_cured_first() -> None:
    found = worst_verdict([_at(24.99), _at(25.02)], LIMITS, is_internal=False)
    assert found.is_uncurable
    open_ended = worst_verdict([_at(1.0), _at(2.0)], Limits(None, 25.0), False, GuardRule.PLAIN)
    assert not open_ended.is_uncurable
    with pytest.raises(ValueError, match="no station"):
        worst_verdict([], LIMITS, is_internal=False)


@pytest.mark.parametrize(
    ("go", "not_go", "expected"),
    [
        (True, False, Verdict.IN_LIMITS),
        (True, True, Verdict.PAST_LIMIT),
        (None, True, Verdict.PAST_LIMIT),
        (False, False, Verdict.STOCK_LEFT),
        (False, None, Verdict.STOCK_LEFT),
        (True, None, None),
        (None, False, None),
        (False, True, None),
        (None, None, None),
    ],
)
@pytest.mark.parametrize("is_internal", [False, True])
def test_gauges_prove_what_taylor_says(
    go: bool | None, not_go: bool | None, expected: Verdict | None, is_internal: bool
) -> None:
    found = gauge_evidence(go, not_go, is_internal, is_thread=True)
    assert found.verdict is expected
    assert found.words


def test_the_words_name_the_limit_that_each_gauge_guards() -> None:
    ring = gauge_evidence(True, False, is_internal=False, is_thread=True).words
    assert "GO enters: nowhere beyond the high limit, form and lead included." in ring
    assert "pitch diameter is not past its low limit" in ring
    plug = gauge_evidence(True, True, is_internal=True, is_thread=False).words
    assert "beyond the low limit." in plug
    assert "past its high limit" in plug
    assert "disagree" in gauge_evidence(False, True, False, True).words
    assert gauge_evidence(None, None, False, False).words == "No gauge tried."
