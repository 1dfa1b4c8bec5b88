"""Typed text to numbers and back.  Inch and degree factors are exact by definition."""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_EVEN, Decimal

from server.wording import say

MM_PER_INCH = 25.4  # exact: international inch, 1959
UNIT_WORDS = {"in": say("inches"), "mm": "mm"}  # in a sentence
LONGEST_NUMBER = 24  # characters; no dial, micrometer or drawing needs more

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")


class NotANumber(ValueError):
    """Typed text that is not one plain number; the message says what would be."""

    def __init__(self, text: str, message: str) -> None:
        super().__init__(message)
        self.text = text


def read_number(text: str, *, is_comma_decimal: bool = False) -> Decimal:
    """The number that was typed, exactly.

    ASCII digits with one decimal point, or a comma where it can only be a decimal comma: "16,5"
    and "0,625" are read, "12,700" is not, since it may be twelve thousand seven hundred.
    Raises NotANumber.

    is_comma_decimal    the person writes a decimal comma, and never one between thousands

    >>> read_number("16,5")
    Decimal('16.5')
    >>> read_number("12,700", is_comma_decimal=True)
    Decimal('12.700')
    """
    typed = text.strip()
    if not typed:
        raise NotANumber(text, say("Nothing typed: type a number such as 12.71"))
    quoted = text if len(text) <= LONGEST_NUMBER else text[:LONGEST_NUMBER] + "…"
    if len(typed) > LONGEST_NUMBER:
        raise NotANumber(
            text,
            say(
                "“{text}” is too long; type at most {most} characters",
                text=quoted,
                most=LONGEST_NUMBER,
            ),
        )
    if not _NUMBER.fullmatch(typed):
        raise NotANumber(
            text,
            say(
                "“{text}” is not a number; type digits with one decimal point, as 12.71",
                text=quoted,
            ),
        )
    if "," in typed:
        whole, _, part = typed.lstrip("+-").partition(",")
        may_be_thousands = len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")
        if may_be_thousands and not is_comma_decimal:
            raise NotANumber(
                text,
                say(
                    "“{text}” can be read two ways; type {decimal} with a point, or {thousands}",
                    text=quoted,
                    decimal=f"{whole}.{part}",
                    thousands=f"{whole}{part}",
                ),
            )
        typed = typed.replace(",", ".")
    return Decimal(typed)


def decimals_typed(text: str) -> int:
    """Places after the decimal mark, as typed.

    >>> decimals_typed("0.6480")
    4
    """
    for mark in (".", ","):
        if mark in text:
            return len(text.strip().rpartition(mark)[2])
    return 0


def to_mm(value: Decimal | float, unit: str) -> float:
    """A length in "in" or "mm" as millimetres; ValueError for another unit."""
    if unit == "mm":
        return float(value)
    if unit == "in":
        return float(value * Decimal("25.4")) if isinstance(value, Decimal) else value * MM_PER_INCH
    raise ValueError(f"unit {unit!r}: use in or mm")


def from_mm(value_mm: float, unit: str) -> float:
    """Millimetres as a length in "in" or "mm"; ValueError for another unit."""
    if unit == "mm":
        return value_mm
    if unit == "in":
        return value_mm / MM_PER_INCH
    raise ValueError(f"unit {unit!r}: use in or mm")


def rounded(value: float | Decimal, places: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """Decimal rounding of the number as printed, free of binary ties.

    A float is first taken to its 12 significant digits, so that 0.91005 is a tie.

    >>> rounded(0.91005, 4)
    Decimal('0.9100')
    """
    exact = value if isinstance(value, Decimal) else Decimal(f"{value:.12g}")
    return exact.quantize(Decimal(1).scaleb(-places), rounding=rounding)


def usual_decimals(unit: str) -> int:
    """Places a length is shown with: four in inch, three in mm."""
    return 4 if unit == "in" else 3


def shown(value_mm: float, unit: str, places: int | None = None) -> str:
    """A length for the eye: four places in inch, three in mm unless told."""
    digits = places if places is not None else usual_decimals(unit)
    text = f"{from_mm(value_mm, unit):.{digits}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def celsius(value: float, unit: str) -> float:
    """A temperature in "C" or "F" as degrees Celsius; ValueError for another unit."""
    if unit == "C":
        return value
    if unit == "F":
        return (value - 32) / 1.8
    raise ValueError(f"temperature unit {unit!r}: use C or F")


def from_celsius(degrees_c: float, unit: str) -> float:
    """Degrees Celsius as "C" or "F"; ValueError for another unit."""
    if unit == "C":
        return degrees_c
    if unit == "F":
        return degrees_c * 1.8 + 32
    raise ValueError(f"temperature unit {unit!r}: use C or F")


def radians(angle_deg: float) -> float:
    return math.radians(angle_deg)
