"""Cooling: time constants, waits, fits to the part's own numbers, and the words for them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.cooling import (
    LONGEST_WAIT_MIN,
    fit_sizes,
    fit_temperatures,
    temperature_after_c,
    time_constant_min,
    wait_minutes,
    warm_words,
)
from server.metrology.materials import find
from server.metrology.model import OutOfRange


@pytest.mark.parametrize(
    ("material", "diameter_mm", "minutes"),
    [
        ("1018", 10, 15.4),
        ("1018", 25, 38.4),
        ("1018", 50, 76.9),
        ("304", 20, 33.3),
        ("304", 50, 83.3),
        ("grey iron", 25, 36.5),
        ("brass", 25, 33.6),
        ("6061", 10, 10.1),
        ("6061", 50, 50.4),
        ("titanium", 25, 24.3),
    ],
)
def test_time_constants_match_the_reference(
    material: str, diameter_mm: float, minutes: float
) -> None:
    """thermal.md, computed there: tau = rho c D / (4 h), h 10 W/m2K."""
    found = time_constant_min(find(material), diameter_mm)
    assert found == pytest.approx(minutes, rel=0.005)


@pytest.mark.parametrize(
    ("diameter_mm", "start_c", "end_c", "minutes"),
    [(10, 60, 25, 32), (50, 60, 25, 160), (10, 60, 22, 46), (25, 60, 22, 115), (25, 40, 22, 88)],
)
def test_cooling_times_match_the_reference(
    diameter_mm: float, start_c: float, end_c: float, minutes: float
) -> None:
    """thermal.md, computed there: steel in a room of 20 degrees C."""
    tau_min = time_constant_min(find("1018"), diameter_mm)
    assert temperature_after_c(start_c, 20, minutes, tau_min) == pytest.approx(end_c, abs=0.1)


def test_a_slug_as_long_as_thick_cools_in_two_thirds_of_the_time() -> None:
    steel = find("1018")
    slug = time_constant_min(steel, 25, length_mm=25)
    assert slug == pytest.approx(time_constant_min(steel, 25) * 2 / 3)
    assert time_constant_min(steel, 25, film_w_m2k=25) == pytest.approx(
        time_constant_min(steel, 25) * 0.4
    )


@pytest.mark.parametrize("diameter_mm", [0.0, -1.0, float("nan"), float("inf")])
def test_a_diameter_that_can_not_be_is_refused(diameter_mm: float) -> None:
    with pytest.raises(OutOfRange, match="diameter"):
        time_constant_min(find("1018"), diameter_mm)


def _wider_than(limit_mm: float):  # type: ignore[no-untyped-def]
    return lambda low_mm, high_mm: high_mm - low_mm > limit_mm


def test_the_wait_ends_when_the_range_stops_mattering() -> None:
    """A range of 8 um that matters above 2 um: tau ln 4."""
    found = wait_minutes(9.996, 10.004, 40.0, _wider_than(0.002))
    assert found == math.ceil(40 * math.log(4))


def test_a_range_that_does_not_matter_needs_no_wait() -> None:
    assert wait_minutes(9.999, 10.001, 40.0, _wider_than(0.01)) == 0.0


def test_no_wait_is_promised_that_would_never_end() -> None:
    assert wait_minutes(9.99, 10.01, 40.0, lambda _low, _high: True) is None
    assert wait_minutes(9.99, 10.01, 1e6, _wider_than(0.002)) is None
    floor = wait_minutes(9.99, 10.01, 40.0, _wider_than(0.002), least_half_width_mm=0.0015)
    assert floor is None


@given(half_mm=st.floats(1e-4, 0.1), tau_min=st.floats(1, 200), allowed=st.floats(0.01, 2))
@settings(max_examples=100)
def test_a_wait_is_just_long_enough(half_mm: float, tau_min: float, allowed: float) -> None:
    limit_mm = 2 * half_mm * allowed
    found = wait_minutes(10 - half_mm, 10 + half_mm, tau_min, _wider_than(limit_mm))
    exact = max(0.0, -tau_min * math.log(allowed))
    if found is None:
        assert exact > LONGEST_WAIT_MIN - 1e-6
    else:
        assert exact - 1e-6 <= found <= exact + 1 + 1e-6


def test_two_temperatures_give_the_parts_own_time_constant() -> None:
    fit = fit_temperatures([0, 10], [45.0, 20 + 25 * math.exp(-10 / 33)], 20.0)
    assert fit is not None
    assert fit.tau_min == pytest.approx(33)
    assert fit.settles_at == 20.0


def test_more_temperatures_are_fitted_together_in_any_order() -> None:
    times = [12, 0, 5, 20]
    temperatures = [temperature_after_c(50, 21, time, 30) for time in times]
    fit = fit_temperatures(times, temperatures, 21.0)
    assert fit is not None
    assert fit.tau_min == pytest.approx(30)


@pytest.mark.parametrize(
    ("times", "temperatures"),
    [
        ([0.0], [40.0]),
        ([0, 10], [40.0, 39.5]),
        ([0, 10], [30.0, 35.0]),
        ([0, 10], [30.0, 19.0]),
        ([5, 5], [40.0, 30.0]),
        ([], []),
    ],
)
def test_temperatures_that_do_not_determine_it_are_not_fitted(
    times: list[float], temperatures: list[float]
) -> None:
    assert fit_temperatures(times, temperatures, 20.0) is None


@given(
    tau_min=st.floats(10, 100),
    middle=st.floats(0.3, 0.7),
    warmth_mm=st.floats(0.005, 0.05),
)
@settings(max_examples=60)
def test_three_sizes_give_the_settled_size(tau_min: float, middle: float, warmth_mm: float) -> None:
    times = [0.0, middle * 2 * tau_min, 2 * tau_min]
    sizes = [25 + warmth_mm * math.exp(-time / tau_min) for time in times]
    fit = fit_sizes(times, sizes, resolution_mm=0.0005)
    assert fit is not None
    assert fit.tau_min == pytest.approx(tau_min, rel=1e-4)
    assert fit.settles_at == pytest.approx(25, abs=1e-5)


@pytest.mark.parametrize(
    ("times", "sizes"),
    [
        ([0, 10], [25.01, 25.0]),
        ([0, 10, 20], [25.001, 25.0005, 25.0]),
        ([0, 10, 20], [25.01, 25.005, 25.0]),
        ([0, 10, 20], [25.01, 25.008, 25.0]),
        ([0, 10, 20], [25.01, 24.99, 25.0]),
        ([0, 0, 20], [25.01, 25.005, 25.0]),
    ],
)
def test_sizes_that_do_not_slow_down_are_not_fitted(times: list[float], sizes: list[float]) -> None:
    assert fit_sizes(times, sizes, resolution_mm=0.001) is None


def _inch(length_mm: float) -> str:
    return f"{length_mm / 25.4:.4f}"


def test_the_words_say_what_the_warmth_does_and_what_to_do() -> None:
    found = warm_words(0.0002 * 25.4, 0.0004 * 25.4, 0.0002 * 25.4, 25.0, _inch)
    assert found == (
        "reads 0.0002 to 0.0004 large; the limit is 0.0002 away; "
        "about 25 min in still air, or cool it, wipe it, and measure again"
    )


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0.0003, 0.0003, "reads 0.0003 large;"),
        (-0.0004, -0.0001, "reads 0.0001 to 0.0004 small;"),
        (-0.0001, 0.0003, "reads 0.0001 small to 0.0003 large;"),
        (0.0, 0.0, "reads 0.0000 large;"),
    ],
)
def test_the_words_know_large_from_small(low: float, high: float, expected: str) -> None:
    found = warm_words(low * 25.4, high * 25.4, 0.01, None, _inch)
    assert found.startswith(expected)
    assert "min in still air" not in found
    cure = "let it come to the shop's own temperature" if high < 0 else "cool it"
    assert found.endswith(f"; {cure}, wipe it, and measure again")
