"""Parallel pipe threads G (BSP parallel), 55 degrees, from a designation to limits."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from functools import cache

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.tables import rows
from server.metrology.threads.spelling import INCH_SIZE, inch_shown, inch_size, refuse_plain, tail
from server.wording import say

ACCEPTED = say("G1/2 (inside), G1/2 A, G1/2 B, 1/2 BSPP, or with LH")
SOURCE = "ISO 228-1:2000"
_NAME = r"B\.?S\.?P\.?P?\.?|BSPF"
_FORM = re.compile(
    rf"(?:(?:G|{_NAME})\s*(?P<size>{INCH_SIZE})|(?P<before>{INCH_SIZE})\s*-?\s*(?:{_NAME}))"
    r"(?![0-9/.,])(?P<tail>.*)"
)
_IS_FAMILY = re.compile(rf"G\s*[0-9]|(?:.*[^A-Z])?(?:{_NAME}|BSPT?)(?![A-Z])")


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The pipe thread that text names, or None where it names none.

    kind  where None: external_thread with class A or B written, else internal_thread, as
          ISO 228-1 has it
    Source: ISO 228-1:2000, table 1.
    Raises DesignationError where it is a pipe thread and a part is wrong.
    """
    upper = " ".join(text.upper().replace('"', " ").replace("INCH", " ").split())
    if not _IS_FAMILY.match(upper):
        return None
    refuse_plain(text, kind)
    if "BSPT" in upper:
        raise DesignationError(
            say("taper pipe threads are not carried"),
            code="not_in_standard",
            part="BSPT",
            accepted=ACCEPTED,
            nearest=("G1/2 A", "G1/2"),
        )
    form = _FORM.fullmatch(upper)
    if form is None:
        raise DesignationError(
            say("“{text}” can't be read as a pipe thread", text=upper),
            part=upper,
            accepted=ACCEPTED,
        )
    row = _row(form["size"] or form["before"])
    ending = tail(form["tail"])
    tolerance_class, wanted, notes = _class(ending.words, kind, row["size"])
    if ending.starts > 1:
        raise DesignationError(
            say("pipe threads have one start"), part=f"{ending.starts} starts", accepted=ACCEPTED
        )
    return _target(row, tolerance_class, wanted, ending.hand, notes)


def _row(written: str) -> dict[str, str]:
    size = inch_size(written)
    found = _table().get(size)
    if found is None:
        nearest = sorted(_table(), key=lambda each: abs(each - size))[:2]
        raise DesignationError(
            say("ISO 228-1 has no size {size}", size=written),
            code="not_in_standard",
            part=written,
            accepted=", ".join(row["size"] for row in _table().values()),
            nearest=tuple(f"G{inch_shown(each)} A" for each in nearest),
        )
    return found


def _class(
    words: tuple[str, ...], kind: Kind | None, size: str
) -> tuple[str, Kind, tuple[str, ...]]:
    found = ""
    for word in words:
        if word not in ("A", "B"):
            raise DesignationError(
                say("ISO 228-1 has no class “{word}”", word=word),
                code="not_in_standard",
                part=word,
                accepted=say("A or B outside, nothing inside, LH"),
                nearest=(f"G{size} A", f"G{size}"),
            )
        found = word
    if found and kind is Kind.INTERNAL_THREAD:
        raise DesignationError(
            say(
                "class {written} is an external thread's; inside there is one class, unmarked",
                written=found,
            ),
            part=found,
            accepted=ACCEPTED,
            nearest=(f"G{size}",),
        )
    if found:
        return found, Kind.EXTERNAL_THREAD, ()
    if kind is Kind.EXTERNAL_THREAD:
        return "A", kind, (say("no class written: taken as {taken}", taken="A"),)
    if kind is None:
        note = say("no class written: internal, as ISO 228-1 has it")
        return "", Kind.INTERNAL_THREAD, (note,)
    return "", kind, ()


def _target(
    row: dict[str, str], tolerance_class: str, kind: Kind, hand: str, notes: tuple[str, ...]
) -> ThreadTarget:
    pitch_mm = 25.4 / float(row["threads_per_inch"])
    diameters = _external(row, tolerance_class) if tolerance_class else _internal(row)
    name = f"G{row['size']}" + (f" {tolerance_class}" if tolerance_class else "")
    return ThreadTarget(
        designation=f"{name} LH" if hand == "left" else name,
        family="pipe_g",
        kind=kind,
        nominal_mm=float(row["major_mm"]),
        pitch_mm=pitch_mm,
        lead_mm=pitch_mm,
        starts=1,
        half_angle_rad=math.radians(27.5),
        hand=hand,
        tolerance_class=tolerance_class,
        major_diameter=diameters[0],
        pitch_diameter=diameters[1],
        minor_diameter=diameters[2],
        basic_pitch_diameter_mm=float(row["pitch_mm"]),
        allowance_mm=0.0,
        unit="mm",
        decimals=3,
        source=SOURCE,
        notes=notes,
    )


def _external(row: dict[str, str], tolerance_class: str) -> tuple[Limits, Limits, Limits]:
    """Major, pitch and minor diameter outside; class B has twice the tolerance of A."""
    major, pitch, minor = (Decimal(row[name]) for name in ("major_mm", "pitch_mm", "minor_mm"))
    width = Decimal(row["pitch_tolerance_a_mm"]) * (2 if tolerance_class == "B" else 1)
    return (
        Limits(float(major - Decimal(row["major_tolerance_mm"])), float(major)),
        Limits(float(pitch - width), float(pitch)),
        Limits(None, float(minor)),
    )


def _internal(row: dict[str, str]) -> tuple[Limits, Limits, Limits]:
    major, pitch, minor = (Decimal(row[name]) for name in ("major_mm", "pitch_mm", "minor_mm"))
    return (
        Limits(float(major), None),
        Limits(float(pitch), float(pitch + Decimal(row["pitch_tolerance_a_mm"]))),
        Limits(float(minor), float(minor + Decimal(row["minor_tolerance_mm"]))),
    )


@cache
def _table() -> dict[Decimal, dict[str, str]]:
    return {inch_size(row["size"]): row for row in rows("iso228_1")}
