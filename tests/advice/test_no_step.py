"""What is said where no step of the dial keeps within the bound."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from server.advice.model import Action, Cut, Entry, Reading
from server.advice.nextcut import next_cut
from tests.advice.test_nextcut import JOB, advised, in_mm


@settings(max_examples=60, deadline=None)
@given(
    stock=st.floats(0.01, 0.5),
    half=st.floats(0.004, 0.04),
    graduation=st.sampled_from([0.005, 0.0127, 0.0254, 0.0508]),
    bound=st.sampled_from([0.0005, 0.005, 0.02]),
    share_spent=st.floats(0, 1.5),
    finer=st.sampled_from([None, 0.001]),
)
def test_no_step_goes_beyond_what_is_left_of_the_bound(
    stock: float,
    half: float,
    graduation: float,
    bound: float,
    share_spent: float,
    finer: float | None,
) -> None:
    job = replace(
        JOB,
        stock_at_metal_limit_mm=half,
        stock_at_past_limit_mm=-half,
        graduation_mm=graduation,
        finer_graduation_mm=finer,
        guard_mm=0.2 * half,
        past_chance_bound=bound,
        past_chance_spent=share_spent * bound,
    )
    history: list[Entry] = [Reading(stock + 0.2, 0.001), Cut(0.22), Reading(stock, 0.001)]
    verdict = "too_close" if stock < 1.2 * half else "stock_left"
    advice = advised(history, job, verdict)
    if advice.is_pass:
        left = max(bound - job.past_chance_spent, 0.0)
        assert advice.chance_past_limit <= left + 1e-6


def test_where_the_bound_leaves_no_step_the_reason_is_given() -> None:
    spent = replace(JOB, graduation_mm=0.0254, past_chance_spent=0.005)
    near: list[Entry] = [Reading(0.3, 0.001), Cut(0.25), Reading(0.04, 0.001)]
    advice = advised(near, spent)
    assert advice.action is Action.FINER_FEED
    assert advice.steps == 0
    assert "chance of going past" in advice.why
    assert "allow more" in advice.why
    assert "measure again" not in advice.why
    far = advised([Reading(0.9, 0.001), Cut(0.2), Reading(0.71, 0.001)], spent)
    assert far.action is Action.CUT


def test_the_step_least_likely_to_go_past_is_named_as_what_it_is() -> None:
    coarse = replace(
        JOB,
        stock_at_metal_limit_mm=0.0065,
        stock_at_past_limit_mm=-0.0065,
        graduation_mm=0.05,
    )
    history: list[Entry] = [
        Reading(0.3065, 0.001),
        Cut(0.2),
        Reading(0.1165, 0.001),
        Cut(0.1),
        Reading(0.0185, 0.001),
    ]
    advice = advised(history, coarse)
    assert advice.action is Action.FINER_FEED
    assert advice.why.startswith("even a spring pass has")
    assert "and you allow 0.5 %" in advice.why
    used = advised(history, replace(coarse, past_chance_spent=0.004))
    assert "earlier cuts left 0.10 % of the 0.5 % that you allow" in used.why


def test_a_fine_feed_is_not_set_up_to_back_off() -> None:
    # A first cut that took all it was dialled; the safest fine step would be a line back.
    job = replace(
        JOB,
        stock_at_metal_limit_mm=0.0165,
        stock_at_past_limit_mm=-0.0165,
        graduation_mm=0.02,
        finer_graduation_mm=0.004,
        past_chance_spent=0.001242,
    )
    advice = advised([Reading(0.4165, 0.001), Cut(0.38), Reading(0.0375, 0.001)], job)
    assert advice.action is not Action.FINER_FEED or advice.steps >= 0


def test_a_size_outside_the_limits_is_not_called_near_the_middle() -> None:
    job = replace(
        JOB, stock_at_metal_limit_mm=0.0045, stock_at_past_limit_mm=-0.0045, guard_mm=0.006
    )

    def why(stock: float) -> str:
        return advised([Reading(stock, 0.001)], job, "too_close").why

    assert "near its middle" in why(0.002)
    assert "near its middle" not in why(0.009)
    assert "no more than a line of the dial is left" in why(0.009)


def test_an_unread_pass_that_should_be_beyond_the_aim_is_said_so() -> None:
    history: list[Entry] = [Reading(0.3, 0.001), Cut(0.28), Reading(0.03, 0.001), Cut(0.04)]
    advice = advised(history, JOB)
    assert advice.action is Action.MEASURE_AGAIN
    assert "should have gone 0.0" in advice.why
    assert "beyond the aim" in advice.why


def test_a_repeat_is_asked_for_where_it_may_open_a_step() -> None:
    job = replace(JOB, graduation_mm=0.0254, past_chance_spent=0.0045, reading_scatter_mm=0.005)
    rough: list[Entry] = [Reading(0.3, 0.005), Cut(0.2286), Reading(0.03, 0.005)]
    advice = advised(rough, job)
    assert advice.action is Action.MEASURE_AGAIN
    assert advice.why.startswith("measure again first")
    higher = advised([*rough, Reading(0.038, 0.005)], job)
    lower = advised([*rough, Reading(0.022, 0.005)], job)
    assert higher.is_pass or lower.is_pass


def test_a_close_call_is_measured_again_only_near_the_edge_of_its_guard_band() -> None:
    job = replace(
        JOB,
        graduation_mm=0.0508,
        guard_mm=0.006,
        common_uncertainty_mm=0.002,
        reading_scatter_mm=0.002,
        past_chance_spent=0.005,
    )

    def at(stock: float) -> Action | None:
        history: list[Entry] = [Reading(0.3, 0.002), Cut(0.254), Reading(stock, 0.002)]
        found = next_cut(history, job, "too_close", in_mm)
        return found.action if found else None

    limit = job.stock_at_metal_limit_mm
    assert at(limit) is Action.FINER_FEED
    assert at(limit + 0.0055) is Action.MEASURE_AGAIN
