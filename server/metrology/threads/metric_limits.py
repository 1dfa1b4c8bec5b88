"""Limits of size of ISO metric threads: ISO 965-1 tables, and its formulas beyond them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from functools import cache

from server.metrology.tables import rows
from server.metrology.units import rounded
from server.wording import say

EXTERNAL_PITCH_GRADES = (3, 4, 5, 6, 7, 8, 9)
EXTERNAL_MAJOR_GRADES = (4, 6, 8)
INTERNAL_GRADES = (4, 5, 6, 7, 8)
BY_FORMULA = say("outside the standard's range: tolerances by its formulas")

_PITCH_HEIGHT = Decimal("0.649519053")  # x pitch, ISO 68-1: d - d2
_MINOR_HEIGHT = Decimal("1.082531755")  # x pitch, ISO 68-1: d - d1
_ROOT_DEPTH = Decimal("0.616025404")  # x pitch below the pitch diameter: root radius P/8, ISO 965-1
_SHARP_CREST = Decimal("0.1443376")  # x pitch: internal major, reference, above D + EI + TD2

_R40 = (
    *(100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250),
    *(265, 280, 300, 315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670),
    *(710, 750, 800, 850, 900, 950),
)  # ISO 3

# Steps of R40 from grade 6.  ISO 965-1 grade ratios, which are R40 ratios.
_STEPS = {
    "Td2": {grade: 4 * (grade - 6) for grade in EXTERNAL_PITCH_GRADES},
    "TD2": {4: -3, 5: 1, 6: 5, 7: 9, 8: 13},
    "TD1": {grade: 4 * (grade - 6) for grade in INTERNAL_GRADES},
    "Td": {4: -8, 6: 0, 8: 8},
}
# Deviation formulas of ISO 965-1, -(constant + slope P) micrometres, and the finest pitch each
# position is given for.  az: ISO 965-4, from its published limits.
_DEVIATIONS = {
    "e": (50, 11, Decimal("0.5")),
    "f": (30, 11, Decimal("0.35")),
    "g": (15, 11, Decimal("0.2")),
    "G": (15, 11, Decimal("0.2")),
    "az": (300, 20, Decimal("0.2")),
}


@dataclass(frozen=True)
class MetricLimits:
    """Limits and deviation of one thread.  [mm]"""

    deviation: Decimal  # >= 0: es downward for external, EI upward for internal
    basic_pitch: Decimal
    major_low: Decimal
    major_high: Decimal  # internal: reference
    pitch_low: Decimal
    pitch_high: Decimal
    minor_low: Decimal
    minor_high: Decimal
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Tables:
    """ISO 965-1 tolerances [um] by quantity."""

    by_size: dict[tuple[str, int, Decimal], dict[int, int]]  # quantity, range, pitch -> grade
    by_pitch: dict[tuple[str, Decimal], dict[int, int]]  # quantity, pitch -> grade
    deviations: dict[tuple[str, Decimal], int]  # position, pitch
    ranges: tuple[tuple[Decimal, Decimal], ...]  # over, up to and including [mm]


@cache
def _tables() -> _Tables:
    found = rows("iso965_tables")
    spans = {(Decimal(r["d_over"]), Decimal(r["d_incl"])) for r in found if r["d_over"]}
    tables = _Tables({}, {}, {}, tuple(sorted(spans)))
    for row in found:
        quantity, grade, value = row["quantity"], row["grade_or_position"], int(row["value_um"])
        pitch = Decimal(row["P"])
        if row["d_over"]:
            span = tables.ranges.index((Decimal(row["d_over"]), Decimal(row["d_incl"])))
            tables.by_size.setdefault((quantity, span, pitch), {})[int(grade)] = value
        elif quantity in ("TD1", "Td"):
            tables.by_pitch.setdefault((quantity, pitch), {})[int(grade)] = value
        elif "/" not in quantity:
            tables.deviations[grade, pitch] = value
    return tables


def deviation_um(position: str, pitch: Decimal) -> tuple[int, str | None] | None:
    """(size of the fundamental deviation [um], note); None where the standard has none.

    position  e, f, g, h, az (external), G, H (internal)
    Source: ISO 965-1 table of fundamental deviations, its formulas between the table's pitches.
    """
    if position in ("h", "H"):
        return 0, None
    constant, slope, finest = _DEVIATIONS[position]
    if pitch < finest:
        return None
    in_table = _tables().deviations.get((position, pitch))
    if in_table is not None:
        return abs(in_table), None
    note = None if position == "az" else BY_FORMULA
    return int(rounded(constant + slope * pitch, 0, ROUND_HALF_UP)), note


def tolerance_um(
    quantity: str, diameter: Decimal, pitch: Decimal, grade: int
) -> tuple[int, str | None]:
    """(tolerance [um], note where it is not one of the standard's own).

    quantity  Td2, TD2 (pitch diameter), Td (external major), TD1 (internal minor)
    Source: ISO 965-1 tables; beyond them its formulas, to the nearest R40 number.
    """
    tables = _tables()
    if quantity in ("TD1", "Td"):
        cell = tables.by_pitch.get((quantity, pitch))
    else:
        cell = tables.by_size.get((quantity, _range_index(diameter), pitch))
    if cell is None:
        step = _r40_step(_grade_6_um(quantity, diameter, pitch)) + _STEPS[quantity][grade]
        return _r40(step), BY_FORMULA
    if grade in cell:
        return cell[grade], None
    nearest = min(cell, key=lambda given: abs(given - grade))
    shift = _STEPS[quantity][grade] - _STEPS[quantity][nearest]
    note = say(
        "outside the standard's range: it gives no grade {grade} for pitch {pitch}",
        grade=grade,
        pitch=f"{pitch:f}",
    )
    return _r40(_r40_step(cell[nearest]) + shift), note


def _range_index(diameter: Decimal) -> int:
    for index, (over, up_to) in enumerate(_tables().ranges):
        if over < diameter <= up_to:
            return index
    return -1


def _grade_6_um(quantity: str, diameter: Decimal, pitch: Decimal) -> float:
    """Unrounded grade 6 tolerance of ISO 965-1; Td2 also stands for TD2.  [um]"""
    p = float(pitch)
    if quantity == "Td":
        return 180 * math.pow(p, 2 / 3) - 3.15 / math.sqrt(p)
    if quantity == "TD1":
        return 433 * p - 190 * math.pow(p, 1.22) if p < 1 else 230 * math.pow(p, 0.7)
    index = _range_index(diameter)
    ends = _tables().ranges[index] if index >= 0 else (diameter, diameter)
    d = math.sqrt(float(ends[0] * ends[1]))
    return 90 * math.pow(p, 0.4) * math.pow(d, 0.1)


def _r40_step(value: float) -> int:
    """Number of the R40 member nearest in logarithm; 100 is number 80."""
    below = math.floor(40 * math.log10(value)) - 1

    def distance(step: int) -> float:
        decade, place = divmod(step, 40)
        return abs(math.log10(_R40[place] / value) + decade - 2)

    return min(range(below, below + 4), key=distance)


def _r40(step: int) -> int:
    decade, place = divmod(step, 40)
    return int(rounded(_R40[place] * Decimal(10) ** (decade - 2), 0, ROUND_HALF_EVEN))


def external(
    diameter: Decimal,
    pitch: Decimal,
    pitch_class: tuple[int, str],
    major_class: tuple[int, str],
) -> MetricLimits | None:
    """Limits of an external thread; None where a position is not given for the pitch.  [mm]

    classes  (grade, position) of pitch and of major diameter
    Source: ISO 965-1; least minor diameter for a root radius of P/8 from the unrounded pitch
    diameter, rounded once.
    """
    pitch_es = deviation_um(pitch_class[1], pitch)
    major_es = deviation_um(major_class[1], pitch)
    if pitch_es is None or major_es is None:
        return None
    td2, td2_note = tolerance_um("Td2", diameter, pitch, pitch_class[0])
    td, td_note = tolerance_um("Td", diameter, pitch, major_class[0])
    es = _mm(pitch_es[0])
    basic = rounded(diameter - _PITCH_HEIGHT * pitch, 3, ROUND_HALF_UP)
    minor = rounded(diameter - _MINOR_HEIGHT * pitch, 3, ROUND_HALF_UP)
    deepest = diameter - (_PITCH_HEIGHT + _ROOT_DEPTH) * pitch - es - _mm(td2)
    major_high = diameter - _mm(major_es[0])
    return MetricLimits(
        deviation=es,
        basic_pitch=basic,
        major_low=major_high - _mm(td),
        major_high=major_high,
        pitch_low=basic - es - _mm(td2),
        pitch_high=basic - es,
        minor_low=rounded(deepest, 3, ROUND_HALF_UP),
        minor_high=minor - es,
        notes=_notes(pitch_es[1], major_es[1], td2_note, td_note),
    )


def internal(
    diameter: Decimal,
    pitch: Decimal,
    pitch_class: tuple[int, str],
    minor_class: tuple[int, str],
) -> MetricLimits | None:
    """Limits of an internal thread; None where a position is not given for the pitch.  [mm]

    classes  (grade, position) of pitch and of minor diameter
    Source: ISO 965-1; the high major diameter is a reference, D + EI + TD2 + 0.1443 P.
    """
    pitch_ei = deviation_um(pitch_class[1], pitch)
    minor_ei = deviation_um(minor_class[1], pitch)
    if pitch_ei is None or minor_ei is None:
        return None
    td2, td2_note = tolerance_um("TD2", diameter, pitch, pitch_class[0])
    td1, td1_note = tolerance_um("TD1", diameter, pitch, minor_class[0])
    ei = _mm(pitch_ei[0])
    basic = rounded(diameter - _PITCH_HEIGHT * pitch, 3, ROUND_HALF_UP)
    minor_low = rounded(diameter - _MINOR_HEIGHT * pitch, 3, ROUND_HALF_UP) + _mm(minor_ei[0])
    crest = rounded(_SHARP_CREST * pitch, 4)
    return MetricLimits(
        deviation=ei,
        basic_pitch=basic,
        major_low=diameter + ei,
        major_high=rounded(diameter + ei + _mm(td2) + crest, 3),
        pitch_low=basic + ei,
        pitch_high=basic + ei + _mm(td2),
        minor_low=minor_low,
        minor_high=minor_low + _mm(td1),
        notes=_notes(pitch_ei[1], minor_ei[1], td2_note, td1_note),
    )


def _mm(micrometres: int) -> Decimal:
    return Decimal(micrometres).scaleb(-3)


def _notes(*found: str | None) -> tuple[str, ...]:
    return tuple(dict.fromkeys(note for note in found if note is not None))
