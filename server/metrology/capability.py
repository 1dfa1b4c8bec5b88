"""A lot of pieces: what the process can do, and how its size drifts from piece to piece.

Sizes in the order in which the pieces were made.  Lengths [mm].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from server.metrology.distributions import student_quantile
from server.metrology.model import Limits

LEAST_PIECES = 25  # common practice: with fewer the figures say more than is known
LEAST_FOR_DRIFT = 5  # from there a 95 % interval of the slope has two finite ends
LEVEL = 0.95
_STEPS = 500


@dataclass(frozen=True)
class Capability:
    """Capability figures with their 95 % intervals, for sizes that scatter normally.

    cp   what the scatter alone would allow;  cpk  with the mean where it is
    """

    count: int
    mean_mm: float
    s_mm: float
    cp: float
    cp_interval: tuple[float, float]
    cpk: float
    cpk_interval: tuple[float, float]


@dataclass(frozen=True)
class Drift:
    """The size against the piece, by a line that single odd pieces do not bend.

    per_piece_mm     slope, mm from one piece to the next;  low_mm, high_mm  its 95 % interval
    at_start_mm      the line at place 0, so that the size at place i is at_start + i x slope
    """

    count: int
    per_piece_mm: float
    low_mm: float
    high_mm: float
    at_start_mm: float

    @property
    def is_sure(self) -> bool:
        """True where the interval leaves no doubt which way it goes."""
        return self.low_mm > 0 or self.high_mm < 0

    def at_mm(self, place: float) -> float:
        return self.at_start_mm + place * self.per_piece_mm


def capability(
    sizes_mm: Sequence[float], limits: Limits, *, least: int = LEAST_PIECES, level: float = LEVEL
) -> Capability | None:
    """Cp and Cpk of a lot; None from fewer than `least` pieces or where all are alike.

    Formula: Cp = (H - L)/(6 s), Cpk = min(H - mean, mean - L)/(3 s);  s from n - 1.
             Cp x sqrt(chi2(n - 1)/(n - 1)) at both tails;
             Cpk +- z sqrt(1/(9 n) + Cpk^2/(2 (n - 1))).
    Source:  NIST/SEMATECH e-Handbook of Statistical Methods 6.1.6 (recalled); Bissell, Applied
             Statistics 39 (1990), for the interval of Cpk.
    """
    count = len(sizes_mm)
    if count < max(least, 2):
        return None
    mean_mm = math.fsum(sizes_mm) / count
    squares = math.fsum((size - mean_mm) ** 2 for size in sizes_mm)
    s_mm = math.sqrt(squares / (count - 1))
    if s_mm <= 1e-12:
        return None
    low_mm, high_mm = limits.both()
    cp = (high_mm - low_mm) / (6 * s_mm)
    cpk = min(high_mm - mean_mm, mean_mm - low_mm) / (3 * s_mm)
    return Capability(
        count,
        mean_mm,
        s_mm,
        cp,
        cp_interval(cp, count, level),
        cpk,
        cpk_interval(cpk, count, level),
    )


def cp_interval(cp: float, count: int, level: float = LEVEL) -> tuple[float, float]:
    """Two-sided interval of Cp from `count` pieces; see capability."""
    tail, dof = (1 - level) / 2, count - 1
    return (
        cp * math.sqrt(chi_square_quantile(tail, dof) / dof),
        cp * math.sqrt(chi_square_quantile(1 - tail, dof) / dof),
    )


def cpk_interval(cpk: float, count: int, level: float = LEVEL) -> tuple[float, float]:
    """Two-sided interval of Cpk from `count` pieces; see capability."""
    z = student_quantile((1 + level) / 2, math.inf)
    half = z * math.sqrt(1 / (9 * count) + cpk * cpk / (2 * (count - 1)))
    return cpk - half, cpk + half


def drift(places: Sequence[float], sizes_mm: Sequence[float], level: float = LEVEL) -> Drift | None:
    """The robust line through sizes against places; None from fewer than 5 pieces.

    Formula: the median of the slopes between every two pieces; the line goes through the medians;
             the interval takes the slopes ranked (N -+ z sqrt(n(n-1)(2n+5)/18))/2 of N.
    Source:  Theil 1950; Sen, J. Am. Stat. Assoc. 63 (1968) (recalled).  ValueError for places that
             repeat or sizes that are not one to a place.
    """
    count = len(sizes_mm)
    if len(places) != count or len(set(places)) != count:
        raise ValueError("each size needs a place of its own")
    if count < LEAST_FOR_DRIFT:
        return None
    slopes = sorted(
        (sizes_mm[j] - sizes_mm[i]) / (places[j] - places[i])
        for i in range(count)
        for j in range(i + 1, count)
    )
    slope = median(slopes)
    low, high = _ranked(slopes, sizes_mm, level)
    return Drift(count, slope, low, high, median(sizes_mm) - slope * median(places))


def _ranked(
    slopes: Sequence[float], sizes_mm: Sequence[float], level: float
) -> tuple[float, float]:
    count, pairs = len(sizes_mm), len(slopes)
    ties = [list(sizes_mm).count(size) for size in set(sizes_mm)]
    variance = _kendall(count) - sum(_kendall(tied) for tied in ties)
    reach = student_quantile((1 + level) / 2, math.inf) * math.sqrt(variance)
    upper = min(round((pairs + reach) / 2), pairs - 1)
    lower = max(round((pairs - reach) / 2) - 1, 0)
    return slopes[lower], slopes[upper]


def _kendall(count: int) -> float:
    return count * (count - 1) * (2 * count + 5) / 18


def chi_square_quantile(probability: float, dof: float) -> float:
    """The x with P(chi-square <= x) = probability, by halving; 0 < probability < 1.

    >>> round(chi_square_quantile(0.975, 19), 2)
    32.85
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability is {probability}; it must lie between 0 and 1")
    low, high = 0.0, 2 * dof + 100
    while high - low > 1e-12 * high:
        middle = (low + high) / 2
        if chi_square_probability(middle, dof) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def chi_square_probability(x: float, dof: float) -> float:
    """P(chi-square <= x), the regularised incomplete gamma function by its series."""
    if x <= 0:
        return 0.0
    a, half = dof / 2, x / 2
    term = total = 1 / a
    for step in range(1, _STEPS + int(half) * 2):
        term *= half / (a + step)
        total += term
        if term < total * 1e-16:
            break
    return min(1.0, total * math.exp(a * math.log(half) - half - math.lgamma(a)))
