"""Verdicts with guard bands and chances of conformity, against published examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.decision import (
    Candidate,
    GuardRule,
    Prior,
    Verdict,
    chance_in_limits,
    chance_in_limits_over_range,
    guard_band_mm,
    instruments_to_settle,
    margin_mm,
    range_verdict,
    repeats_to_settle,
    settling_words,
    verdict,
)
from server.metrology.distributions import student_probability, student_quantile
from server.metrology.doubt import Line, Shape, budget
from server.metrology.model import Limits
from tests.reference_rows import rows

LIMITS = Limits(24.98, 25.00)
ZONES = {
    "conforming": {Verdict.IN_LIMITS},
    "undecided": {Verdict.TOO_CLOSE},
    "beyond": {Verdict.STOCK_LEFT, Verdict.PAST_LIMIT},
}
EXAMPLES = rows("decision_examples")


def _limits(row: dict[str, str]) -> Limits:
    return Limits(*(float(row[end]) if row[end] else None for end in ("low", "high")))


@pytest.mark.parametrize(
    "row", [row for row in EXAMPLES if row["zone"]], ids=lambda row: row["case"]
)
@pytest.mark.parametrize("is_internal", [False, True])
def test_zones_match_the_published_decisions(row: dict[str, str], is_internal: bool) -> None:
    size, expanded = float(row["size"]), float(row["expanded"])
    found = verdict(size, expanded, expanded / 2, _limits(row), is_internal, GuardRule(row["rule"]))
    assert found in ZONES[row["zone"]]


@pytest.mark.parametrize(
    "row", [row for row in EXAMPLES if row["chance"]], ids=lambda row: row["case"]
)
def test_chances_match_the_worked_examples(row: dict[str, str]) -> None:
    found = chance_in_limits(float(row["size"]), float(row["expanded"]) / 2, _limits(row))
    assert found == pytest.approx(float(row["chance"]), abs=float(row["half_digit"]))


@pytest.mark.parametrize(
    ("size_mm", "outside", "inside"),
    [
        (25.0051, Verdict.STOCK_LEFT, Verdict.PAST_LIMIT),
        (25.005, Verdict.TOO_CLOSE, Verdict.TOO_CLOSE),
        (24.9951, Verdict.TOO_CLOSE, Verdict.TOO_CLOSE),
        (24.995, Verdict.IN_LIMITS, Verdict.IN_LIMITS),
        (24.985, Verdict.IN_LIMITS, Verdict.IN_LIMITS),
        (24.9849, Verdict.TOO_CLOSE, Verdict.TOO_CLOSE),
        (24.975, Verdict.TOO_CLOSE, Verdict.TOO_CLOSE),
        (24.9749, Verdict.PAST_LIMIT, Verdict.STOCK_LEFT),
    ],
)
def test_each_side_of_each_limit_with_a_full_guard_band(
    size_mm: float, outside: Verdict, inside: Verdict
) -> None:
    """ISO 14253-1: conforming L + U <= y <= H - U, not conforming only beyond by more than U."""
    assert verdict(size_mm, 0.005, 0.0025, LIMITS, is_internal=False) is outside
    assert verdict(size_mm, 0.005, 0.0025, LIMITS, is_internal=True) is inside


def test_plain_acceptance_takes_a_size_at_the_limit_and_is_never_too_close() -> None:
    inch = Limits(0.5828 * 25.4, 0.5875 * 25.4)
    rule = GuardRule.PLAIN
    assert verdict(0.5875 * 25.4, 0.01, 0.005, inch, False, rule) is Verdict.IN_LIMITS
    assert verdict(0.5828 * 25.4, 0.01, 0.005, inch, False, rule) is Verdict.IN_LIMITS
    assert verdict(0.58751 * 25.4, 0.01, 0.005, inch, False, rule) is Verdict.STOCK_LEFT
    assert verdict(0.58279 * 25.4, 0.01, 0.005, inch, False, rule) is Verdict.PAST_LIMIT


def test_the_rules_differ_in_their_guard_band_and_name_themselves() -> None:
    assert guard_band_mm(GuardRule.FULL, 0.008, 0.004) == 0.008
    assert guard_band_mm(GuardRule.NINETY_FIVE, 0.008, 0.004) == pytest.approx(0.00658)
    assert guard_band_mm(GuardRule.PLAIN, 0.008, 0.004) == 0
    words = {rule.words for rule in GuardRule}
    assert len(words) == len(GuardRule)
    assert "plain" in GuardRule.PLAIN.words
    between_mm = 25.0 - 0.0068  # inside 1.645 u, not inside U
    assert verdict(between_mm, 0.008, 0.004, LIMITS, False) is Verdict.TOO_CLOSE
    found = verdict(between_mm, 0.008, 0.004, LIMITS, False, GuardRule.NINETY_FIVE)
    assert found is Verdict.IN_LIMITS


def test_a_limit_the_standard_leaves_open_is_never_passed() -> None:
    only_high = Limits(None, 25.0)
    assert verdict(1.0, 0.01, 0.005, only_high, False) is Verdict.IN_LIMITS
    assert verdict(25.1, 0.01, 0.005, only_high, False) is Verdict.STOCK_LEFT
    assert margin_mm(24.0, only_high) == 1.0
    assert margin_mm(24.0, Limits(None, None)) == math.inf


@given(
    offset_mm=st.floats(-0.05, 0.05),
    doubt_mm=st.floats(0, 0.02),
    rule=st.sampled_from(list(GuardRule)),
)
@settings(max_examples=200)
def test_a_bore_is_a_shaft_mirrored(offset_mm: float, doubt_mm: float, rule: GuardRule) -> None:
    shaft = verdict(24.99 + offset_mm, doubt_mm, doubt_mm / 2, LIMITS, False, rule)
    bore = verdict(24.99 - offset_mm, doubt_mm, doubt_mm / 2, LIMITS, True, rule)
    assert shaft is bore


def test_a_size_range_that_crosses_a_boundary_can_flip_and_is_not_in_limits() -> None:
    found = range_verdict(24.990, 24.999, 0.002, 0.001, LIMITS, False)
    assert (found.at_low, found.at_high) == (Verdict.IN_LIMITS, Verdict.TOO_CLOSE)
    assert found.can_flip
    assert found.verdict is Verdict.TOO_CLOSE


def test_a_range_as_wide_as_the_tolerance_can_flip_though_its_ends_agree() -> None:
    found = range_verdict(24.981, 24.999, 0.002, 0.001, LIMITS, False)
    assert found.at_low is found.at_high is Verdict.TOO_CLOSE
    assert found.at_middle is Verdict.IN_LIMITS
    assert found.can_flip


def test_a_range_with_one_verdict_has_that_verdict() -> None:
    found = range_verdict(25.10, 25.11, 0.002, 0.001, LIMITS, False)
    assert found.verdict is Verdict.STOCK_LEFT
    assert not found.can_flip


def test_few_degrees_of_freedom_lower_the_chance() -> None:
    sure = chance_in_limits(24.996, 0.002, LIMITS)
    unsure = chance_in_limits(24.996, 0.002, LIMITS, dof=3)
    by_t = student_probability(2, 3) - student_probability(-8, 3)
    assert unsure == pytest.approx(by_t, abs=1e-12)
    assert unsure < sure


def test_a_prior_moves_the_size_by_its_weight() -> None:
    """JCGM 106 clause 7: y' = (y/u^2 + y0/u0^2)/(1/u^2 + 1/u0^2), here the plain mean."""
    found = chance_in_limits(25.002, 0.002, LIMITS, prior=Prior(24.994, 0.002))
    expected = chance_in_limits(24.998, 0.002 / math.sqrt(2), LIMITS)
    assert found == pytest.approx(expected, abs=1e-12)
    assert chance_in_limits(25.002, 0.002, LIMITS, prior=Prior(25.1, 1e9)) == pytest.approx(
        chance_in_limits(25.002, 0.002, LIMITS), abs=1e-9
    )


def test_without_any_doubt_the_chance_is_certain() -> None:
    assert chance_in_limits(24.99, 0.0, LIMITS) == 1.0
    assert chance_in_limits(25.01, 0.0, LIMITS) == 0.0


def test_the_chance_over_a_range_is_the_mean_of_its_sizes() -> None:
    found = chance_in_limits_over_range(24.99, 25.01, 1e-5, LIMITS)
    assert found == pytest.approx(0.5, abs=0.02)
    single = chance_in_limits_over_range(24.99, 24.99, 0.01, LIMITS)
    assert single == chance_in_limits(24.99, 0.01, LIMITS)


def _scattered(common_mm: float, scatter_mm: float) -> list[Line]:
    return [
        Line("instrument error", common_mm, is_common=True),
        Line("scatter", scatter_mm, Shape.NORMAL, is_averaged=True),
    ]


def test_repeats_settle_what_scatter_makes_too_close() -> None:
    one = budget(_scattered(0.0005, 0.002))
    assert verdict(24.9975, one.doubt_mm, one.u_mm, LIMITS, False) is Verdict.TOO_CLOSE
    count = repeats_to_settle(24.9975, one, LIMITS, False)
    assert count is not None
    enough = one.with_repeats(count)
    one_less = one.with_repeats(count - 1)
    assert verdict(24.9975, enough.doubt_mm, enough.u_mm, LIMITS, False) is Verdict.IN_LIMITS
    assert verdict(24.9975, one_less.doubt_mm, one_less.u_mm, LIMITS, False) is Verdict.TOO_CLOSE


def test_no_number_of_repeats_settles_what_the_instrument_makes_too_close() -> None:
    coarse = budget(_scattered(0.004, 0.001))
    assert repeats_to_settle(24.9975, coarse, LIMITS, False) is None


def test_the_crib_is_asked_for_an_instrument_that_settles_it() -> None:
    candidates = [
        Candidate("calliper", budget(_scattered(0.02, 0.005))),
        Candidate("comparator", budget(_scattered(0.0003, 0.0003))),
        Candidate("micrometer", budget(_scattered(0.001, 0.0005))),
    ]
    found = instruments_to_settle(24.9975, candidates, LIMITS, False)
    assert found == ("micrometer", "comparator")
    assert "2 more readings" in settling_words(1, 3, found)
    assert "micrometer" in settling_words(1, None, found)
    assert "finer instrument" in settling_words(1, None, ())


@pytest.mark.parametrize(
    ("probability", "dof", "printed"),
    [
        (0.975, 1, 12.71),
        (0.975, 10, 2.23),
        (0.995, 16, 2.92),
        (0.97725, 10, 2.28),
        (0.97725, 20, 2.13),
        (0.97725, 50, 2.05),
    ],
)
def test_student_quantiles_match_the_gum_table(
    probability: float, dof: float, printed: float
) -> None:
    """GUM (JCGM 100) Table G.2, from memory: t for 95 %, 99 % and 95.45 %."""
    assert student_quantile(probability, dof) == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize("dof", [0.5, 1.0, 3.3, 30.0, 1e4, math.inf])
@pytest.mark.parametrize("probability", [0.001, 0.2, 0.5, 0.9, 0.97725, 0.9995])
def test_quantile_undoes_probability(dof: float, probability: float) -> None:
    found = student_probability(student_quantile(probability, dof), dof)
    assert found == pytest.approx(probability, abs=1e-10)


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1])
def test_impossible_probabilities_are_refused(probability: float) -> None:
    with pytest.raises(ValueError, match="probability"):
        student_quantile(probability, 5)
    with pytest.raises(ValueError, match="degrees of freedom"):
        student_probability(1.0, 0)
