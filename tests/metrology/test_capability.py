"""Capability figures against published examples and a general library; the robust line."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from server.metrology.capability import (
    LEAST_FOR_DRIFT,
    LEAST_PIECES,
    Capability,
    capability,
    chi_square_probability,
    chi_square_quantile,
    cp_interval,
    cpk_interval,
    drift,
)
from server.metrology.model import Limits
from tests.reference_rows import rows

EXAMPLES = {row["case"]: row for row in rows("capability_examples")}


def lot_with(mean: float, s: float, count: int) -> list[float]:
    """Sizes with exactly that mean and standard deviation."""
    raw = [math.sin(7.3 * n) + 0.1 * n for n in range(count)]
    middle, spread = statistics.fmean(raw), statistics.stdev(raw)
    return [mean + s * (x - middle) / spread for x in raw]


def printed(row: dict[str, str], name: str) -> object:
    return pytest.approx(float(row[name]), abs=0.5 * 10.0 ** -int(row["printed_decimals"]) * 1.01)


def found(sizes: list[float], low: float, high: float, level: float = 0.95) -> Capability:
    answer = capability(sizes, Limits(low, high), level=level)
    assert answer is not None
    return answer


def test_the_published_interval_of_cpk_is_reproduced() -> None:
    # SAS/QC User's Guide, example 5.3: data and 90 % interval as printed.
    row = EXAMPLES["sas_qc_5_3"]
    sizes = [float(each["decibels"]) for each in rows("amplifier_decibels")]
    assert len(sizes) == int(row["count"])

    answer = found(sizes, float(row["low"]), float(row["high"]), float(row["level"]))

    assert answer.cpk_interval[0] == printed(row, "cpk_low")
    assert answer.cpk_interval[1] == printed(row, "cpk_high")


def test_the_handbook_example_is_reproduced() -> None:
    row = EXAMPLES["nist_6_1_6"]
    sizes = lot_with(float(row["mean"]), float(row["s"]), int(row["count"]))
    answer = found(sizes, float(row["low"]), float(row["high"]))
    assert answer.cp == printed(row, "cp")
    assert answer.cpk == printed(row, "cpk")


def test_the_textbook_intervals_are_reproduced() -> None:
    row = EXAMPLES["montgomery_cp"]
    cp = (float(row["high"]) - float(row["low"])) / (6 * float(row["s"]))
    assert cp == printed(row, "cp")
    low, high = cp_interval(float(row["cp"]), int(row["count"]))  # the book goes on from 2.29
    assert (low, high) == (printed(row, "cp_low"), printed(row, "cp_high"))
    row = EXAMPLES["montgomery_cpk"]
    low, high = cpk_interval(float(row["cpk"]), int(row["count"]))
    assert (low, high) == (printed(row, "cpk_low"), printed(row, "cpk_high"))


def test_every_example_names_its_source() -> None:
    assert all(row["source"] and row["obtained"] for row in EXAMPLES.values())


@given(seed=st.integers(0, 10**6), count=st.integers(LEAST_PIECES, 60))
@settings(max_examples=40, deadline=None)
def test_a_general_library_agrees(seed: int, count: int) -> None:
    pick = random.Random(seed)
    sizes = [pick.gauss(25.0, 0.004) for _ in range(count)]
    answer = found(sizes, 24.98, 25.01)
    mean, s = statistics.fmean(sizes), statistics.stdev(sizes)
    assert answer.mean_mm == pytest.approx(mean, rel=1e-12)
    assert answer.s_mm == pytest.approx(s, rel=1e-9)
    assert answer.cp == pytest.approx(0.03 / (6 * s), rel=1e-9)
    assert answer.cpk == pytest.approx(min(25.01 - mean, mean - 24.98) / (3 * s), rel=1e-9)
    ends = stats.chi2.ppf((0.025, 0.975), count - 1)
    for end, chi_square in zip(answer.cp_interval, ends, strict=True):
        assert end == pytest.approx(answer.cp * math.sqrt(chi_square / (count - 1)), rel=1e-9)
    half = stats.norm.ppf(0.975) * math.sqrt(1 / (9 * count) + answer.cpk**2 / (2 * (count - 1)))
    for end, reach in zip(answer.cpk_interval, (-half, half), strict=True):
        assert end == pytest.approx(answer.cpk + reach, rel=1e-7, abs=1e-9)


@pytest.mark.parametrize("dof", [1, 2, 5, 19, 24, 99, 400])
@pytest.mark.parametrize("probability", [0.005, 0.025, 0.5, 0.975, 0.995])
def test_chi_square_agrees_with_a_general_library(dof: int, probability: float) -> None:
    x = float(stats.chi2.ppf(probability, dof))
    assert chi_square_quantile(probability, dof) == pytest.approx(x, rel=1e-8)
    assert chi_square_probability(x, dof) == pytest.approx(probability, abs=1e-9)


def test_chi_square_has_no_quantile_at_the_ends() -> None:
    assert chi_square_probability(0.0, 3) == 0.0
    with pytest.raises(ValueError, match="between 0 and 1"):
        chi_square_quantile(1.0, 3)


def test_a_small_lot_has_no_figures() -> None:
    sizes = lot_with(25.0, 0.004, LEAST_PIECES)
    assert capability(sizes[:-1], Limits(24.98, 25.02)) is None
    assert capability(sizes, Limits(24.98, 25.02)) is not None
    assert capability([25.0] * 40, Limits(24.98, 25.02)) is None, "no scatter, no figure"


@given(seed=st.integers(0, 10**6), count=st.integers(LEAST_FOR_DRIFT, 40))
@settings(max_examples=40, deadline=None)
def test_the_robust_line_agrees_with_a_general_library(seed: int, count: int) -> None:
    pick = random.Random(seed)
    places = [float(place) for place in sorted(pick.sample(range(1, 80), count))]
    sizes = [25.0 + 0.0004 * place + round(pick.gauss(0, 0.003), 3) for place in places]
    expected = stats.theilslopes(sizes, places, 0.95)

    line = drift(places, sizes)

    assert line is not None
    assert line.per_piece_mm == pytest.approx(expected.slope, abs=1e-12)
    assert line.at_start_mm == pytest.approx(expected.intercept, abs=1e-9)
    assert line.low_mm == pytest.approx(expected.low_slope, abs=1e-12)
    assert line.high_mm == pytest.approx(expected.high_slope, abs=1e-12)


def test_one_odd_piece_does_not_bend_the_line() -> None:
    places = [float(n) for n in range(1, 13)]
    sizes = [25.0 + 0.001 * n for n in range(1, 13)]
    sizes[7] += 0.5
    line = drift(places, sizes)
    assert line is not None
    assert line.per_piece_mm == pytest.approx(0.001, abs=1e-9)
    assert line.is_sure
    assert line.at_mm(13) == pytest.approx(25.013, abs=1e-4)


def test_no_line_from_too_few_pieces_and_none_through_one_place() -> None:
    assert drift([1, 2, 3, 4], [25.0, 25.1, 25.2, 25.3]) is None
    with pytest.raises(ValueError, match="place of its own"):
        drift([1, 1, 2, 3, 4], [25.0] * 5)


def test_the_interval_of_the_slope_holds_the_truth_as_often_as_it_says() -> None:
    pick = random.Random(41)
    held, jobs = 0, 600
    for _ in range(jobs):
        sizes = [25.0 + 0.0005 * n + pick.gauss(0, 0.002) for n in range(12)]
        line = drift([float(n) for n in range(12)], sizes)
        assert line is not None
        held += line.low_mm <= 0.0005 <= line.high_mm
    assert held / jobs == pytest.approx(0.95, abs=3 * math.sqrt(0.95 * 0.05 / jobs) + 0.015)
