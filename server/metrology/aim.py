"""The size to land on, and what a coat of plating does to the limits before it.

Lengths [mm], angles [rad].
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from server.metrology.model import Kind, Limits, OutOfRange, PlainTarget, ThreadTarget
from server.wording import say

QUARTER = 0.25  # common practice: tight and free aims keep a quarter of the tolerance in hand


class Fit(StrEnum):
    """Where in the limits to aim; tight leaves more metal, on shafts and in bores alike."""

    TIGHT = "tight"
    MID = "mid"
    FREE = "free"


class AimOutsideLimits(OutOfRange):
    """An aim that would make a bad part."""


def aim_mm(limits: Limits, kind: Kind, fit: Fit = Fit.MID) -> float:
    """The size to land on.  [mm]

    Mid-tolerance, or a quarter of the tolerance inside the limit that a tight or a free fit leans
    on: tight is near the high limit of a shaft or an external thread, near the low limit of a bore
    or an internal thread.  A groove or a length has no mate; tight leaves metal there too.
    ValueError where the standard leaves one limit open.

    >>> aim_mm(Limits(24.5, 25.0), Kind.OUTSIDE_DIAMETER)
    24.75
    """
    low_mm, high_mm = limits.both()
    if fit is Fit.MID:
        return limits.middle_mm
    inset_mm = QUARTER * (high_mm - low_mm)
    near_high = (fit is Fit.TIGHT) != kind.is_internal
    return high_mm - inset_mm if near_high else low_mm + inset_mm


def checked_aim_mm(aim_mm: float, limits: Limits) -> float:
    """The aim, if it lies within the limits that there are; AimOutsideLimits otherwise.  [mm]

    A tenth of a nanometre is allowed for the way from inch.
    """
    slack_mm = 1e-7
    above = limits.low_mm is None or aim_mm >= limits.low_mm - slack_mm
    below = limits.high_mm is None or aim_mm <= limits.high_mm + slack_mm
    if not (above and below and math.isfinite(aim_mm)):
        raise AimOutsideLimits(say("aim"), aim_mm, limits.low_mm, limits.high_mm, "mm")
    return aim_mm


@dataclass(frozen=True)
class Coat:
    """Thickness of plating, measured normal to the surface.  [mm]"""

    thinnest_mm: float
    thickest_mm: float

    def __post_init__(self) -> None:
        if not self.thinnest_mm >= 0:
            raise OutOfRange(say("plating"), self.thinnest_mm, 0, None, "mm")
        if not self.thickest_mm >= self.thinnest_mm:
            raise OutOfRange(
                say("thickest plating"), self.thickest_mm, self.thinnest_mm, None, "mm"
            )


@dataclass(frozen=True)
class ThreadBeforePlating:
    """Limits to cut a thread to so that it is within its own once plated."""

    major_diameter: Limits
    pitch_diameter: Limits
    minor_diameter: Limits
    pitch_shift_mm: float  # by the mean thickness, 2 t / sin a, > 0


def thread_before_plating(target: ThreadTarget, coat: Coat) -> ThreadBeforePlating:
    """Pre-plate limits of a thread.

    Formula: a coat t makes the pitch diameter of an external thread grow by 2 t / sin a (4 t for
    60 degrees), its major and minor diameter by 2 t; an internal thread closes in by as much.
    The limit toward which the coat grows takes the thickest coat, the other one the thinnest.
    Source: geometry; ASME B1.1 (coated threads) has the factor of four [memory].
    OutOfRange where the spread of the coat leaves no pitch-diameter tolerance.
    """
    internal = target.kind.is_internal
    on_flanks = 2 / math.sin(target.half_angle_rad)
    pitch = _before(target.pitch_diameter, on_flanks, coat, internal)
    if pitch.low_mm is not None and pitch.high_mm is not None and pitch.low_mm >= pitch.high_mm:
        spread_mm = target.pitch_diameter.tolerance_mm / on_flanks
        raise OutOfRange(
            say("spread of the plating"), coat.thickest_mm - coat.thinnest_mm, 0, spread_mm, "mm"
        )
    return ThreadBeforePlating(
        major_diameter=_before(target.major_diameter, 2, coat, internal),
        pitch_diameter=pitch,
        minor_diameter=_before(target.minor_diameter, 2, coat, internal),
        pitch_shift_mm=on_flanks * (coat.thinnest_mm + coat.thickest_mm) / 2,
    )


def plain_before_plating(target: PlainTarget, coat: Coat) -> Limits:
    """Pre-plate limits of a diameter: 2 t off a shaft, 2 t onto a bore.

    OutOfRange where the spread of the coat leaves no tolerance; ValueError for a length, where it
    depends on which faces are plated.
    """
    if target.kind is Kind.LENGTH:
        raise ValueError(say("how plating changes a length depends on which faces are plated"))
    limits = _before(target.size, 2, coat, target.kind.is_internal)
    low_mm, high_mm = limits.both()
    if low_mm >= high_mm:
        spread_mm = coat.thickest_mm - coat.thinnest_mm
        raise OutOfRange(
            say("spread of the plating"), spread_mm, 0, target.size.tolerance_mm / 2, "mm"
        )
    return limits


def _before(limits: Limits, factor: float, coat: Coat, internal: bool) -> Limits:
    thick_mm, thin_mm = factor * coat.thickest_mm, factor * coat.thinnest_mm
    off_low, off_high = (-thick_mm, -thin_mm) if internal else (thin_mm, thick_mm)
    return Limits(
        None if limits.low_mm is None else limits.low_mm - off_low,
        None if limits.high_mm is None else limits.high_mm - off_high,
    )
