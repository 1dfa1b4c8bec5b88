"""Threads built by hand, so that the wire tests don't lean on the designation reader."""

from __future__ import annotations

import math

from server.metrology.model import Kind, Limits, ThreadTarget

INCH = 25.4
DEG_30, DEG_27_5, DEG_14_5, DEG_15 = (math.radians(a) for a in (30, 27.5, 14.5, 15))


def thread(
    *,
    major: tuple[float, float | None],
    pitch: tuple[float, float],
    pitch_mm: float,
    half_angle_rad: float = DEG_30,
    minor: tuple[float | None, float | None] = (None, None),
    basic_pitch_mm: float | None = None,
    nominal_mm: float | None = None,
    starts: int = 1,
    family: str = "unified",
    kind: Kind = Kind.EXTERNAL_THREAD,
    unit: str = "mm",
) -> ThreadTarget:
    """A thread from (low, high) pairs in mm; basic sizes default to the high limits."""
    return ThreadTarget(
        designation="by hand",
        family=family,
        kind=kind,
        nominal_mm=nominal_mm or major[1] or major[0],
        pitch_mm=pitch_mm,
        lead_mm=pitch_mm * starts,
        starts=starts,
        half_angle_rad=half_angle_rad,
        hand="right",
        tolerance_class="",
        major_diameter=Limits(*major),
        pitch_diameter=Limits(*pitch),
        minor_diameter=Limits(*minor),
        basic_pitch_diameter_mm=basic_pitch_mm or pitch[1],
        allowance_mm=0.0,
        unit=unit,
        decimals=4 if unit == "in" else 3,
        source="built by hand",
    )


def exactly(
    major_mm: float,
    pitch_diameter_mm: float,
    pitch_mm: float,
    half_angle_rad: float = DEG_30,
    starts: int = 1,
    family: str = "unified",
) -> ThreadTarget:
    """A thread with no tolerance."""
    return thread(
        major=(major_mm, major_mm),
        pitch=(pitch_diameter_mm, pitch_diameter_mm),
        pitch_mm=pitch_mm,
        half_angle_rad=half_angle_rad,
        starts=starts,
        family=family,
    )


# ASME B1.1: 5/8-18 UNF-2A, major 0.6149-0.6236, pitch 0.5828-0.5875
UNF_5_8_18_2A = thread(
    major=(0.6149 * INCH, 0.6236 * INCH),
    pitch=(0.5828 * INCH, 0.5875 * INCH),
    pitch_mm=INCH / 18,
    basic_pitch_mm=(0.625 - 0.649519 / 18) * INCH,
    nominal_mm=0.625 * INCH,
    unit="in",
)
