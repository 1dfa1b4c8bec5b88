"""Plain sizes: ISO 286 letters, ANSI B4.1 classes, stated tolerances and low/high limits."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from server.metrology import fits_iso286, fits_stated
from server.metrology.model import DesignationError, Kind, Limits, PlainTarget
from server.metrology.units import NotANumber, read_number

ACCEPTED = "25 h6, 40 H7, 40 H7/g6, 1.000 RC4 shaft, 12.70 +0.00/-0.02, 12.7 ±0.01 or 24.98/25.00"
LONGEST_TEXT = 80  # characters; a longer text is no plain size

_NOMINAL = r"(?P<size>(?:\d+[ -])?\d+/\d+|\d+(?:[.,]\d*)?|[.,]\d+)"
_ISO = re.compile(_NOMINAL + r"\s*(?P<letter>[A-Za-z]{1,2})\s*(?P<grade>\d{1,3})")
_ISO_PAIR = re.compile(
    _NOMINAL + r"\s*(?P<hole>[A-Z]{1,2}\d{1,2})\s*[/ -]\s*(?P<shaft>[a-z]{1,2}\d{1,2})"
)
_CLASS = re.compile(r"([A-Za-z]{1,2})(\d{1,2})")
_ISO_WITHOUT_GRADE = re.compile(_NOMINAL + r"\s*(?P<letter>[A-Za-z]{1,2})")


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
        """ "clearance", "transition" or "interference"."""
        if self.smallest_clearance_mm >= 0:
            return "clearance"
        return "interference" if self.largest_clearance_mm <= 0 else "transition"

    @property
    def in_words(self) -> str:
        """The range of the fit, for a card."""
        unit, places = self.hole.unit, max(self.hole.decimals, 4 if self.hole.unit == "in" else 3)
        per_unit = 25.4 if unit == "in" else 1.0
        words = [
            f"{abs(each) / per_unit:.{places}f} {unit} "
            + ("clearance" if each >= 0 else "interference")
            for each in (self.smallest_clearance_mm, self.largest_clearance_mm)
        ]
        return f"{self.designation}: {self.character} fit, from {words[0]} to {words[1]}"


def read(text: str, kind: Kind | None = None, unit: str = "mm") -> PlainTarget | None:
    """The plain size that text names, or None where it is no plain size.

    kind  outside_diameter, bore, groove_diameter or length; None takes it from the letter's case
    unit  "in" or "mm": what a stated size without a unit of its own is in; a size with an ISO
          letter is in mm unless inches are written
    A pair such as 40 H7/g6 gives the member that kind asks for (the bore by default) and a note
    with the range of the fit.
    Raises DesignationError where a part of it is wrong.
    """
    if len(text) > LONGEST_TEXT:
        return None
    written, bare = fits_stated.unit_written(text)
    if _ISO_PAIR.fullmatch(bare):
        both = _iso_pair(bare, written)
        return _member(both, kind)
    iso = _ISO.fullmatch(bare)
    if iso and _is_letter(iso["letter"]):
        letter = _letter(iso["letter"], bare)
        target = _iso(iso["size"], letter, iso["grade"], written, kind)
        return _with_unit_note(target, iso["size"], written, unit)
    unfinished = _ISO_WITHOUT_GRADE.fullmatch(bare)
    if unfinished and _is_letter(unfinished["letter"]):
        raise DesignationError(
            f"“{unfinished['letter']}” needs a grade after it, as {unfinished['letter']}7",
            part=unfinished["letter"],
            accepted=ACCEPTED,
        )
    return fits_stated.read(bare, kind, written or unit)


def pair(text: str) -> FitPair | None:
    """The hole and shaft that text names, as 40 H7/g6, or None where it names no pair.

    Raises DesignationError where a part of it is wrong.
    """
    if len(text) > LONGEST_TEXT:
        return None
    written, bare = fits_stated.unit_written(text)
    if _ISO_PAIR.fullmatch(bare):
        return _iso_pair(bare, written)
    return None


def checked_kind(is_hole: bool, kind: Kind | None, part: str) -> Kind:
    """The kind of a size whose class is a hole's or a shaft's; DesignationError on a clash."""
    if kind is None:
        return Kind.BORE if is_hole else Kind.OUTSIDE_DIAMETER
    if kind.is_thread:
        raise DesignationError(
            f"“{part}” is a plain size, not a thread", part=part, accepted=ACCEPTED
        )
    if is_hole and kind in (Kind.OUTSIDE_DIAMETER, Kind.GROOVE_DIAMETER):
        raise DesignationError(
            f"“{part}” is a hole's tolerance; {_words(kind)} takes a shaft's, in small letters",
            part=part,
            accepted="a small letter such as h6, or the kind bore",
        )
    if not is_hole and kind is Kind.BORE:
        raise DesignationError(
            f"“{part}” is a shaft's tolerance; a bore takes a capital, as H7",
            part=part,
            accepted="a capital letter such as H7, or the kind outside_diameter",
        )
    return kind


def _words(kind: Kind) -> str:
    return {
        Kind.OUTSIDE_DIAMETER: "an outside diameter",
        Kind.GROOVE_DIAMETER: "a groove diameter",
    }[kind]


def _is_letter(letters: str) -> bool:
    """True where it can only be meant as a fundamental deviation: every single letter is."""
    return len(letters) == 1 or letters.lower() in fits_iso286.SHAFT_LETTERS


def _letter(letters: str, text: str) -> str:
    if letters == "Js":
        return "JS"
    if letters in fits_iso286.SHAFT_LETTERS or letters in fits_iso286.HOLE_LETTERS:
        return letters
    if letters.lower() in fits_iso286.SHAFT_LETTERS:
        raise DesignationError(
            f"“{letters}” mixes capital and small; write {letters.lower()} for a shaft or"
            f" {letters.upper()} for a hole",
            part=letters,
            accepted=f"{letters.lower()} or {letters.upper()}",
            nearest=(
                text.replace(letters, letters.upper()),
                text.replace(letters, letters.lower()),
            ),
        )
    raise DesignationError(
        f"ISO 286 has no letter {letters}",
        code="not_in_standard",
        part=letters,
        accepted="a to zc for shafts, A to ZC for holes, without i, l, o, q and w",
        nearest=fits_iso286.nearest(Decimal(25), letters, 7),
    )


def _iso(size: str, letter: str, grade: str, written: str | None, kind: Kind | None) -> PlainTarget:
    unit = written or "mm"
    nominal = _nominal(size, unit)
    checked = checked_kind(letter.isupper(), kind, letter + grade)
    nominal_mm = nominal * Decimal("25.4") if unit == "in" else nominal
    found = fits_iso286.deviations(nominal_mm, letter, int(grade))
    low_mm = nominal_mm + found.lower_um / 1000
    high_mm = nominal_mm + found.upper_um / 1000
    shown = f"{_typed(size, nominal)} in" if unit == "in" else _typed(size, nominal)
    if low_mm <= 0:
        raise DesignationError(
            f"{shown} {letter}{grade} would leave no metal", part=size, accepted="a larger size"
        )
    notes = ["tolerance table recalled, unchecked"] if found.is_recalled else []
    if unit == "in":
        notes.append(f"metric tolerance of {nominal_mm.normalize():f} mm, shown in inches")
    return PlainTarget(
        designation=f"{shown} {letter}{grade}",
        family="iso286",
        kind=checked,
        nominal_mm=float(nominal_mm),
        tolerance_class=f"{letter}{grade}",
        size=Limits(float(low_mm), float(high_mm)),
        unit=unit,
        decimals=5 if unit == "in" else max(3, *(_places(x) for x in (low_mm, high_mm))),
        source=fits_iso286.SOURCE,
        notes=tuple(notes),
    )


def _with_unit_note(target: PlainTarget, size: str, written: str | None, unit: str) -> PlainTarget:
    if written is None and unit == "in":
        note = f"read as {size} mm, since ISO 286 is metric; write {size} in for inches"
        return _noted(target, note)
    return target


def _noted(target: PlainTarget, note: str) -> PlainTarget:
    return replace(target, notes=(*target.notes, note))


def _iso_pair(bare: str, written: str | None) -> FitPair:
    parts = _ISO_PAIR.fullmatch(bare)
    assert parts is not None
    members = []
    for word in (parts["hole"], parts["shaft"]):
        split = _CLASS.fullmatch(word)
        assert split is not None
        members.append(_iso(parts["size"], _letter(split[1], bare), split[2], written, None))
    hole, shaft = members
    name = hole.designation + "/" + shaft.tolerance_class
    return FitPair(name, hole, shaft)


def _member(both: FitPair, kind: Kind | None) -> PlainTarget:
    wanted = kind or Kind.BORE
    part = both.hole.tolerance_class if wanted is Kind.BORE else both.shaft.tolerance_class
    checked = checked_kind(wanted is Kind.BORE, wanted, part)
    chosen = replace(both.hole if wanted is Kind.BORE else both.shaft, kind=checked)
    return _noted(chosen, both.in_words)


def _nominal(size: str, unit: str) -> Decimal:
    if "/" in size:
        if unit != "in":
            raise DesignationError(
                f"“{size}” is a fraction; write inches after it, or the size in mm",
                part=size,
                accepted="1/2 in, or a size in mm such as 12.7",
            )
        whole, _, rest = size.replace("-", " ").rpartition(" ")
        top, bottom = rest.split("/")
        if int(bottom) == 0:
            raise DesignationError(f"“{size}” divides by zero", part=size, accepted=ACCEPTED)
        exact = Fraction(int(whole or 0)) + Fraction(int(top), int(bottom))
        return Decimal(exact.numerator) / Decimal(exact.denominator)
    try:
        value = read_number(size)
    except NotANumber as wrong:
        raise DesignationError(str(wrong), part=size, accepted=ACCEPTED) from None
    if value <= 0:
        raise DesignationError("a size must be over zero", part=size, accepted=ACCEPTED)
    return value


def _typed(size: str, nominal: Decimal) -> str:
    return size if "/" in size else f"{nominal:f}"


def _places(value: Decimal) -> int:
    return max(0, -int(value.normalize().as_tuple().exponent))
