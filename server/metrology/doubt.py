"""The doubt of a size: an uncertainty budget to the GUM, U = k u with k = 2."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum

from server.metrology.distributions import student_quantile
from server.metrology.scatter import Scatter
from server.wording import say

USUAL_COVERAGE = 2.0
TWO_SIGMA = 0.9545  # probability that k = 2 stands for
ONE_SIDED = 0.95  # chance to conform that ISO 14253-1:2017 asks for, and its normal quantile
ONE_SIDED_COVERAGE = 1.645
LEAST_DOF_FOR_USUAL = 20.0  # there P(|t| < 2) is still 94 %


class Shape(StrEnum):
    """What is known of an input: a standard deviation, or bounds and a shape between them."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    U_SHAPED = "u_shaped"


_DIVISORS = {
    Shape.NORMAL: 1.0,
    Shape.RECTANGULAR: math.sqrt(3),
    Shape.TRIANGULAR: math.sqrt(6),
    Shape.U_SHAPED: math.sqrt(2),
}


@dataclass(frozen=True)
class Line:
    """One line of the budget.

    spread              half-width, or for NORMAL the standard deviation times divisor, in `unit`
    sensitivity         mm of size per unit of the input
    divisor             None: the shape's own (normal 1, rectangular sqrt 3, triangular sqrt 6,
                        U-shaped sqrt 2); 2 for a certificate's U with k = 2
    dof                 degrees of freedom, infinite for bounds taken as known
    is_common           True where all readings of one job share the error, so that it cancels in
                        what came off
    is_averaged         True where repeat readings shrink it
    is_expanded_alone   True where so few degrees of freedom stand behind it that it takes its own
                        Student's t before it is combined
    scatter             what the spread of an averaged line rests on, where readings are behind it
    note                why this line is there and how its number was had
    Source: GUM (JCGM 100) 4.2, 4.3, from memory.
    """

    name: str
    spread: float
    shape: Shape = Shape.RECTANGULAR
    sensitivity: float = 1.0
    divisor: float | None = None
    dof: float = math.inf
    is_common: bool = False
    is_averaged: bool = False
    is_expanded_alone: bool = False
    scatter: Scatter | None = None
    unit: str = "mm"
    note: str = ""

    @property
    def standard_uncertainty_mm(self) -> float:
        """|sensitivity| spread / divisor  [mm]"""
        divisor = _DIVISORS[self.shape] if self.divisor is None else self.divisor
        return abs(self.sensitivity) * self.spread / divisor


@dataclass(frozen=True)
class Budget:
    """A budget worked out.

    u_mm               combined standard uncertainty
    dof                effective degrees of freedom (Welch-Satterthwaite)
    coverage_factor    k, and why it is what it is
    doubt_mm           U = k u, what is shown as +-
    u_guard_mm         1.645 times it is the one-sided 95 % guard band: u, or more where Student's t
                       of few readings asks for more
    u_common_mm        the part all readings of one job share
    u_per_reading_mm   the rest, which is what "how much came off" suffers from
    count              readings averaged in it
    """

    lines: tuple[Line, ...]
    u_mm: float
    dof: float
    coverage_factor: float
    coverage_reason: str
    doubt_mm: float
    u_guard_mm: float
    u_common_mm: float
    u_per_reading_mm: float
    count: int = field(default=1)

    def with_repeats(self, count: int) -> Budget:
        """The same budget, were `count` readings averaged that scatter alike; count >= 1."""
        if count < 1:
            raise ValueError(f"{count} readings; it must be at least 1")
        lines = (
            _with_repeats(line, self.count, count) if line.is_averaged else line
            for line in self.lines
        )
        return budget(lines, count)


def budget(lines: Iterable[Line], count: int = 1) -> Budget:
    """Combine the lines of a budget; uncorrelated inputs.

    Formula: u^2 = sum (c_i u_i)^2;  dof = u^4 / sum((c_i u_i)^4 / dof_i);  U = k u.  A line that
    is expanded alone: U^2 = (t u_i)^2 + (k u_rest)^2, since the effective degrees of freedom are
    themselves a guess where the scatter of a few readings rules them: three that happen to lie
    close would lower both their line and the factor it takes.
    Source:  GUM (JCGM 100) 5.1.2, G.4.1; ISO 14253-2, safety factors for few repeats (7.0 for two,
    2.3 for three, which are t / 2); from memory.
    """
    kept = tuple(lines)
    u_mm = _root_sum(kept)
    dof = _effective_dof(kept, u_mm)
    k, reason = _coverage(kept, u_mm, dof)
    return Budget(
        lines=kept,
        u_mm=u_mm,
        dof=dof,
        coverage_factor=k,
        coverage_reason=reason,
        doubt_mm=k * u_mm,
        u_guard_mm=_one_sided(kept, u_mm, dof),
        u_common_mm=_root_sum(line for line in kept if line.is_common),
        u_per_reading_mm=_root_sum(line for line in kept if not line.is_common),
        count=count,
    )


def coverage_factor(dof: float) -> tuple[float, str]:
    """(k, reason): 2, or Student's t for 95.45 % where fewer than 20 degrees of freedom make
    k = 2 hold less than 94 %, dof cut to a whole number.
    Source: GUM (JCGM 100) G.3, G.4; EA-4/02 appendix E, from memory.
    """
    if dof >= LEAST_DOF_FOR_USUAL:
        return USUAL_COVERAGE, say("k = 2, about 95 %")
    whole_dof = max(1, math.floor(dof))
    k = student_quantile((1 + TWO_SIGMA) / 2, whole_dof)
    return k, say(
        "k = {k}: few readings ({dof} effective degrees of freedom) need Student's t for the same "
        "95 %",
        k=f"{k:.2f}",
        dof=whole_dof,
    )


def expanded_apart(lines: tuple[Line, ...]) -> tuple[tuple[float, float], ...]:
    """(k, u in mm) of each line that is expanded alone and of the rest together; () without one."""
    return tuple((coverage_factor(dof)[0], u_mm) for dof, u_mm in _apart(lines))


def _apart(lines: tuple[Line, ...]) -> tuple[tuple[float, float], ...]:
    """(degrees of freedom, u in mm) in the same order."""
    alone = [
        line
        for line in lines
        if line.is_expanded_alone
        and line.dof < LEAST_DOF_FOR_USUAL
        and line.standard_uncertainty_mm > 0
    ]
    if not alone:
        return ()
    rest = tuple(line for line in lines if line not in alone)
    rest_u_mm = _root_sum(rest)
    parts = [(line.dof, line.standard_uncertainty_mm) for line in alone]
    return (*parts, (_effective_dof(rest, rest_u_mm), rest_u_mm))


def _coverage(lines: tuple[Line, ...], u_mm: float, dof: float) -> tuple[float, str]:
    apart = expanded_apart(lines)
    if not apart:
        return coverage_factor(dof)
    k = math.hypot(*(part_k * part_u_mm for part_k, part_u_mm in apart)) / u_mm
    fewest = min(line.dof for line in lines if line.is_expanded_alone)
    return k, say(
        "k = {k}: the scatter of readings rests on {dof} degrees of freedom, so its line takes "
        "its own Student's t; another reading brings it down",
        k=f"{k:.2f}",
        dof=f"{fewest:.0f}",
    )


def _one_sided(lines: tuple[Line, ...], u_mm: float, dof: float) -> float:
    """u as the one-sided guard band takes it: each part times t over the normal quantile."""
    return math.hypot(
        *(
            _one_sided_factor(part) * part_u_mm
            for part, part_u_mm in _apart(lines) or ((dof, u_mm),)
        )
    )


def _one_sided_factor(dof: float) -> float:
    if dof >= LEAST_DOF_FOR_USUAL:
        return 1.0
    return student_quantile(ONE_SIDED, max(1, math.floor(dof))) / ONE_SIDED_COVERAGE


def _with_repeats(line: Line, count_now: int, count: int) -> Line:
    """An averaged line, were another number of readings averaged."""
    if line.scatter is None:
        spread = line.spread * math.sqrt(count_now / count)
        return replace(line, spread=spread, dof=max(line.dof, count - 1.0))
    found = line.scatter.averaged(count)
    return replace(
        line,
        spread=found.s_mm / math.sqrt(count),
        dof=found.dof,
        is_expanded_alone=found.stands_alone,
        scatter=found,
    )


def _root_sum(lines: Iterable[Line]) -> float:
    return math.sqrt(sum(line.standard_uncertainty_mm**2 for line in lines))


def _effective_dof(lines: tuple[Line, ...], u_mm: float) -> float:
    loose = sum(
        line.standard_uncertainty_mm**4 / line.dof for line in lines if not math.isinf(line.dof)
    )
    return u_mm**4 / loose if loose > 0 else math.inf
