"""One hypothesis of how a cut responds, and the sums that carry it through a cut and a reading.

Sources: Kalman filter, and probabilistic data association for the doubtful reading: standard
tracking practice; readings wrong by a digit about once in a hundred: common experience.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

_SQRT_HALF = math.sqrt(0.5)
_MISREAD_SHARE = 0.01
_MISREAD_SPREAD_MM = 0.15
_WEAR_MM = 0.0006  # a cut: the edge draws back and leaves metal on
_WEAR_SPREAD_MM = 0.0005
_PEAK = 1 / math.sqrt(2 * math.pi)
_FREE = 3.0  # deviations clear of a bound from which it no longer matters
_LOST_AT_MOST = 0.98
_SHALLOWEST = 0.15  # of the full thread depth, below which phi is not extrapolated


def normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z * _SQRT_HALF)


class Hypothesis:
    """One phi, scatter and least cut, with a Gaussian over stock x and offset c."""

    __slots__ = (
        "weight",
        "key",
        "odds",
        "cell",
        "q2",
        "least",
        "offset2",
        "x",
        "c",
        "xx",
        "xc",
        "cc",
    )

    def __init__(
        self,
        weight: float,
        key: int,
        odds: float,
        cell: float,
        q2: float,
        least: float,
        offset2: float = 0.0,
    ) -> None:
        self.weight = weight
        self.key = key
        self.odds = odds
        self.cell = cell  # variance of the log odds inside the grid cell
        self.q2 = q2
        self.least = least
        self.offset2 = offset2  # variance of c at the first reading
        self.x = self.c = self.xx = self.xc = self.cc = 0.0

    def copy(self) -> Hypothesis:
        twin = Hypothesis(
            self.weight, self.key, self.odds, self.cell, self.q2, self.least, self.offset2
        )
        twin.x, twin.c, twin.xx, twin.xc, twin.cc = self.x, self.c, self.xx, self.xc, self.cc
        return twin


def moments(parts: Iterable[tuple[float, float, float]]) -> tuple[float, float]:
    """Mean and variance of a mixture of (weight, mean, variance)."""
    total = first = second = 0.0
    for weight, mean, variance in parts:
        total += weight
        first += weight * mean
        second += weight * (variance + mean * mean)
    mean = first / total
    return mean, max(second / total - mean * mean, 0.0)


def depth_share(stock_mm: float, full_depth_mm: float | None) -> float:
    """Share of the full thread depth engaged with that stock left; 1 where depth plays no part."""
    if full_depth_mm is None:
        return 1.0
    return min(max(1.0 - stock_mm / full_depth_mm, _SHALLOWEST), 1.0)


def above(z: float) -> tuple[float, float]:
    """Mean shift and lost variance of a unit normal kept where it exceeds -z.

    Both in units of its deviation.  Source: the truncated normal distribution, textbook.
    """
    if z > _FREE:
        return 0.0, 0.0
    shift = _PEAK * math.exp(-0.5 * z * z) / max(normal_cdf(z), 1e-12)
    return shift, min(shift * (shift + z), _LOST_AT_MOST)


def bite(h: Hypothesis, engaged: float, spread: float, share: float) -> None:
    """Carry the hypothesis through a cut that came off: it was thicker than the least cut."""
    odds = h.odds * share
    phi = odds / (1 + odds)
    cut = 1 - phi
    shift, lost = above((engaged - h.least) / spread)
    gain_c = (h.xc - h.cc) / spread
    gain_x = (h.xx - h.xc) / spread - cut * spread
    doubt = phi * cut * engaged
    xx = phi * phi * h.xx + 2 * phi * cut * h.xc + cut * cut * h.cc + h.q2 + h.cell * doubt * doubt
    xc = phi * h.xc + cut * h.cc
    h.x += gain_x * shift - cut * engaged
    h.c += gain_c * shift + _WEAR_MM
    h.xx = xx - gain_x * gain_x * lost
    h.xc = xc - gain_x * gain_c * lost
    h.cc += _WEAR_SPREAD_MM**2 - gain_c * gain_c * lost


def rub(h: Hypothesis, engaged: float, spread: float) -> None:
    """Carry the hypothesis through a pass that took nothing off: it was too thin to cut."""
    shift, lost = above((h.least - engaged) / spread)
    gain_x, gain_c = (h.xx - h.xc) / spread, (h.xc - h.cc) / spread
    h.x -= gain_x * shift
    h.c -= gain_c * shift
    h.xx -= gain_x * gain_x * lost
    h.xc -= gain_x * gain_c * lost
    h.cc -= gain_c * gain_c * lost


def update(h: Hypothesis, r: float, s2: float) -> float:
    """Kalman step with a doubtful reading; scales the weight and returns it."""
    miss = r - h.x
    spread2 = h.xx + s2
    wide2 = spread2 + _MISREAD_SPREAD_MM**2
    sound = (1 - _MISREAD_SHARE) * math.exp(-0.5 * miss * miss / spread2) / math.sqrt(spread2)
    misread = _MISREAD_SHARE * math.exp(-0.5 * miss * miss / wide2) / math.sqrt(wide2)
    trust = sound / (sound + misread)
    gain_x, gain_c = h.xx / spread2, h.xc / spread2
    left = trust * (1 - trust) * miss * miss - trust * spread2
    h.x += trust * gain_x * miss
    h.c += trust * gain_c * miss
    h.xx += gain_x * gain_x * left
    h.xc += gain_x * gain_c * left
    h.cc += gain_c * gain_c * left
    h.weight *= sound + misread
    return h.weight


def absorb(h: Hypothesis, other: Hypothesis) -> None:
    total = h.weight + other.weight
    if total <= 0:
        return
    share = other.weight / total
    dx, dc = other.x - h.x, other.c - h.c
    both = share * (1 - share)
    h.xx += share * (other.xx - h.xx) + both * dx * dx
    h.xc += share * (other.xc - h.xc) + both * dx * dc
    h.cc += share * (other.cc - h.cc) + both * dc * dc
    h.x += share * dx
    h.c += share * dc
    h.weight = total
