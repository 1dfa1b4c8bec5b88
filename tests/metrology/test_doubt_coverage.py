"""Simulated readings with known truth: does the stated interval hold it as often as it says?"""

from __future__ import annotations

import math

import pytest

from server.metrology.decision import GuardRule
from tests.bench.coverage import (
    SCENARIOS,
    Outcome,
    Scenario,
    coverage,
    first_state,
    simulate,
    wrong_among_in_limits,
    wrongly_in_limits,
)

READINGS = 20_000
WRONG = 0.025 + 2 * math.sqrt(0.025 * 0.975 / READINGS)  # and two standard errors
WRONG_95 = 0.05 + 2 * math.sqrt(0.05 * 0.95 / READINGS)


def check(outcomes: list[Outcome], scenario: Scenario) -> None:
    assert coverage(outcomes) >= 0.93
    assert wrong_among_in_limits(outcomes, is_internal=False) < WRONG
    assert wrongly_in_limits(outcomes, is_internal=False) < WRONG
    assert wrongly_in_limits(outcomes, is_internal=False, past_doubts=0.1) < WRONG
    if scenario.note == "number" or not scenario.is_rectangular:
        by_95 = wrongly_in_limits(outcomes, is_internal=False, rule=GuardRule.NINETY_FIVE)
        assert by_95 < WRONG_95


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_the_stated_interval_holds_the_truth(scenario: Scenario) -> None:
    outcomes = simulate(scenario, READINGS)
    check(outcomes, scenario)
    if not scenario.is_rectangular:
        assert coverage(outcomes) <= 0.97


@pytest.mark.parametrize(
    "scenario",
    [
        first_state(1, 1),
        first_state(1, 1, is_warm=True),
        *(first_state(steps, 2) for steps in (0.5, 1, 2)),
        first_state(2, 2, is_warm=True),
        first_state(3, 2, max_error_mm=0.004),
        *(first_state(steps, 3) for steps in (0.5, 1, 2, 4, 8)),
        first_state(3, 3, is_warm=True),
        first_state(4, 3, max_error_mm=0.004),
    ],
    ids=lambda scenario: scenario.name,
)
def test_the_first_readings_of_a_job_are_held_as_often(scenario: Scenario) -> None:
    """Nothing is known of the instrument: two or three readings may agree by chance alone."""
    outcomes = simulate(scenario, READINGS)
    check(outcomes, scenario)
    scatter_rules = scenario.scatter_mm >= 4 * scenario.max_error_mm
    if scatter_rules:
        assert coverage(outcomes) <= 0.97


@pytest.mark.parametrize("is_warm", [False, True])
def test_two_readings_that_scatter_by_three_steps_are_held(is_warm: bool) -> None:
    """Right at the limit such a pair is wrong in over 2.5 %: see the next test."""
    outcomes = simulate(first_state(3, 2, is_warm=is_warm), READINGS)
    assert coverage(outcomes) >= 0.93
    assert wrong_among_in_limits(outcomes, is_internal=False) < WRONG


def test_two_readings_that_scatter_by_more_are_held_less_often() -> None:
    """The price of no cliff: two readings are pooled with a step as if it had been seen.

    Student's t with their one degree of freedom would hold them, and multiply what two readings
    three steps apart show by 13.  Who repeats to more than three steps of the instrument is held
    as often only from the third reading, or from a record of the instrument, on.
    """
    outcomes = simulate(first_state(4, 2), READINGS)
    assert coverage(outcomes) >= 0.90
    assert wrong_among_in_limits(outcomes, is_internal=False) < WRONG
    assert wrongly_in_limits(outcomes, is_internal=False) < 0.055
    check(simulate(first_state(4, 3), READINGS), first_state(4, 3))


def test_a_bore_is_no_more_often_wrong_than_a_shaft() -> None:
    outcomes = simulate(SCENARIOS[1], READINGS)
    assert wrongly_in_limits(outcomes, is_internal=True) < WRONG
    assert wrong_among_in_limits(outcomes, is_internal=True) < WRONG
