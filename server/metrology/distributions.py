"""The two distributions that a doubt is read from: normal and Student's t."""

from __future__ import annotations

import math
from functools import lru_cache

_TINY = 1e-300
_MOST_STEPS = 400


def normal_probability(z: float) -> float:
    """P(Z <= z) of the standard normal distribution, a fraction 0 to 1.

    >>> round(normal_probability(1.40), 4)
    0.9192
    """
    return 0.5 * math.erfc(-z / math.sqrt(2))


def student_probability(t: float, dof: float) -> float:
    """P(T <= t) of Student's distribution with dof > 0 degrees of freedom (may be infinite).

    Formula: the regularised incomplete beta function I_x(dof/2, 1/2), x = dof/(dof + t^2).

    >>> round(student_probability(2.228, 10), 3)
    0.975
    """
    if math.isinf(dof):
        return normal_probability(t)
    if dof <= 0:
        raise ValueError(f"degrees of freedom are {dof}; they must be above 0")
    square = t * t
    tail = 0.5 * _incomplete_beta(dof / 2, 0.5, dof / (dof + square), square / (dof + square))
    return 1 - tail if t > 0 else tail


@lru_cache(maxsize=256)
def student_quantile(probability: float, dof: float) -> float:
    """The t with P(T <= t) = probability, 0 < probability < 1.

    >>> round(student_quantile(0.975, 10), 3)
    2.228
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability is {probability}; it must lie between 0 and 1")
    if probability < 0.5:
        return -student_quantile(1 - probability, dof)
    t = 0.0
    for _ in range(_MOST_STEPS):
        # Newton from below: the distribution is concave there, so it never overshoots.
        step = (probability - student_probability(t, dof)) / _student_density(t, dof)
        t += step
        if abs(step) < 1e-12 * (1 + t):
            break
    return t


def _student_density(t: float, dof: float) -> float:
    if math.isinf(dof):
        return math.exp(-t * t / 2) / math.sqrt(2 * math.pi)
    log_front = math.lgamma((dof + 1) / 2) - math.lgamma(dof / 2) - 0.5 * math.log(dof * math.pi)
    return math.exp(log_front - (dof + 1) / 2 * math.log1p(t * t / dof))


def _incomplete_beta(a: float, b: float, x: float, rest: float) -> float:
    """I_x(a, b) with rest = 1 - x given apart, so that a small one is not lost."""
    if x <= 0:
        return 0.0
    if rest <= 0:
        return 1.0
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front = math.exp(log_front + a * math.log(x) + b * math.log(rest))
    if x < (a + 1) / (a + b + 2):
        return front * _continued_fraction(a, b, x) / a
    return 1 - front * _continued_fraction(b, a, rest) / b


def _continued_fraction(a: float, b: float, x: float) -> float:
    """Lentz's evaluation of the continued fraction of the incomplete beta function."""
    c, d = 1.0, 1 / _away_from_zero(1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, _MOST_STEPS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1 / _away_from_zero(1 + term * d)
            c = _away_from_zero(1 + term / c)
            value *= d * c
        if abs(d * c - 1) < 1e-15:
            break
    return value


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
