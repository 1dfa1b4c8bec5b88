"""Limit deviations of ISO 286 tolerance classes, from the embedded tables of ISO 286-1."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from server.metrology.model import DesignationError
from server.metrology.tables import rows
from server.wording import say, words_of

SOURCE = say("ISO 286-1:2010, tables 1 to 5")
LARGEST_MM = Decimal(500)
SHAFT_LETTERS = (
    *("a", "b", "c", "cd", "d", "e", "ef", "f", "fg", "g", "h", "js", "j", "k", "m", "n", "p"),
    *("r", "s", "t", "u", "v", "x", "y", "z", "za", "zb", "zc"),
)
HOLE_LETTERS = tuple(letter.upper() for letter in SHAFT_LETTERS)
CLEARANCE_LETTERS = SHAFT_LETTERS[: SHAFT_LETTERS.index("h") + 1]


@dataclass(frozen=True)
class Deviations:
    """Lower and upper limit deviation from the nominal size.  [um]"""

    lower_um: Decimal
    upper_um: Decimal
    is_recalled: bool  # a number of it was recalled, not read in print


@dataclass(frozen=True)
class _Cell:
    over_mm: Decimal
    up_to_mm: Decimal
    value_um: Decimal
    is_recalled: bool


def deviations(nominal_mm: Decimal, letter: str, grade: int) -> Deviations:
    """Limit deviations of a shaft (small letter) or hole (capital).  [um]

    nominal_mm  nominal size  [mm], over 0 up to 500
    letter      fundamental deviation, "a" to "zc" or "A" to "ZC"
    grade       standard tolerance grade, 1 to 18
    Source: ISO 286-1:2010, tables 1 to 5; the rule of Delta for holes K to ZC.
    Raises DesignationError (not_in_standard) where the tables give none, with the nearest.
    """
    try:
        return _deviations(nominal_mm, letter, grade)
    except _NotTabulated as missing:
        text = f"{_plain(nominal_mm)} {letter}{grade}"
        raise DesignationError(
            say(
                "ISO 286 gives no {fit} for {size} mm: {why}",
                fit=f"{letter}{grade}",
                size=_plain(nominal_mm),
                why=words_of(missing),
            ),
            code="not_in_standard",
            part=text,
            accepted=say("letters a to zc or A to ZC, grades 1 to 18, sizes up to 500 mm"),
            nearest=nearest(nominal_mm, letter, grade),
        ) from None


def nearest(nominal_mm: Decimal, letter: str, grade: int) -> tuple[str, ...]:
    """Two designations of the same kind, close by, that the tables do give."""
    size = min(max(nominal_mm, Decimal(1)), LARGEST_MM)
    letters = HOLE_LETTERS if letter[:1].isupper() else SHAFT_LETTERS
    home = _position(letters, letter)
    found: list[str] = []
    ways = sorted(
        ((abs(i - home) + abs(other - grade), abs(other - grade), i, other))
        for i in range(len(letters))
        for other in range(1, 19)
    )
    for _, _, i, other in ways:
        try:
            offered = _deviations(size, letters[i], other)
        except _NotTabulated:
            continue
        if size + offered.lower_um / 1000 > 0:
            found.append(f"{_plain(size)} {letters[i]}{other}")
        if len(found) == 2:
            break
    return tuple(found)


class _NotTabulated(Exception):
    """The tables have no such cell; the message says why."""


def _deviations(nominal_mm: Decimal, letter: str, grade: int) -> Deviations:
    if not 0 < nominal_mm <= LARGEST_MM:
        raise _NotTabulated(say("the tables end at 500 mm"))
    if nominal_mm <= 1 and (grade >= 14 or letter.lower() in ("a", "b")):
        raise _NotTabulated(say("letters a and b and grades from 14 start above 1 mm"))
    width = _find(
        _table("iso286_grades", "grade"),
        str(grade),
        nominal_mm,
        say("no grade {grade}", grade=grade),
    )
    if letter.lower() == "js":
        half = width.value_um / 2
        return Deviations(-half, half, width.is_recalled)
    if letter.isupper():
        return _hole(nominal_mm, letter, grade, width)
    return _shaft(nominal_mm, letter, grade, width)


def _shaft(nominal_mm: Decimal, letter: str, grade: int, width: _Cell) -> Deviations:
    base = _shaft_base(nominal_mm, letter, grade)
    recalled = base.is_recalled or width.is_recalled
    if letter in CLEARANCE_LETTERS:
        return Deviations(base.value_um - width.value_um, base.value_um, recalled)
    return Deviations(base.value_um, base.value_um + width.value_um, recalled)


def _shaft_base(nominal_mm: Decimal, letter: str, grade: int) -> _Cell:
    if letter == "j":
        return _find(_graded_j(), f"j{grade}", nominal_mm, _no_letter(f"j{grade}"))
    base = _find(_table("iso286_shafts", "letter"), letter, nominal_mm, _no_letter(letter))
    if letter == "k" and not 4 <= grade <= 7:
        return _Cell(base.over_mm, base.up_to_mm, Decimal(0), False)
    return base


def _hole(nominal_mm: Decimal, letter: str, grade: int, width: _Cell) -> Deviations:
    shaft_letter = letter.lower()
    if shaft_letter in CLEARANCE_LETTERS:
        base = _shaft_base(nominal_mm, shaft_letter, grade)
        lower = -base.value_um
        return Deviations(lower, lower + width.value_um, base.is_recalled or width.is_recalled)
    top = _hole_top(nominal_mm, letter, grade)
    recalled = top.is_recalled or width.is_recalled
    return Deviations(top.value_um - width.value_um, top.value_um, recalled)


def _hole_top(nominal_mm: Decimal, letter: str, grade: int) -> _Cell:
    """Upper deviation of holes J to ZC, with the standard's exceptions."""
    if letter == "J":
        return _find(_graded_j(), f"J{grade}", nominal_mm, _no_letter(f"J{grade}"))
    name = letter.lower()
    base = _find(_table("iso286_shafts", "letter"), name, nominal_mm, _no_letter(letter))
    ends_at = 8 if letter in ("K", "M", "N") else 7
    if grade <= ends_at:
        if letter == "M" and grade == 6 and 250 < nominal_mm <= 315:
            return _Cell(base.over_mm, base.up_to_mm, Decimal(-9), False)
        delta = _find(
            _table("iso286_delta", "grade"),
            str(grade),
            nominal_mm,
            say("no Delta for grade {grade}", grade=grade),
        )
        top = -base.value_um + delta.value_um
        return _Cell(base.over_mm, base.up_to_mm, top, base.is_recalled or delta.is_recalled)
    if letter == "K" and nominal_mm > 3:
        raise _NotTabulated(say("K ends at grade 8"))
    if letter == "N" and nominal_mm <= 1:
        raise _NotTabulated(say("N above grade 8 starts above 1 mm"))
    if letter == "N" and nominal_mm > 3:
        return _Cell(base.over_mm, base.up_to_mm, Decimal(0), False)
    return _Cell(base.over_mm, base.up_to_mm, -base.value_um, base.is_recalled)


def _no_letter(letter: str) -> str:
    return say("no {letter} at this size", letter=letter)


def _find(
    table: dict[str, tuple[_Cell, ...]], key: str, nominal_mm: Decimal, otherwise: str
) -> _Cell:
    for cell in table.get(key, ()):
        if cell.over_mm < nominal_mm <= cell.up_to_mm:
            return cell
    raise _NotTabulated(otherwise)


@cache
def _table(name: str, key: str) -> dict[str, tuple[_Cell, ...]]:
    cells: dict[str, list[_Cell]] = {}
    for row in rows(name):
        cells.setdefault(row[key], []).append(_cell(row))
    return {each: tuple(found) for each, found in cells.items()}


@cache
def _graded_j() -> dict[str, tuple[_Cell, ...]]:
    cells: dict[str, list[_Cell]] = {}
    for row in rows("iso286_j"):
        cells.setdefault(row["letter"] + row["grade"], []).append(_cell(row))
    return {each: tuple(found) for each, found in cells.items()}


def _cell(row: dict[str, str]) -> _Cell:
    value = row.get("tolerance_um") or row.get("deviation_um") or row["delta_um"]
    return _Cell(
        Decimal(row["over_mm"]),
        Decimal(row["up_to_mm"]),
        Decimal(value),
        row["obtained"] != "published",
    )


def _position(letters: tuple[str, ...], letter: str) -> int:
    if letter in letters:
        return letters.index(letter)
    return next((i for i, each in enumerate(letters) if each > letter), len(letters) - 1)


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
