"""Plain sizes: ISO 286 letters, ANSI B4.1 classes, stated tolerances and low/high limits."""

from __future__ import annotations

import re
from decimal import Decimal

from server.metrology import fits_ansi, fits_iso286, fits_stated
from server.metrology.fits_pair import (
    ACCEPTED,
    NOMINAL,
    FitPair,
    checked_kind,
    nominal_size,
    noted,
    size_shown,
)
from server.metrology.model import DesignationError, Kind, Limits, PlainTarget
from server.wording import either, say

__all__ = ["FitPair", "pair", "read"]

LONGEST_TEXT = 80  # characters; a longer text is no plain size

_ISO = re.compile(NOMINAL + r"\s*(?P<letter>[A-Za-z]{1,2})\s*(?P<grade>\d{1,3})")
_ISO_PAIR = re.compile(
    NOMINAL + r"\s*(?P<hole>[A-Z]{1,2}\d{1,2})\s*[/ -]\s*(?P<shaft>[a-z]{1,2}\d{1,2})"
)
_CLASS = re.compile(r"([A-Za-z]{1,2})(\d{1,2})")
_ISO_WITHOUT_GRADE = re.compile(NOMINAL + r"\s*(?P<letter>[A-Za-z]{1,2})")


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
        return _iso_pair(bare, written).member(kind)
    ansi = fits_ansi.read(bare, kind, written)
    if ansi is not None:
        return ansi
    iso = _ISO.fullmatch(bare)
    if iso and _is_letter(iso["letter"]):
        letter = _letter(iso["letter"], bare, _in_mm(iso["size"], written), iso["grade"])
        target = _iso(iso["size"], letter, iso["grade"], written, kind)
        return _with_unit_note(target, iso["size"], written, unit)
    unfinished = _ISO_WITHOUT_GRADE.fullmatch(bare)
    if unfinished and _is_letter(unfinished["letter"]):
        raise DesignationError(
            say("“{letter}” needs a grade after it, as {letter}7", letter=unfinished["letter"]),
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
    return fits_ansi.pair(bare, written)


def _is_letter(letters: str) -> bool:
    """True where it can only be meant as a fundamental deviation: every single letter is."""
    return len(letters) == 1 or letters.lower() in fits_iso286.SHAFT_LETTERS


def _in_mm(size: str, written: str | None) -> Decimal:
    unit = written or "mm"
    nominal = nominal_size(size, unit)
    return nominal * Decimal("25.4") if unit == "in" else nominal


def _letter(letters: str, text: str, nominal_mm: Decimal, grade: str) -> str:
    if letters == "Js":
        return "JS"
    if letters in fits_iso286.SHAFT_LETTERS or letters in fits_iso286.HOLE_LETTERS:
        return letters
    if letters.lower() in fits_iso286.SHAFT_LETTERS:
        raise DesignationError(
            say(
                "“{letters}” mixes capital and small; write {small} for a shaft or {capital} for "
                "a hole",
                letters=letters,
                small=letters.lower(),
                capital=letters.upper(),
            ),
            part=letters,
            accepted=either((letters.lower(), letters.upper())),
            nearest=(
                text.replace(letters, letters.upper()),
                text.replace(letters, letters.lower()),
            ),
        )
    raise DesignationError(
        say("ISO 286 has no letter {letter}", letter=letters),
        code="not_in_standard",
        part=letters,
        accepted=say("a to zc for shafts, A to ZC for holes, without i, l, o, q and w"),
        nearest=fits_iso286.nearest(nominal_mm, letters, int(grade)),
    )


def _iso(size: str, letter: str, grade: str, written: str | None, kind: Kind | None) -> PlainTarget:
    unit = written or "mm"
    nominal = nominal_size(size, unit)
    checked = checked_kind(letter.isupper(), kind, letter + grade)
    nominal_mm = _in_mm(size, written)
    found = fits_iso286.deviations(nominal_mm, letter, int(grade))
    low_mm = nominal_mm + found.lower_um / 1000
    high_mm = nominal_mm + found.upper_um / 1000
    shown = size_shown(size, nominal, unit)
    if low_mm <= 0:
        raise DesignationError(
            say("{size} would leave no metal", size=f"{shown} {letter}{grade}"),
            part=size,
            accepted=say("a larger size"),
        )
    notes = [say("tolerance table recalled, unchecked")] if found.is_recalled else []
    if unit == "in":
        notes.append(
            say(
                "metric tolerance of {size} mm, shown in inches",
                size=f"{nominal_mm.normalize():f}",
            )
        )
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
        return noted(
            target,
            say(
                "read as {size} mm, since ISO 286 is metric; write {size} in for inches",
                size=size,
            ),
        )
    return target


def _iso_pair(bare: str, written: str | None) -> FitPair:
    parts = _ISO_PAIR.fullmatch(bare)
    assert parts is not None
    members = []
    for word in (parts["hole"], parts["shaft"]):
        split = _CLASS.fullmatch(word)
        assert split is not None
        letter = _letter(split[1], bare, _in_mm(parts["size"], written), split[2])
        members.append(_iso(parts["size"], letter, split[2], written, None))
    hole, shaft = members
    name = hole.designation + "/" + shaft.tolerance_class
    return FitPair(name, hole, shaft)


def _places(value: Decimal) -> int:
    return max(0, -int(value.normalize().as_tuple().exponent))
