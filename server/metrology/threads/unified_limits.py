"""Limits of size of unified threads, in inch, rounded as the printed series tables have them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from server.metrology.units import rounded

CLASSES = ("1A", "2A", "3A", "1B", "2B", "3B")
_QUARTER_PITCH_FROM_TPI = 4  # coarser threads take 0.15 P as minor-diameter tolerance

# ASME B1.1-2003, pitch-diameter tolerance of each class as a share of that of class 2A.
_SHARE_OF_2A = {
    "1A": Decimal("1.5"),
    "2A": Decimal(1),
    "3A": Decimal("0.75"),
    "1B": Decimal("1.95"),
    "2B": Decimal("1.3"),
    "3B": Decimal("0.975"),
}

# The printed tables compute these sizes of the 9P series at a neighbour's diameter.  Found by
# comparing the printed tables with the formula, not stated in the standard's text.
_COMPUTED_AT = {
    Decimal("0.8125"): Decimal("0.75"),
    Decimal("0.875"): Decimal("0.75"),
    Decimal("0.9375"): Decimal(1),
    Decimal("2.375"): Decimal("2.5"),
    Decimal("2.4375"): Decimal("2.5"),
    Decimal("5.75"): Decimal(6),
}

# 5/8-11 prints an allowance of .0016 where the formula gives .00165: an older, coarser rounding.
_PRINTED_ALLOWANCE = {(Decimal("0.625"), Decimal(11)): Decimal("0.0016")}

_PITCH_HEIGHT = 0.64951905  # x pitch: twice the addendum down to the pitch line, ASME B1.1
_MINOR_HEIGHT = 1.08253175  # x pitch: basic minor diameter of a UN thread
_ROOT_ROUNDING = 0.10825318  # x pitch: how much deeper the rounded root goes
_UNJ_MINOR_HEIGHT = 0.97427858  # x pitch: basic minor diameter, ASME B1.15, recalled
_UNJ_ROOT_HIGH = 1.15470054  # x pitch below the major diameter, ASME B1.15, recalled
_UNJ_ROOT_LOW = 0.56580  # x pitch below the pitch diameter, ASME B1.15, recalled

_THREE_PLACES_FROM = Decimal("0.138")  # minor diameters are printed to .001 from size #6 up


@dataclass(frozen=True)
class InchLimits:
    """Limits and allowance of one thread.  [in]  None where the printed tables give none."""

    allowance: Decimal
    basic_pitch: Decimal
    major_low: Decimal
    major_high: Decimal | None
    pitch_low: Decimal
    pitch_high: Decimal
    minor_low: Decimal | None
    minor_high: Decimal


@dataclass(frozen=True)
class _Thread:
    """What the formulas start from.  [in]"""

    diameter: Decimal
    tpi: Decimal
    tolerance_class: str
    tolerance_2a: Decimal
    is_unj: bool

    @property
    def pitch(self) -> float:
        return float(1 / self.tpi)

    def height(self, factor: float) -> Decimal:
        return rounded(factor * self.pitch, 6)

    @property
    def pitch_tolerance(self) -> Decimal:
        return rounded(_SHARE_OF_2A[self.tolerance_class] * self.tolerance_2a, 6)


def pitch_tolerance_2a(diameter: Decimal, tpi: Decimal, engagement: Decimal | None) -> Decimal:
    """Pitch-diameter tolerance of class 2A, to six places.  [in]

    engagement  length of engagement [in]; None for nine pitches, as for the finer series
    Source: ASME B1.1-2003, 0.0015 D^(1/3) + 0.0015 LE^(1/2) + 0.015 P^(2/3).
    """
    pitch = float(1 / tpi)
    at = _COMPUTED_AT.get(diameter, diameter) if engagement is None else diameter
    length = 9 * pitch if engagement is None else float(engagement)
    tolerance = 0.0015 * float(at) ** (1 / 3) + 0.0015 * length**0.5 + 0.015 * pitch ** (2 / 3)
    return rounded(tolerance, 6)


def limits(
    diameter: Decimal,
    tpi: Decimal,
    tolerance_class: str,
    engagement: Decimal | None,
    is_unj: bool = False,
) -> InchLimits:
    """Limits of size of a unified thread.  [in]

    diameter         basic major diameter [in]; taken to four places first
    tolerance_class  one of CLASSES
    engagement       length of engagement [in], None for nine pitches
    Source: ASME B1.1-2003 formulas with the rounding of its printed series tables: every limit
    to four places from its rounded neighbour, ties to the even digit; minor diameters of
    internal threads to three from size #6 up.  UNJ: ASME B1.15, recalled.
    """
    size = rounded(diameter, 4)
    tolerance = pitch_tolerance_2a(size, tpi, engagement)
    thread = _Thread(size, tpi, tolerance_class, tolerance, is_unj)
    return _external(thread) if tolerance_class.endswith("A") else _internal(thread)


def _allowance(thread: _Thread) -> Decimal:
    if thread.tolerance_class == "3A":
        return Decimal("0.0000")
    printed = _PRINTED_ALLOWANCE.get((thread.diameter, thread.tpi))
    return rounded(Decimal("0.3") * thread.tolerance_2a, 4) if printed is None else printed


def _external(thread: _Thread) -> InchLimits:
    allowance = _allowance(thread)
    share = 0.090 if thread.tolerance_class == "1A" else 0.060
    major_high = thread.diameter - allowance
    pitch_high = rounded(major_high - thread.height(_PITCH_HEIGHT), 4)
    pitch_low = rounded(pitch_high - thread.pitch_tolerance, 4)
    minor_low = None
    if thread.is_unj:
        minor_high = rounded(major_high - thread.height(_UNJ_ROOT_HIGH), 4)
        minor_low = rounded(pitch_low - thread.height(_UNJ_ROOT_LOW), 4)
    else:
        flat = rounded(major_high - thread.height(_MINOR_HEIGHT), 4)
        minor_high = flat - rounded(_ROOT_ROUNDING * thread.pitch, 4)
    return InchLimits(
        allowance=allowance,
        basic_pitch=rounded(thread.diameter - thread.height(_PITCH_HEIGHT), 4),
        major_low=rounded(major_high - rounded(share * thread.pitch ** (2 / 3), 6), 4),
        major_high=major_high,
        pitch_low=pitch_low,
        pitch_high=pitch_high,
        minor_low=minor_low,
        minor_high=minor_high,
    )


def _internal(thread: _Thread) -> InchLimits:
    height = _UNJ_MINOR_HEIGHT if thread.is_unj else _MINOR_HEIGHT
    pitch_low = rounded(thread.diameter - thread.height(_PITCH_HEIGHT), 4)
    minor_low = rounded(thread.diameter - thread.height(height), 4)
    minor_high = minor_low + rounded(_minor_tolerance(thread), 4)
    if thread.diameter >= _THREE_PLACES_FROM and not thread.is_unj:
        minor_low = rounded(minor_low, 3)
        if thread.tolerance_class != "3B":
            minor_high = rounded(minor_high, 3)
    return InchLimits(
        allowance=Decimal("0.0000"),
        basic_pitch=pitch_low,
        major_low=thread.diameter,
        major_high=None,
        pitch_low=pitch_low,
        pitch_high=rounded(pitch_low + thread.pitch_tolerance, 4),
        minor_low=minor_low,
        minor_high=minor_high,
    )


def _minor_tolerance(thread: _Thread) -> float:
    """Minor-diameter tolerance of an internal thread, ASME B1.1-2003.  [in]"""
    pitch, diameter = thread.pitch, float(thread.diameter)
    by_size = min(0.05 * math.pow(pitch, 2 / 3) + 0.03 * pitch / diameter - 0.002, 0.394 * pitch)
    if thread.tolerance_class == "3B":
        floor = 0.23 * pitch - 1.5 * pitch**2 if thread.tpi >= 13 else 0.120 * pitch
        return max(by_size, floor)
    if thread.tpi < _QUARTER_PITCH_FROM_TPI:
        return 0.15 * pitch
    by_pitch = 0.25 * pitch - 0.4 * pitch**2
    return by_pitch if diameter >= 0.25 else max(by_size, by_pitch)
