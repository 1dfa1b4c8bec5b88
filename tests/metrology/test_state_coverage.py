"""Whole states as the program judges them: warmth known unequally well, and reading again."""

from __future__ import annotations

import math

import pytest

from tests.bench.coverage_states import MIXED, Mixed, holds, repeated

STATES = 3_000  # 6,000 to 12,000 readings each
WRONG = 0.025 + 2 * math.sqrt(0.025 * 0.975 / STATES)


@pytest.mark.parametrize("mixed", MIXED, ids=lambda mixed: mixed.name)
def test_a_state_of_readings_unequally_warm_holds_the_truth(mixed: Mixed) -> None:
    assert holds(mixed, STATES) >= 0.93


@pytest.mark.parametrize(
    ("scatter_mm", "max_error_mm", "recorded"),
    [(0.001, 0.001, 0), (0.001, 0.004, 0), (0.002, 0.001, 6), (0.004, 0.004, 6)],
)
def test_reading_again_until_it_is_in_limits_is_seldom_wrong_near_the_limit(
    scatter_mm: float, max_error_mm: float, recorded: int
) -> None:
    found = repeated(scatter_mm, max_error_mm, 2_000, recorded=recorded, spread_doubts=2.0)
    assert found.calls > 300
    assert found.wrong_of_calls < WRONG


@pytest.mark.parametrize("max_error_mm", [0.001, 0.004])
def test_nor_right_at_it_where_a_hand_repeats_as_is_taken(max_error_mm: float) -> None:
    assert repeated(0.001, max_error_mm, STATES).wrong_of_all < WRONG
