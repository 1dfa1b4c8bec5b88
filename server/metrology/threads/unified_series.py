"""Standard sizes and series of unified threads, and what lies near a size that is not one."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from functools import cache

from server.metrology.tables import rows

NUMBER_SIZES = (0, 1, 2, 3, 4, 5, 6, 8, 10, 12)
NAMED_SERIES = ("UNC", "UNF", "UNEF")

_NUMBER_NAMES = {Decimal(60 + 13 * n) / 1000: f"#{n}" for n in NUMBER_SIZES}


@cache
def combinations() -> dict[tuple[Decimal, Decimal], str]:
    """Series by (basic major diameter [in], threads per inch).  Source: ASME B1.1, see table."""
    return {
        (Decimal(row["nominal_in"]), Decimal(row["tpi"])): row["series"]
        for row in rows("unified_series")
    }


@cache
def _by_size() -> dict[Decimal, dict[str, Decimal]]:
    found: dict[Decimal, dict[str, Decimal]] = {}
    for (diameter, tpi), series in combinations().items():
        if series in NAMED_SERIES:
            found.setdefault(diameter, {})[series] = tpi
    return found


@cache
def _sizes() -> frozenset[Decimal]:
    return frozenset(diameter for diameter, _ in combinations())


def number_diameter(number: int) -> Decimal:
    """Basic major diameter of a number size, ASME B1.1: 0.060 + 0.013 n.  [in]"""
    return Decimal(60 + 13 * number) / 1000


def tpi_of(diameter: Decimal, series: str) -> Decimal | None:
    """Threads per inch of a size [in] in UNC, UNF or UNEF; None where the series lacks it."""
    return _by_size().get(diameter, {}).get(series)


def standard_size(typed: Decimal) -> Decimal:
    """The series size [in] that a diameter typed to three places stands for, or the diameter."""
    if typed in _sizes() or typed.as_tuple().exponent != -3:
        return typed
    near = min(_sizes(), key=lambda size: abs(size - typed))
    return near if abs(near - typed) <= Decimal("0.0005") else typed


def is_number_size(whole: int, tpi: Decimal) -> bool:
    """True where a bare whole number means a number size, told by its threads per inch.

    A standard thread decides; else the finer pitches, which no thread of that many inches has.
    """
    if whole not in NUMBER_SIZES or (Decimal(whole), tpi) in combinations():
        return False
    if (number_diameter(whole), tpi) in combinations():
        return True
    return tpi >= (18 if whole > 6 else 24)


def size_name(diameter: Decimal) -> str:
    """How a drawing writes a basic major diameter [in].

    >>> size_name(Decimal("0.19")), size_name(Decimal("1.25")), size_name(Decimal("1.045"))
    ('#10', '1 1/4', '1.045')
    """
    if diameter in _NUMBER_NAMES:
        return _NUMBER_NAMES[diameter]
    exact = Fraction(diameter)
    if 64 % exact.denominator:
        decimal = diameter.normalize()
        if standard_size(decimal) != decimal:  # 0.4380 exactly, where 0.438 means 7/16
            decimal = decimal.quantize(Decimal("0.0001"))
        return f"{decimal:f}"
    whole, part = divmod(exact, 1)
    written = [str(whole)] if whole else []
    if part:
        written.append(str(part))
    return " ".join(written)


def tpi_name(tpi: Decimal) -> str:
    """Threads per inch as written: 18, 4.5."""
    return f"{tpi.normalize():f}"


def nearest(diameter: Decimal, tpi: Decimal | None, count: int = 3) -> tuple[str, ...]:
    """Standard threads near a size [in] and pitch, best first, without a class.

    >>> nearest(Decimal("0.625"), Decimal(17), 2)
    ('5/8-18 UNF', '5/8-16 UN')
    """
    size = min(max(diameter, Decimal("0.06")), Decimal(6))

    def distance(combination: tuple[Decimal, Decimal]) -> tuple[float, float, float]:
        near_diameter, near_tpi = combination
        by_size = abs(math.log(near_diameter / size))
        by_pitch = 0.0 if tpi is None else abs(math.log(near_tpi / tpi))
        named = 0.0 if combinations()[combination] in NAMED_SERIES else 1.0
        return 3 * by_size + by_pitch, named, float(near_tpi)

    best = sorted(combinations(), key=distance)[:count]
    return tuple(
        f"{size_name(near)}-{tpi_name(near_tpi)} {combinations()[near, near_tpi]}"
        for near, near_tpi in best
    )
