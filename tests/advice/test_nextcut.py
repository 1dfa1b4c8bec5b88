"""What to dial next."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.advice.model import (
    Action,
    Change,
    Cut,
    CutKind,
    Entry,
    Job,
    NextCut,
    Reading,
    Reset,
)
from server.advice.nextcut import comparison, next_cut

JOB = Job(
    CutKind.TURN,
    stock_at_metal_limit_mm=0.025,
    stock_at_past_limit_mm=-0.025,
    graduation_mm=0.01,
    guard_mm=0.003,
    common_uncertainty_mm=0.001,
    reading_scatter_mm=0.001,
)


def in_mm(length_mm: float) -> str:
    return f"{length_mm:.3f} mm"


def advised(history: list[Entry], job: Job = JOB, verdict: str = "stock_left") -> NextCut:
    advice = next_cut(history, job, verdict, in_mm)
    assert advice is not None
    return advice


def verdict_of(stock: float, job: Job) -> str:
    if stock > job.stock_at_metal_limit_mm + job.guard_mm:
        return "stock_left"
    if stock < job.stock_at_past_limit_mm - job.guard_mm:
        return "past_limit"
    inside = job.stock_at_metal_limit_mm - job.guard_mm
    return "in_limits" if abs(stock) <= inside else "too_close"


@settings(max_examples=40, deadline=None)
@given(
    kind=st.sampled_from(list(CutKind)),
    stock=st.floats(0.05, 1.5),
    half=st.floats(0.012, 0.08),
    graduation=st.sampled_from([0.002, 0.00254, 0.005, 0.01]),
)
def test_where_nothing_errs_no_cut_passes_the_aim(
    kind: CutKind, stock: float, half: float, graduation: float
) -> None:
    job = replace(
        JOB,
        kind=kind,
        stock_at_metal_limit_mm=half,
        stock_at_past_limit_mm=-half,
        graduation_mm=graduation,
        guard_mm=0.001,
    )
    tool = stock
    history: list[Entry] = [Reading(stock, 0.001)]
    for _ in range(25):
        advice = next_cut(history, job, verdict_of(stock, job), in_mm)
        if advice is None:
            break
        if "chance of going past" in advice.why or "fine feed" in advice.why:
            return  # this dial has no step that will do, and that is said
        assert advice.steps * graduation == pytest.approx(advice.step_mm)
        if advice.action is not Action.MEASURE_AGAIN:
            tool -= advice.step_mm
            stock = min(stock, tool)
            history.append(Cut(advice.step_mm))
        assert stock >= -1e-9
        history.append(Reading(stock, 0.001))
    assert verdict_of(stock, job) == "in_limits"


@settings(max_examples=30, deadline=None)
@given(stock=st.floats(0.1, 2.0), half=st.floats(0.005, 0.1), bound=st.sampled_from([0.001, 0.005]))
def test_a_first_cut_takes_all_that_is_left_only_within_the_bound(
    stock: float, half: float, bound: float
) -> None:
    job = replace(
        JOB,
        stock_at_metal_limit_mm=half,
        stock_at_past_limit_mm=-half,
        guard_mm=0.1 * half,
        past_chance_bound=bound,
    )
    advice = advised([Reading(stock, 0.001)], job)
    if advice.step_mm > stock - job.graduation_mm:
        assert advice.chance_past_limit <= bound


def test_an_easy_job_keeps_within_the_bound_over_its_steps() -> None:
    stock, tool, spent, cuts = 0.5, 0.5, 0.0, 0
    history: list[Entry] = [Reading(stock, 0.001)]
    while verdict_of(stock, JOB) != "in_limits":
        advice = advised(history, replace(JOB, past_chance_spent=spent), verdict_of(stock, JOB))
        tool -= advice.step_mm
        stock = tool + 0.15 * (stock - tool)
        history += [Cut(advice.step_mm), Reading(stock, 0.001)]
        spent += advice.chance_past_limit
        cuts += 1
    assert spent <= JOB.past_chance_bound
    assert cuts <= 5


def test_a_tighter_bound_is_not_riskier() -> None:
    history: list[Entry] = [Reading(0.4, 0.001), Cut(0.2), Reading(0.23, 0.001)]
    loose = advised(history, replace(JOB, past_chance_bound=0.02))
    tight = advised(history, replace(JOB, past_chance_bound=0.0002))
    assert tight.chance_past_limit <= loose.chance_past_limit


ENTRIES = st.one_of(
    st.builds(Cut, st.floats(-1, 2)),
    st.builds(Reading, st.floats(-1, 5), st.floats(0, 0.1), st.booleans()),
    st.builds(Reset, st.sampled_from(list(Change))),
)


@settings(max_examples=80, deadline=None)
@given(
    before=st.lists(ENTRIES, max_size=6),
    first=st.floats(-0.1, 2),
    after=st.lists(ENTRIES, max_size=3),
    metal_on=st.floats(0.001, 0.3),
    past=st.floats(-0.3, -0.001),
    guard=st.floats(0, 0.2),
    depth=st.one_of(st.none(), st.floats(0.1, 4)),
    verdict=st.sampled_from(["stock_left", "in_limits", "too_close", "past_limit"]),
)
def test_whatever_was_logged_the_answer_is_in_order(
    before: list[Entry],
    first: float,
    after: list[Entry],
    metal_on: float,
    past: float,
    guard: float,
    depth: float | None,
    verdict: str,
) -> None:
    job = replace(
        JOB,
        kind=CutKind.THREAD,
        stock_at_metal_limit_mm=metal_on,
        stock_at_past_limit_mm=past,
        guard_mm=guard,
        total_depth_mm=depth,
    )
    history = [*before, Reading(first, 0.0), *after]
    advice = next_cut(history, job, verdict, in_mm)
    comparison(history, job, in_mm)
    if advice is not None:
        assert advice.why
        assert advice.step_mm == pytest.approx(advice.steps * advice.graduation_mm)
        assert -1e-9 <= advice.chance_in_limits <= 1 + 1e-9
        assert -1e-9 <= advice.chance_past_limit <= 1 + 1e-9
        assert advice.landing.low_mm <= advice.landing.high_mm


def test_an_aim_moved_into_the_guard_band_is_not_the_end_of_cutting() -> None:
    moved = replace(
        JOB, stock_at_metal_limit_mm=0.002, stock_at_past_limit_mm=-0.048, guard_mm=0.004
    )
    history: list[Entry] = [Reading(0.4, 0.001), Cut(0.2), Reading(0.2, 0.001)]
    advice = advised([*history, Cut(0.19), Reading(0.012, 0.001)], moved)
    assert advice.action is Action.CUT
    assert advice.landing.expected_mm < 0


def test_nothing_to_do_in_limits_or_past_the_limit() -> None:
    assert next_cut([Reading(0.005, 0.001)], JOB, "in_limits", in_mm) is None
    assert next_cut([Reading(-0.05, 0.001)], JOB, "past_limit", in_mm) is None


def test_too_close_is_cut_on_the_metal_side_and_measured_on_the_other() -> None:
    history: list[Entry] = [Reading(0.4, 0.001), Cut(0.2), Reading(0.22, 0.001), Cut(0.2)]
    metal_on = advised([*history, Reading(0.0245, 0.001)], verdict="too_close")
    assert metal_on.action in (Action.CUT, Action.SPRING_PASS)
    deeper = [*history[:-1], Cut(0.24), Reading(-0.0245, 0.001)]
    gone = advised(deeper, verdict="too_close")
    assert gone.action is Action.MEASURE_AGAIN
    assert gone.step_mm == 0
    assert "0.003 mm" in gone.why


def test_a_warm_part_waits() -> None:
    advice = next_cut([Reading(0.3, 0.001)], JOB, "stock_left", in_mm, wait_minutes=7.2)
    assert advice is not None
    assert advice.action is Action.WAIT
    assert "8 min" in advice.why


def test_a_surprise_is_measured_again_and_named() -> None:
    history: list[Entry] = [Reading(0.6, 0.001), Cut(0.2), Reading(0.42, 0.001), Cut(0.2)]
    advice = advised([*history, Reading(0.35, 0.001)])
    assert advice.action is Action.MEASURE_AGAIN
    assert "more metal" in advice.why
    compared = comparison([*history, Reading(0.35, 0.001)], JOB, in_mm)
    assert compared is not None
    assert compared.is_surprise
    assert not compared.is_inside


def test_a_pass_not_read_near_the_limits_is_read_first() -> None:
    advice = advised([Reading(0.2, 0.001), Cut(0.19)])
    assert advice.action is Action.MEASURE_AGAIN
    far = advised([Reading(1.5, 0.001), Cut(0.2)])
    assert far.action is Action.CUT


def test_the_sentence_says_what_the_cuts_took() -> None:
    first = advised([Reading(0.6, 0.001)])
    assert first.why.startswith("no cut of this feature was measured yet")
    history: list[Entry] = [Reading(0.6, 0.001), Cut(0.2), Reading(0.43, 0.001)]
    history += [Cut(0.2), Reading(0.232, 0.001)]
    assert "the last two cuts took 92 % of what was dialled" in advised(history).why


def test_the_landing_lies_about_what_is_expected() -> None:
    advice = advised([Reading(0.6, 0.001), Cut(0.2), Reading(0.42, 0.001)])
    landing = advice.landing
    assert landing.low_mm < landing.expected_mm < landing.high_mm
    assert 0 <= advice.chance_past_limit <= 1
    assert 0 <= advice.chance_in_limits <= 1


def test_after_a_reading_the_landing_is_compared() -> None:
    history: list[Entry] = [Reading(0.6, 0.001), Cut(0.2), Reading(0.42, 0.001)]
    compared = comparison(history, JOB, in_mm)
    assert compared is not None
    assert compared.is_inside
    assert "inside the 90 % interval" in compared.sentence
    assert comparison([Reading(0.6, 0.001)], JOB, in_mm) is None


def test_a_coarse_dial_is_named_with_the_way_out() -> None:
    coarse = replace(JOB, graduation_mm=0.05)
    advice = advised([Reading(0.4, 0.001)], coarse)
    assert any("fine feed" in note for note in advice.notes)
    stuck: list[Entry] = [Reading(0.3, 0.001), Cut(0.25), Reading(0.045, 0.001)]
    finer = replace(coarse, graduation_mm=0.1, finer_graduation_mm=0.005)
    advice = advised(stuck, finer)
    assert advice.action is Action.FINER_FEED
    assert advice.graduation_mm == 0.005
    assert advice.step_mm == pytest.approx(advice.steps * 0.005)


def test_a_coarse_instrument_is_named_with_the_number_of_readings() -> None:
    vague = replace(JOB, guard_mm=0.016, reading_scatter_mm=0.008, common_uncertainty_mm=0.001)
    advice = advised([Reading(0.4, 0.008)], vague)
    assert any("mean of 2 readings" in note for note in advice.notes)


def test_a_doubt_as_wide_as_the_tolerance_still_has_an_action() -> None:
    vague = replace(JOB, guard_mm=0.03)
    near_aim = advised([Reading(0.2, 0.01), Cut(0.18), Reading(0.002, 0.01)], vague, "too_close")
    assert near_aim.action is Action.MEASURE_AGAIN


def test_no_step_is_deeper_than_the_deepest_cut() -> None:
    capped = replace(JOB, deepest_cut_mm=0.1)
    advice = advised([Reading(0.9, 0.001)], capped)
    assert advice.step_mm <= 0.1
    assert not advice.measure_after
    assert advised([Reading(0.2, 0.001)], capped).measure_after


def test_a_job_without_room_between_its_limits_is_refused() -> None:
    with pytest.raises(ValueError, match="room"):
        replace(JOB, stock_at_past_limit_mm=0.03)
    with pytest.raises(ValueError, match="graduation"):
        replace(JOB, graduation_mm=0.0)
