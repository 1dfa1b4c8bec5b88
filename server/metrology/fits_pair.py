"""A hole and the shaft that goes into it, and what every family of fits reads alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from server.metrology.model import DesignationError, Kind, PlainTarget
from server.metrology.units import NotANumber, read_number, shown

ACCEPTED = "25 h6, 40 H7, 40 H7/g6, 1.000 RC4 shaft, 12.70 +0.00/-0.02, 12.7 ±0.01 or 24.98/25.00"
NOMINAL = r"(?P<size>(?:\d{1,3}[ -])?\d{1,3}/\d{1,3}|\d+(?:[.,]\d*)?|[.,]\d+)"
_NAMES = {
    Kind.OUTSIDE_DIAMETER: "an outside diameter",
    Kind.GROOVE_DIAMETER: "a groove diameter",
}


@dataclass(frozen=True)
class FitPair:
    """A hole and the shaft that goes into it.  Lengths [mm]; negative clearance is interference."""

    designation: str
    hole: PlainTarget
    shaft: PlainTarget

    @property
    def smallest_clearance_mm(self) -> float:
        return round(self.hole.size.both()[0] - self.shaft.size.both()[1], 9)

    @property
    def largest_clearance_mm(self) -> float:
        return round(self.hole.size.both()[1] - self.shaft.size.both()[0], 9)

    @property
    def character(self) -> str:
        """One of clearance, transition and interference."""
        if self.smallest_clearance_mm >= 0:
            return "clearance"
        return "interference" if self.largest_clearance_mm <= 0 else "transition"

    @property
    def in_words(self) -> str:
        """The range of the fit, for a card."""
        unit, places = self.hole.unit, max(self.hole.decimals, self.shaft.decimals)
        ends = [
            f"{shown(abs(each), unit, places)} {unit} "
            + ("clearance" if each >= 0 else "interference")
            for each in (self.smallest_clearance_mm, self.largest_clearance_mm)
        ]
        return f"{self.designation}: {self.character} fit, from {ends[0]} to {ends[1]}"

    def member(self, kind: Kind | None) -> PlainTarget:
        """The hole or the shaft, as kind asks; the hole where it is None.

        Raises DesignationError for a thread.
        """
        is_hole = kind in (None, Kind.BORE)
        chosen = self.hole if is_hole else self.shaft
        checked = checked_kind(is_hole, kind, chosen.tolerance_class)
        return noted(replace(chosen, kind=checked), self.in_words)


def checked_kind(is_hole: bool, kind: Kind | None, part: str) -> Kind:
    """The kind of a size whose class is a hole's or a shaft's; DesignationError on a clash."""
    if kind is None:
        return Kind.BORE if is_hole else Kind.OUTSIDE_DIAMETER
    if kind.is_thread:
        raise DesignationError(
            f"“{part}” is a plain size, not a thread", part=part, accepted=ACCEPTED
        )
    if is_hole and kind in _NAMES:
        raise DesignationError(
            f"“{part}” is a hole's tolerance; {_NAMES[kind]} takes a shaft's, in small letters",
            part=part,
            accepted="a small letter such as h6, or the kind bore",
        )
    if not is_hole and kind is Kind.BORE:
        raise DesignationError(
            f"“{part}” is a shaft's tolerance; a bore takes a hole's, as H7",
            part=part,
            accepted="a capital letter such as H7, or the kind outside_diameter",
        )
    return kind


def noted(target: PlainTarget, note: str) -> PlainTarget:
    return replace(target, notes=(*target.notes, note))


def nominal_size(size: str, unit: str) -> Decimal:
    """A nominal size as written, a fraction only in inches.

    Raises DesignationError for zero, a fraction in mm or a number that can be read two ways.
    """
    if "/" in size:
        return _fraction(size, unit)
    try:
        value = read_number(size)
    except NotANumber as wrong:
        raise DesignationError(str(wrong), part=size, accepted=ACCEPTED) from None
    if value <= 0:
        raise DesignationError("a size must be over zero", part=size, accepted=ACCEPTED)
    return value


def size_shown(size: str, nominal: Decimal, unit: str) -> str:
    """A nominal size for a designation: fractions as written, the unit where it is inches."""
    text = size if "/" in size else f"{nominal:f}"
    return f"{text} in" if unit == "in" else text


def _fraction(size: str, unit: str) -> Decimal:
    if unit != "in":
        raise DesignationError(
            f"“{size}” is a fraction; write inches after it, or the size in mm",
            part=size,
            accepted="1/2 in, or a size in mm such as 12.7",
        )
    whole, _, rest = size.replace("-", " ").rpartition(" ")
    top, bottom = (int(each) for each in rest.split("/"))
    if bottom == 0 or (top == 0 and not whole):
        raise DesignationError(f"“{size}” is no size", part=size, accepted=ACCEPTED)
    exact = Fraction(int(whole or 0)) + Fraction(top, bottom)
    return Decimal(exact.numerator) / Decimal(exact.denominator)
