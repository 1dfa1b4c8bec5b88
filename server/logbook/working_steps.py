"""One step of a working: a formula, its numbers filled in, what comes out and where it is from.

Every value comes from the function that the computation itself uses; the formula beside it is
what that function does.  Inputs carry three digits more than results, so that the formula filled
in gives the result to the digits shown.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from server.metrology.units import from_mm

FUNCTIONS = ("sin", "cos", "tan", "max", "Φ", "Student", "π")
_NAME = re.compile(r"[A-Za-zα-ωΑ-Ω][A-Za-zα-ω0-9]*")
_CARRIED, _RESULT = 5, 2  # digits beyond those of the screen


@dataclass(frozen=True)
class Given:
    """A number as it stands in a formula.  value is in `unit`; text is what is shown."""

    symbol: str
    words: str
    value: float
    text: str
    unit: str = ""


@dataclass(frozen=True)
class Step:
    """formula is the right-hand side in the inputs' symbols, "" where the result is solved for,
    read off or chosen: then the note says how."""

    name: str
    result: Given
    formula: str = ""
    inputs: tuple[Given, ...] = ()
    source: str = ""
    note: str = ""

    @property
    def filled(self) -> str:
        """The formula with the inputs' shown numbers in the place of their symbols."""
        texts = {given.symbol: given.text for given in self.inputs}

        def put(match: re.Match[str]) -> str:
            name = match[0]
            if name in FUNCTIONS:
                return name
            text = texts[name]
            return f"({text})" if text.startswith("−") else text

        return _NAME.sub(put, self.formula)


def plain(value: float, places: int, keep: int | None = None) -> str:
    """Decimal digits; zeros at the end beyond `keep` places are left off."""
    text = f"{value:.{places}f}"
    if keep is not None and "." in text:
        whole, _, part = text.partition(".")
        part = part[:keep] + part[keep:].rstrip("0")
        text = f"{whole}.{part}" if part else whole
    if not text.strip("-0."):
        text = text.lstrip("-")
    return text.replace("-", "−")


def significant(value: float, digits: int) -> str:
    """As many decimals as show that many significant digits, at least two decimals."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "∞"
    return plain(value, max(2, places_for(value, digits)))


def trimmed(text: str) -> str:
    """Without the zeros that only fill up decimals."""
    return text.rstrip("0").rstrip(".") if "." in text else text


def places_for(value: float, digits: int) -> int:
    """Decimals that show that many significant digits of a value below 1; 0 for nothing."""
    if abs(value) < 1e-12:
        return 0
    return max(0, digits - 1 - math.floor(math.log10(abs(value))))


@dataclass(frozen=True)
class Scale:
    """How numbers are shown: the unit of the feature and the decimals of its screen."""

    unit: str
    decimals: int

    @property
    def micro(self) -> str:
        return "µin" if self.unit == "in" else "µm"

    def in_micro(self, value_mm: float) -> float:
        return from_mm(value_mm, self.unit) * (1e6 if self.unit == "in" else 1e3)

    def length(self, symbol: str, words: str, value_mm: float) -> Given:
        """A length on its way through a formula."""
        value = from_mm(value_mm, self.unit)
        digits = max(self.decimals + _CARRIED, places_for(value, 7))
        return Given(symbol, words, value, plain(value, digits, self.decimals), self.unit)

    def result(self, symbol: str, words: str, value_mm: float) -> Given:
        """A length that a formula gives."""
        value = from_mm(value_mm, self.unit)
        return Given(symbol, words, value, plain(value, self.decimals + _RESULT), self.unit)

    def small(self, symbol: str, words: str, value_mm: float, digits: int = 7) -> Given:
        """A doubt: in millionths of an inch or thousandths of a millimetre."""
        value = self.in_micro(value_mm)
        return Given(symbol, words, value, trimmed(significant(value, digits)), self.micro)

    def small_result(self, symbol: str, words: str, value_mm: float) -> Given:
        value = self.in_micro(value_mm)
        return Given(symbol, words, value, significant(value, 4), self.micro)


def angle(symbol: str, words: str, value_rad: float) -> Given:
    degrees = round(math.degrees(value_rad), 9)
    return Given(symbol, words, degrees, f"{plain(degrees, 9, 0)}°", "°")


def number(symbol: str, words: str, value: float, places: int = 9, unit: str = "") -> Given:
    return Given(symbol, words, value, plain(value, places, 0), unit)


def number_result(symbol: str, words: str, value: float, places: int, unit: str = "") -> Given:
    return Given(symbol, words, value, plain(value, places), unit)
