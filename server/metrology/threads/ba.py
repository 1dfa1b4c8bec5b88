"""British Association threads, 47 1/2 degrees, from a designation to limits."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from functools import cache

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.tables import rows
from server.metrology.threads.spelling import refuse_plain, tail
from server.wording import say

ACCEPTED = say("2 BA, 4 BA close, 0 BA nut; numbers 0 to 16")
SOURCE = say("BS 93:1951, basic dimensions and tolerance formulas")
CLASSES = ("close", "normal")
_ALLOWANCE_MM = Decimal("0.025")  # normal class bolts 0 to 10 BA
_FORM = re.compile(
    r"(?:(?:NO\.?\s*|\#\s*)?(?P<number>[0-9]{1,3})\s*-?\s*B\.?A\b\.?|B\.?A\.?\s*(?P<after>[0-9]{1,3}))"
    r"(?P<tail>.*)"
)


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The BA thread that text names, or None where it names none.

    kind  where None: from the words bolt or nut, else external_thread
    Source: BS 93:1951: basic dimensions; tolerances in mm of pitch p: bolts, close class, major
    0.15 p, effective 0.08 p + 0.02, minor 0.16 p + 0.04; normal class 0.20 p (0.25 p from
    11 BA), 0.10 p + 0.025, 0.20 p + 0.05, less an allowance of 0.025 up to 10 BA; nuts effective
    0.12 p + 0.03, minor 0.375 p.
    Raises DesignationError where it is a BA thread and a part is wrong.
    """
    upper = " ".join(text.upper().split())
    form = _FORM.fullmatch(upper)
    if form is None:
        return None
    refuse_plain(text, kind)
    row = _row(form["number"] or form["after"])
    ending = tail(form["tail"])
    if ending.starts > 1:
        raise DesignationError(
            say("BA threads have one start"), part=f"{ending.starts} starts", accepted=ACCEPTED
        )
    fit, wanted, notes = _fit(ending.words, kind, row["number"])
    return _target(row, fit, wanted, ending.hand, notes)


def _row(number: str) -> dict[str, str]:
    found = _table().get(int(number))
    if found is None:
        raise DesignationError(
            say("there is no {size}", size=f"{number} BA"),
            code="not_in_standard",
            part=number,
            accepted=say("0 BA to 16 BA"),
            nearest=("16 BA", "15 BA"),
        )
    return found


def _fit(
    words: tuple[str, ...], kind: Kind | None, number: str
) -> tuple[str, Kind, tuple[str, ...]]:
    fit: str | None = None
    side: Kind | None = None
    for word in words:
        if word.lower() in CLASSES:
            fit = word.lower()
        elif word in ("BOLT", "SCREW", "EXTERNAL"):
            side = Kind.EXTERNAL_THREAD
        elif word in ("NUT", "INTERNAL"):
            side = Kind.INTERNAL_THREAD
        elif word not in ("CLASS", "FIT"):
            raise DesignationError(
                say("BS 93 has no class “{word}”", word=word.lower()),
                code="not_in_standard",
                part=word,
                accepted=say("close or normal, nut, LH"),
                nearest=(f"{number} BA normal", f"{number} BA close"),
            )
    wanted = kind or side or Kind.EXTERNAL_THREAD
    if wanted is Kind.INTERNAL_THREAD:
        return "", wanted, ()
    if fit is None:
        return "normal", wanted, (say("no class written: taken as {taken}", taken="normal"),)
    return fit, wanted, ()


def _bolt(row: dict[str, str], fit: str, allowance: Decimal) -> tuple[Limits, Limits, Limits]:
    p = Decimal(row["pitch_mm"])
    if fit == "close":
        widths = (Decimal("0.15") * p, Decimal("0.08") * p + Decimal("0.02"))
    else:
        of_major = Decimal("0.20") if int(row["number"]) <= 10 else Decimal("0.25")
        widths = (of_major * p, Decimal("0.10") * p + Decimal("0.025"))
    highs = [Decimal(row[name]) - allowance for name in ("major_mm", "effective_mm", "minor_mm")]
    major, effective, minor = (
        Limits(_mm(high - width), _mm(high))
        for high, width in zip(highs, (*widths, 2 * widths[1]), strict=True)
    )
    return major, effective, minor


def _nut(row: dict[str, str]) -> tuple[Limits, Limits, Limits]:
    p = Decimal(row["pitch_mm"])
    effective, minor = Decimal(row["effective_mm"]), Decimal(row["minor_mm"])
    return (
        Limits(_mm(Decimal(row["major_mm"])), None),
        Limits(_mm(effective), _mm(effective + Decimal("0.12") * p + Decimal("0.03"))),
        Limits(_mm(minor), _mm(minor + Decimal("0.375") * p)),
    )


def _target(
    row: dict[str, str], fit: str, kind: Kind, hand: str, notes: tuple[str, ...]
) -> ThreadTarget:
    is_normal = fit == "normal" and int(row["number"]) <= 10
    allowance = _ALLOWANCE_MM if is_normal else Decimal(0)
    diameters = _bolt(row, fit, allowance) if fit else _nut(row)
    pitch_mm = float(row["pitch_mm"])
    name = f"{row['number']} BA {fit or 'nut'}"
    return ThreadTarget(
        designation=f"{name} LH" if hand == "left" else name,
        family="ba",
        kind=kind,
        nominal_mm=float(row["major_mm"]),
        pitch_mm=pitch_mm,
        lead_mm=pitch_mm,
        starts=1,
        half_angle_rad=math.radians(23.75),
        hand=hand,
        tolerance_class=fit,
        major_diameter=diameters[0],
        pitch_diameter=diameters[1],
        minor_diameter=diameters[2],
        basic_pitch_diameter_mm=float(row["effective_mm"]),
        allowance_mm=float(allowance),
        unit="mm",
        decimals=3,
        source=SOURCE,
        notes=(
            *notes,
            say("tolerances by the printed formulas; no printed limits to check against"),
        ),
    )


def _mm(value: Decimal) -> float:
    return float(round(value, 3))


@cache
def _table() -> dict[int, dict[str, str]]:
    return {int(row["number"]): row for row in rows("ba")}
