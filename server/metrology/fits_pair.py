"""A hole and the shaft that goes into it, and what every family of fits reads alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from server.metrology.model import DesignationError, Kind, PlainTarget
from server.metrology.units import NotANumber, read_number, shown
from server.wording import either, say, words_of

ACCEPTED = either(
    (
        *("25 h6", "40 H7", "40 H7/g6", "1.000 RC4 shaft"),
        *("12.70 +0.00/-0.02", "12.7 ±0.01", "24.98/25.00"),
    )
)
NOMINAL = r"(?P<size>(?:\d{1,3}[ -])?\d{1,3}/\d{1,3}|\d+(?:[.,]\d*)?|[.,]\d+)"


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
            return say("clearance")
        return say("interference") if self.largest_clearance_mm <= 0 else say("transition")

    @property
    def in_words(self) -> str:
        """The range of the fit, for a card."""
        least, most = self.smallest_clearance_mm, self.largest_clearance_mm
        fit, tight, loose = self.designation, self._end_words(least), self._end_words(most)
        if least >= 0:
            return say(
                "{fit}: clearance fit, from {tight} to {loose}", fit=fit, tight=tight, loose=loose
            )
        if most <= 0:
            return say(
                "{fit}: interference fit, from {tight} to {loose}",
                fit=fit,
                tight=tight,
                loose=loose,
            )
        return say(
            "{fit}: transition fit, from {tight} to {loose}", fit=fit, tight=tight, loose=loose
        )

    def _end_words(self, clearance_mm: float) -> str:
        unit, places = self.hole.unit, max(self.hole.decimals, self.shaft.decimals)
        size = shown(abs(clearance_mm), unit, places)
        if clearance_mm >= 0:
            return say("{size} {unit} clearance", size=size, unit=unit)
        return say("{size} {unit} interference", size=size, unit=unit)

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
            say("“{text}” is a plain size, not a thread", text=part), part=part, accepted=ACCEPTED
        )
    if is_hole and kind in (Kind.OUTSIDE_DIAMETER, Kind.GROOVE_DIAMETER):
        raise DesignationError(
            say(
                "“{text}” is a hole's tolerance; an outside diameter takes a shaft's, in small "
                "letters",
                text=part,
            )
            if kind is Kind.OUTSIDE_DIAMETER
            else say(
                "“{text}” is a hole's tolerance; a groove diameter takes a shaft's, in small "
                "letters",
                text=part,
            ),
            part=part,
            accepted=say("a small letter such as h6, or the kind bore"),
        )
    if not is_hole and kind is Kind.BORE:
        raise DesignationError(
            say("“{text}” is a shaft's tolerance; a bore takes a hole's, as H7", text=part),
            part=part,
            accepted=say("a capital letter such as H7, or the kind outside_diameter"),
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
        raise DesignationError(words_of(wrong), part=size, accepted=ACCEPTED) from None
    if value <= 0:
        raise DesignationError(say("a size must be over zero"), part=size, accepted=ACCEPTED)
    return value


def size_shown(size: str, nominal: Decimal, unit: str) -> str:
    """A nominal size for a designation: fractions as written, the unit where it is inches."""
    text = size if "/" in size else f"{nominal:f}"
    return f"{text} in" if unit == "in" else text


def _fraction(size: str, unit: str) -> Decimal:
    if unit != "in":
        raise DesignationError(
            say("“{text}” is a fraction; write inches after it, or the size in mm", text=size),
            part=size,
            accepted=say("1/2 in, or a size in mm such as 12.7"),
        )
    whole, _, rest = size.replace("-", " ").rpartition(" ")
    top, bottom = (int(each) for each in rest.split("/"))
    if bottom == 0 or (top == 0 and not whole):
        raise DesignationError(say("“{text}” is no size", text=size), part=size, accepted=ACCEPTED)
    exact = Fraction(int(whole or 0)) + Fraction(top, bottom)
    return Decimal(exact.numerator) / Decimal(exact.denominator)
