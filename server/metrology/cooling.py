"""How long until a warm part's reading can be believed: Newton's law of cooling."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from server.metrology.materials import Material
from server.metrology.model import OutOfRange
from server.wording import say

STILL_AIR_W_M2K = 10.0  # free convection 5-8 and radiation 1-5 (Churchill-Chu, computed)
LONGEST_WAIT_MIN = 480.0  # a working day; beyond it waiting is no advice


@dataclass(frozen=True)
class CoolingFit:
    """Cooling fitted to the part's own numbers.

    tau_min        time constant  [min]
    settles_at     where it goes: temperature [degC] or size [mm], as what was fitted
    """

    tau_min: float
    settles_at: float


def time_constant_min(
    material: Material,
    diameter_mm: float,
    *,
    length_mm: float | None = None,
    film_w_m2k: float = STILL_AIR_W_M2K,
) -> float:
    """Time in which a part's excess temperature falls to 1/e.  [min]

    Formula: tau = rho c V / (h A); for a long bar rho c D / (4 h), with ends where length is given.
    Source:  Incropera, Fundamentals of Heat and Mass Transfer, lumped capacity, from memory.
    Holds:   Biot number h D / (4 k) under 0.1: metals, not thick plastics, which take longer.
             A chuck draws heat too, so take it as an upper estimate.  Raises OutOfRange.
    """
    for what, value, unit in (
        (say("diameter"), diameter_mm, "mm"),
        (say("length"), length_mm, "mm"),
        ("film", film_w_m2k, "W/m2K"),
    ):
        if value is not None and not 0 < value < 1e5:
            raise OutOfRange(what, value, 0, None, unit)
    area_per_volume = 4 / diameter_mm + (0 if length_mm is None else 2 / length_mm)
    heat_per_volume = material.density_kg_m3 * material.heat_capacity_j_kg_k
    return heat_per_volume / (film_w_m2k * area_per_volume * 1000) / 60


def temperature_after_c(start_c: float, shop_c: float, minutes: float, tau_min: float) -> float:
    """Ta + (T0 - Ta) exp(-t/tau).  [degC]"""
    return shop_c + (start_c - shop_c) * math.exp(-minutes / tau_min)


def wait_minutes(
    low_mm: float,
    high_mm: float,
    tau_min: float,
    still_matters: Callable[[float, float], bool],
    *,
    least_half_width_mm: float = 0.0,
    longest_min: float = LONGEST_WAIT_MIN,
) -> float | None:
    """Whole minutes until the size range stops mattering, or None if not within longest_min.

    low_mm, high_mm       the size range now; its half-width shrinks as exp(-t/tau) about its middle
    still_matters         (low, high) -> does a range this wide change the verdict or the next cut
    least_half_width_mm   what never goes by waiting: a part "as the shop" is known to +-2 degrees C
    """
    middle_mm, half_mm = (low_mm + high_mm) / 2, (high_mm - low_mm) / 2

    def matters_after(minutes: float) -> bool:
        left_mm = max(half_mm * math.exp(-minutes / tau_min), min(least_half_width_mm, half_mm))
        return still_matters(middle_mm - left_mm, middle_mm + left_mm)

    if not matters_after(0):
        return 0.0
    if matters_after(longest_min):
        return None
    early, late = 0, math.ceil(longest_min)
    while late - early > 1:
        middle = (early + late) // 2
        if matters_after(middle):
            early = middle
        else:
            late = middle
    return float(late)


def fit_temperatures(
    minutes: Sequence[float],
    temperatures_c: Sequence[float],
    shop_c: float,
    *,
    least_drop_c: float = 1.0,
) -> CoolingFit | None:
    """Time constant from two or more temperature numbers of the same cooling part.

    Least squares on ln(T - shop).  None where they don't determine it: fewer than two, a fall
    under least_drop_c (twice a thermometer's half-width), or a part not warmer than the shop.
    Source: Newton's law of cooling.
    """
    pairs = sorted(zip(minutes, temperatures_c, strict=True))
    if len(pairs) < 2 or pairs[0][1] - pairs[-1][1] < least_drop_c:
        return None
    if any(temperature - shop_c <= 0 for _, temperature in pairs):
        return None
    logs = [math.log(temperature - shop_c) for _, temperature in pairs]
    mean_time = sum(time for time, _ in pairs) / len(pairs)
    mean_log = sum(logs) / len(logs)
    spread = sum((time - mean_time) ** 2 for time, _ in pairs)
    cross = sum((p[0] - mean_time) * (y - mean_log) for p, y in zip(pairs, logs, strict=True))
    if spread <= 0 or cross >= 0:
        return None
    return CoolingFit(tau_min=-spread / cross, settles_at=shop_c)


def fit_sizes(
    minutes: Sequence[float],
    sizes_mm: Sequence[float],
    *,
    resolution_mm: float,
) -> CoolingFit | None:
    """Time constant and settled size from three readings of one state while it cools.

    S(t) = S_end + A exp(-t/tau) through the first, a middle and the last reading.  None where they
    don't determine it: fewer than three, moving by under three resolutions, or not slowing down.
    """
    pairs = sorted(zip(minutes, sizes_mm, strict=True))
    if len(pairs) < 3:
        return None
    (t1, s1), (t2, s2), (t3, s3) = pairs[0], pairs[len(pairs) // 2], pairs[-1]
    if not t1 < t2 < t3 or abs(s3 - s1) < 3 * resolution_mm:
        return None
    early_share = (s2 - s1) / (s3 - s1)
    if not (t2 - t1) / (t3 - t1) < early_share < 1:
        return None
    rate = _rate(t2 - t1, t3 - t1, early_share)
    if rate is None:
        return None
    fallen = 1 - math.exp(-rate * (t3 - t1))
    return CoolingFit(tau_min=1 / rate, settles_at=s1 + (s3 - s1) / fallen)


def warm_words(
    shift_low_mm: float,
    shift_high_mm: float,
    limit_distance_mm: float,
    minutes: float | None,
    length: Callable[[float], str],
) -> str:
    """What the warmth does, in words.

    shift_low_mm, shift_high_mm   how much the reading is large by;  limit_distance_mm  to the
    nearest limit;  minutes  the wait, None where waiting alone won't do;  length  a length for the
    eye, given in mm.
    """
    shift = shift_words(shift_low_mm, shift_high_mm, length)
    distance, is_cold = length(limit_distance_mm), shift_high_mm < 0
    if minutes is None and is_cold:
        return say(
            "reads {shift}; the limit is {distance} away; let it come to the shop's own "
            "temperature, wipe it, and measure again",
            shift=shift,
            distance=distance,
        )
    if minutes is None:
        return say(
            "reads {shift}; the limit is {distance} away; cool it, wipe it, and measure again",
            shift=shift,
            distance=distance,
        )
    if is_cold:
        return say(
            "reads {shift}; the limit is {distance} away; about {minutes} min in still air, or "
            "let it come to the shop's own temperature, wipe it, and measure again",
            shift=shift,
            distance=distance,
            minutes=f"{minutes:.0f}",
        )
    return say(
        "reads {shift}; the limit is {distance} away; about {minutes} min in still air, or cool "
        "it, wipe it, and measure again",
        shift=shift,
        distance=distance,
        minutes=f"{minutes:.0f}",
    )


def shift_words(low_mm: float, high_mm: float, length: Callable[[float], str]) -> str:
    """By how much a reading is large or small, in words; low_mm and high_mm as it is large by."""
    if low_mm < 0 < high_mm:
        return say("{small} small to {large} large", small=length(-low_mm), large=length(high_mm))
    near, far = (length(shift_mm) for shift_mm in sorted((abs(low_mm), abs(high_mm))))
    if low_mm >= 0:
        if near == far:
            return say("{size} large", size=far)
        return say("{near} to {far} large", near=near, far=far)
    if near == far:
        return say("{size} small", size=far)
    return say("{near} to {far} small", near=near, far=far)


def _rate(early: float, whole: float, share: float) -> float | None:
    """r with (1 - exp(-r early)) / (1 - exp(-r whole)) = share, by bisection."""

    def at(rate: float) -> float:
        return math.expm1(-rate * early) / math.expm1(-rate * whole)

    low, high = 1e-6 / whole, 60 / whole
    if not at(low) < share < at(high):
        return None
    for _ in range(80):
        middle = (low + high) / 2
        if at(middle) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2
