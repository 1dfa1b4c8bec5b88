"""From a size and its doubt to a verdict: ISO 14253-1 with guard bands, JCGM 106 chances."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from server.metrology.distributions import normal_probability, student_probability
from server.metrology.doubt import ONE_SIDED_COVERAGE, Budget
from server.metrology.model import Limits
from server.wording import say, say_n

MOST_REPEATS = 10  # common practice: beyond it a finer instrument is quicker
SAME_SIZE_MM = 1e-9  # two lengths closer than this differ by float noise only


class Verdict(StrEnum):
    STOCK_LEFT = "stock_left"
    IN_LIMITS = "in_limits"
    TOO_CLOSE = "too_close"
    PAST_LIMIT = "past_limit"


VERDICT_WORDS = {
    Verdict.STOCK_LEFT: say("Stock left"),
    Verdict.IN_LIMITS: say("In limits"),
    Verdict.TOO_CLOSE: say("Too close to call"),
    Verdict.PAST_LIMIT: say("Past the limit"),
}
IN_A_SENTENCE = {
    Verdict.STOCK_LEFT: say("stock left"),
    Verdict.IN_LIMITS: say("in limits"),
    Verdict.TOO_CLOSE: say("too close to call"),
    Verdict.PAST_LIMIT: say("past the limit"),
}


class GuardRule(StrEnum):
    """How wide the guard band at each limit is."""

    FULL = "u_guard"
    NINETY_FIVE = "1645"
    PLAIN = "plain"

    @property
    def words(self) -> str:
        """The rule as the record names it."""
        return _RULE_WORDS[self]


_RULE_WORDS = {
    GuardRule.FULL: say("ISO 14253-1, guard band of the whole doubt (g = U)"),
    GuardRule.NINETY_FIVE: say("ISO 14253-1:2017, conformance at 95 % (g = 1.645 u)"),
    GuardRule.PLAIN: say("plain acceptance, no guard band (g = 0)"),
}


@dataclass(frozen=True)
class RangeVerdict:
    """Verdicts at both ends and in the middle of a size range, and the one to show.

    verdict   theirs where all agree, else Too close to call
    """

    verdict: Verdict
    at_low: Verdict
    at_middle: Verdict
    at_high: Verdict

    @property
    def can_flip(self) -> bool:
        """True where the verdict hangs on which end of the range is true."""
        return not self.at_low is self.at_middle is self.at_high


@dataclass(frozen=True)
class Prior:
    """What was expected before the reading: the landing of the last cut, taken as normal.  [mm]"""

    mean_mm: float
    u_mm: float


def guard_band_mm(rule: GuardRule, doubt_mm: float, u_mm: float) -> float:
    """Width of the guard band.  [mm]

    doubt_mm   expanded uncertainty U;  u_mm  standard uncertainty, for few readings widened as a
               budget's u_guard_mm is; both >= 0
    Source:    ISO 14253-1:1998 (g = U) and :2017 (95 % one-sided, g = 1.645 u), from memory and
               secondary pages.
    """
    if rule is GuardRule.PLAIN:
        return 0.0
    return doubt_mm if rule is GuardRule.FULL else ONE_SIDED_COVERAGE * u_mm


def verdict(
    size_mm: float,
    doubt_mm: float,
    u_mm: float,
    limits: Limits,
    is_internal: bool,
    rule: GuardRule = GuardRule.FULL,
) -> Verdict:
    """The verdict on one size (design, section 6).

    size_mm      at 20 degrees C;  limits may be open on one side
    is_internal  True where cutting makes the size grow: metal is still on below the low limit
    Beyond a limit by more than g: Stock left or Past the limit, by the side.  Inside both by at
    least g: In limits.  Else Too close to call.
    Source: ISO 14253-1 (conforming L + U <= y <= H - U, not conforming beyond by more than U).
    """
    guard_mm = guard_band_mm(rule, doubt_mm, u_mm)
    above_mm = -math.inf if limits.high_mm is None else size_mm - limits.high_mm
    below_mm = -math.inf if limits.low_mm is None else limits.low_mm - size_mm
    metal_on_mm, metal_gone_mm = (below_mm, above_mm) if is_internal else (above_mm, below_mm)
    if metal_on_mm > guard_mm + SAME_SIZE_MM:
        return Verdict.STOCK_LEFT
    if metal_gone_mm > guard_mm + SAME_SIZE_MM:
        return Verdict.PAST_LIMIT
    if max(metal_on_mm, metal_gone_mm) <= -guard_mm + SAME_SIZE_MM:
        return Verdict.IN_LIMITS
    return Verdict.TOO_CLOSE


def range_verdict(
    low_mm: float,
    high_mm: float,
    doubt_mm: float,
    u_mm: float,
    limits: Limits,
    is_internal: bool,
    rule: GuardRule = GuardRule.FULL,
) -> RangeVerdict:
    """Verdicts over a warm size range low_mm..high_mm.  Arguments as in verdict."""

    def at(size_mm: float) -> Verdict:
        return verdict(size_mm, doubt_mm, u_mm, limits, is_internal, rule)

    at_low, at_middle, at_high = at(low_mm), at((low_mm + high_mm) / 2), at(high_mm)
    agreed = at_low is at_middle is at_high
    return RangeVerdict(at_low if agreed else Verdict.TOO_CLOSE, at_low, at_middle, at_high)


def chance_in_limits(
    size_mm: float,
    u_mm: float,
    limits: Limits,
    *,
    dof: float = math.inf,
    prior: Prior | None = None,
) -> float:
    """Chance that the true size lies in the limits, 0 to 1.

    Formula: P(T <= (H - y)/u) - P(T <= (L - y)/u), T Student with dof; a normal prior N(y0, u0)
             first moves y to (y/u^2 + y0/u0^2)/(1/u^2 + 1/u0^2), with dof then taken as infinite.
    Source:  JCGM 106:2012 clause 7, from memory.
    Example (JCGM 106 breakdown voltage, limit -5.40 V, y -5.47 V, u 0.05 V, printed 0.92):
    >>> round(chance_in_limits(-5.47, 0.05, Limits(None, -5.40)), 2)
    0.92
    """
    if prior is not None:
        size_mm, u_mm = with_prior(size_mm, u_mm, prior)
        dof = math.inf
    if u_mm <= 0:
        return 1.0 if verdict(size_mm, 0, 0, limits, False) is Verdict.IN_LIMITS else 0.0
    below = 0.0 if limits.low_mm is None else _probability((limits.low_mm - size_mm) / u_mm, dof)
    over = 0.0 if limits.high_mm is None else _probability((size_mm - limits.high_mm) / u_mm, dof)
    return max(0.0, 1 - below - over)


def chance_in_limits_over_range(
    low_mm: float,
    high_mm: float,
    u_mm: float,
    limits: Limits,
    *,
    dof: float = math.inf,
    prior: Prior | None = None,
) -> float:
    """Chance in limits for a warm size that lies anywhere in low_mm..high_mm alike, 0 to 1."""
    if high_mm - low_mm <= SAME_SIZE_MM:
        return chance_in_limits((low_mm + high_mm) / 2, u_mm, limits, dof=dof, prior=prior)
    points = 41
    step_mm = (high_mm - low_mm) / points
    sizes_mm = [low_mm + (i + 0.5) * step_mm for i in range(points)]
    chances = [chance_in_limits(size, u_mm, limits, dof=dof, prior=prior) for size in sizes_mm]
    return sum(chances) / points


def margin_mm(size_mm: float, limits: Limits) -> float:
    """Distance to the nearest limit, inside or out, >= 0; infinite where both are open.  [mm]"""
    ends = [limit for limit in (limits.low_mm, limits.high_mm) if limit is not None]
    return min((abs(size_mm - limit) for limit in ends), default=math.inf)


def _probability(z: float, dof: float) -> float:
    return normal_probability(z) if math.isinf(dof) else student_probability(z, dof)


def with_prior(size_mm: float, u_mm: float, prior: Prior) -> tuple[float, float]:
    """(size, standard uncertainty) once what was expected has had its weight.  [mm]"""
    if u_mm <= 0:
        return size_mm, u_mm
    if prior.u_mm <= 0:
        return prior.mean_mm, 0.0
    weight, prior_weight = 1 / u_mm**2, 1 / prior.u_mm**2
    total = weight + prior_weight
    return (size_mm * weight + prior.mean_mm * prior_weight) / total, math.sqrt(1 / total)


@dataclass(frozen=True)
class Candidate:
    """An instrument of the crib with the budget this size would have with it."""

    name: str
    budget: Budget


def repeats_to_settle(
    size_mm: float,
    budget: Budget,
    limits: Limits,
    is_internal: bool,
    rule: GuardRule = GuardRule.FULL,
    *,
    most: int = MOST_REPEATS,
    ends_mm: tuple[float, ...] = (),
) -> int | None:
    """How many readings, averaged, would end Too close to call, if their mean stays this size.

    ends_mm   of a warm size: the verdict must be the same there
    Counts the ones already averaged in the budget.  None where `most` are not enough: what the
    readings share (instrument, wires, zero) is then too large by itself.  A size that is not too
    close needs no more than it has.
    """
    for count in range(budget.count, most + 1):
        averaged = budget.with_repeats(count)
        if _is_settled((size_mm, *ends_mm), averaged, limits, is_internal, rule):
            return count
    return None


def _is_settled(
    sizes_mm: Iterable[float], budget: Budget, limits: Limits, is_internal: bool, rule: GuardRule
) -> bool:
    """One and the same verdict at all sizes, and not Too close to call."""
    doubt_mm, u_mm = budget.doubt_mm, budget.u_guard_mm
    found = {verdict(size, doubt_mm, u_mm, limits, is_internal, rule) for size in sizes_mm}
    return len(found) == 1 and Verdict.TOO_CLOSE not in found


def instruments_to_settle(
    size_mm: float,
    candidates: Iterable[Candidate],
    limits: Limits,
    is_internal: bool,
    rule: GuardRule = GuardRule.FULL,
    *,
    ends_mm: tuple[float, ...] = (),
) -> tuple[str, ...]:
    """Names of the candidates that would end Too close to call at this size, coarsest first.

    ends_mm   of a warm size, as in repeats_to_settle
    Coarsest first, since the plainest instrument that settles it is the one at hand.
    """
    ordered = sorted(candidates, key=lambda candidate: -candidate.budget.doubt_mm)
    return tuple(
        candidate.name
        for candidate in ordered
        if _is_settled((size_mm, *ends_mm), candidate.budget, limits, is_internal, rule)
    )


def settling_words(count_now: int, repeats: int | None, instruments: tuple[str, ...]) -> str:
    """What would settle Too close to call, in one sentence."""
    more = 0 if repeats is None else max(0, repeats - count_now)
    if more and instruments:
        return say_n(
            more,
            "Would settle it if the size stays the same: {n} more reading at this state, averaged, "
            "or a reading with {instrument}.",
            "Would settle it if the size stays the same: {n} more readings at this state, "
            "averaged, or a reading with {instrument}.",
            instrument=instruments[0],
        )
    if more:
        return say_n(
            more,
            "Would settle it if the size stays the same: {n} more reading at this state, averaged.",
            "Would settle it if the size stays the same: {n} more readings at this state, "
            "averaged.",
        )
    if instruments:
        return say(
            "Would settle it if the size stays the same: a reading with {instrument}.",
            instrument=instruments[0],
        )
    return say(
        "No number of repeats settles it with what is in the crib; a finer instrument would."
    )
