"""Simulated readings with known truth: does the stated interval hold it as often as it says?"""

from __future__ import annotations

import math

import pytest

from tests.bench.coverage import (
    SCENARIOS,
    Scenario,
    coverage,
    simulate,
    wrong_among_in_limits,
    wrongly_in_limits,
)

READINGS = 20_000
TWO_STANDARD_ERRORS = 2 * math.sqrt(0.025 * 0.975 / READINGS)


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_the_stated_interval_holds_the_truth(scenario: Scenario) -> None:
    outcomes = simulate(scenario, READINGS)
    held = coverage(outcomes)
    assert held >= 0.93
    if not scenario.is_rectangular:
        assert held <= 0.97
    assert wrong_among_in_limits(outcomes, is_internal=False) < 0.025 + TWO_STANDARD_ERRORS
    # With the truth right at its limit three scattered readings fall short (3.3 %): the effective
    # degrees of freedom of so few are themselves a guess.
    worst = 0.035 if scenario.repeats == 3 else 0.025
    assert wrongly_in_limits(outcomes, is_internal=False) < worst + TWO_STANDARD_ERRORS


def test_a_bore_is_no_more_often_wrong_than_a_shaft() -> None:
    outcomes = simulate(SCENARIOS[1], READINGS)
    assert wrongly_in_limits(outcomes, is_internal=True) < 0.025 + TWO_STANDARD_ERRORS
    assert wrong_among_in_limits(outcomes, is_internal=True) < 0.025 + TWO_STANDARD_ERRORS
