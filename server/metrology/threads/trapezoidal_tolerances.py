"""Tolerances of ISO trapezoidal threads: tables where they are embedded, else the formula."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache

from server.metrology.tables import rows
from server.wording import say

SEVERAL_STARTS = {1: 1.0, 2: 1.12, 3: 1.25, 4: 1.4}  # factor of Td2, TD2; 1.6 from five starts
RECALLED = say("tolerance table recalled, unchecked")
BY_FORMULA = say("outside the embedded tables: tolerance by formula, may be off by a step")
_OF_GRADE = {
    "Td2": {7: 1.25, 8: 1.6, 9: 2.0},
    "TD2": {7: 1.7, 8: 2.12, 9: 2.65},
}
_DIAMETER_STEPS_MM = (5.6, 11.2, 22.4, 45, 90, 180, 355, 710, 1400)
_R40 = (
    *(100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265),
    *(280, 300, 315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750),
    *(800, 850, 900, 950, 1000),
)


@dataclass(frozen=True)
class Tolerances:
    """Tolerances of one thread.  [um]"""

    crest_um: Decimal  # Td of the major diameter outside, TD1 of the minor inside
    pitch_um: Decimal
    root_um: Decimal  # Td3 of the minor diameter outside; 0 inside, where it is open
    allowance_um: Decimal
    notes: tuple[str, ...]


def external(
    diameter_mm: Decimal, pitch_mm: Decimal, grade: int, position: str, starts: int
) -> Tolerances:
    """Tolerances of an external thread.  [um]

    position  fundamental deviation of the pitch diameter, "e" or "c"
    Source: ISO 2903, tables 1 to 5 and clause 11: Td3 = 1.25 Td2 + |es|, with 1.25 Td2 rounded
    to a whole micrometre, halves to even, as the published limits have it.
    """
    allowance, how_allowance = _allowance(pitch_mm, position)
    crest, how_crest = _crest("Td", pitch_mm)
    single, how_pitch = _pitch_diameter("Td2", diameter_mm, pitch_mm, grade)
    wide = _whole(single * Decimal(str(SEVERAL_STARTS.get(starts, 1.6))))
    root = _whole(wide * Decimal("1.25")) + allowance
    return Tolerances(crest, wide, root, allowance, _notes(how_allowance, how_crest, how_pitch))


def internal(diameter_mm: Decimal, pitch_mm: Decimal, grade: int, starts: int) -> Tolerances:
    """Tolerances of an internal thread, position H.  [um]

    Source: ISO 2903, tables 3 and 4.
    """
    crest, how_crest = _crest("TD1", pitch_mm)
    single, how_pitch = _pitch_diameter("TD2", diameter_mm, pitch_mm, grade)
    wide = _whole(single * Decimal(str(SEVERAL_STARTS.get(starts, 1.6))))
    return Tolerances(crest, wide, Decimal(0), Decimal(0), _notes(how_crest, how_pitch))


def _notes(*how: str) -> tuple[str, ...]:
    return tuple(note for note in (BY_FORMULA, RECALLED) if note in how)


def _allowance(pitch_mm: Decimal, position: str) -> tuple[Decimal, str]:
    found = _table().get(("es", None, pitch_mm, position))
    if found:
        return -found[0], found[1]
    p = float(pitch_mm)
    about = (50 + 11 * p) if p <= 3 else 47.5 * math.sqrt(p)
    return _stepped(about * (1 if position == "e" else 2)), BY_FORMULA


def _crest(quantity: str, pitch_mm: Decimal) -> tuple[Decimal, str]:
    found = _table().get((quantity, None, pitch_mm, "4"))
    if found:
        return found
    p = float(pitch_mm)
    sixth = 180 * p ** (2 / 3) - 3.15 / math.sqrt(p) if quantity == "Td" else 230 * p**0.7
    return _stepped(0.63 * sixth), BY_FORMULA


def _pitch_diameter(
    quantity: str, diameter_mm: Decimal, pitch_mm: Decimal, grade: int
) -> tuple[Decimal, str]:
    over, up_to = _diameter_step(float(diameter_mm))
    found = _table().get((quantity, Decimal(str(over)), pitch_mm, str(grade)))
    if found:
        return found
    sixth = 90 * float(pitch_mm) ** 0.4 * math.sqrt(over * up_to) ** 0.1
    return _stepped(sixth * _OF_GRADE[quantity][grade]), BY_FORMULA


def _diameter_step(diameter_mm: float) -> tuple[float, float]:
    for over, up_to in zip(_DIAMETER_STEPS_MM, _DIAMETER_STEPS_MM[1:], strict=False):
        if diameter_mm <= up_to:
            return over, up_to
    raise ValueError(f"{diameter_mm} mm is beyond the diameter steps of ISO 2903")


def _stepped(value_um: float) -> Decimal:
    """The R40 preferred number nearest in ratio, as ISO 3 has it, in whole micrometres."""
    scale = 10.0 ** (math.floor(math.log10(value_um)) - 2)
    return _whole(Decimal(str(min((n * scale for n in _R40), key=lambda n: _ratio(n, value_um)))))


def _ratio(a: float, b: float) -> float:
    return abs(math.log(a / b))


def _whole(value: Decimal) -> Decimal:
    return value.quantize(Decimal(1), ROUND_HALF_EVEN)


@cache
def _table() -> dict[tuple[str, Decimal | None, Decimal, str], tuple[Decimal, str]]:
    return {
        (
            row["quantity"],
            Decimal(row["d_over_mm"]) if row["d_over_mm"] else None,
            Decimal(row["pitch_mm"]),
            row["grade"],
        ): (Decimal(row["value_um"]), RECALLED if row["obtained"] == "memory" else "published")
        for row in rows("iso2903_tolerances")
    }
