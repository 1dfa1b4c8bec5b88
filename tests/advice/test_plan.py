"""The passes to come."""

from __future__ import annotations

import pytest

from server.advice.model import Cut, CutKind, Job, Reading
from server.advice.plan import plan

JOB = Job(CutKind.TURN, 0.025, -0.025, 0.01, guard_mm=0.003, reading_scatter_mm=0.001)


def test_a_plan_ends_inside_the_limits() -> None:
    passes = plan([Reading(0.6, 0.001)], JOB)
    assert passes
    assert abs(passes[-1].stock_after_mm) <= 0.022
    stocks = [0.6, *(p.stock_after_mm for p in passes)]
    assert stocks == sorted(stocks, reverse=True)
    for p in passes:
        assert p.step_mm == pytest.approx(p.steps * 0.01)


def test_roughing_passes_are_no_deeper_than_asked_and_not_measured() -> None:
    passes = plan([Reading(2.0, 0.001)], JOB, roughing_cut_mm=0.3)
    roughing = [p for p in passes if p.what == "roughing"]
    assert len(roughing) >= 2
    assert all(p.step_mm <= 0.3 + 1e-9 and not p.measure_after for p in roughing)
    assert passes[-1].measure_after


def test_the_geometry_may_start_a_plan() -> None:
    assert plan([Reading(1.7, 0.1)], JOB)


def test_a_plan_is_made_anew_after_a_reading() -> None:
    before = plan([Reading(0.6, 0.001)], JOB)
    after = plan([Reading(0.6, 0.001), Cut(0.3), Reading(0.38, 0.001)], JOB)
    assert after[0].stock_after_mm < 0.38
    assert after != before


def test_nothing_is_planned_at_the_aim() -> None:
    assert plan([Reading(0.0, 0.001)], JOB) == ()
