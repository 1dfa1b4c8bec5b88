"""Exact contact of measuring wires with a helical thread.

The flank is the helicoid that a tool with straight flanks in the axial plane cuts.  In the groove
whose middle crosses the measuring line at the origin its upper flank is

    z(r, t) = P/4 + (r - E/2) tan a + k t,    k = L / (2 pi)

(r radius, t angle about the thread axis, z along it).  A wire pressed into the groove may tilt
about the measuring line; it settles where both contacts lie in the plane through that line normal
to the wire.  With tilt f and wire radius q the contact (r, t) then satisfies

    tan f = (k/r) cos t + tan a sin t            the flank's tangent runs along the wire
    r sin t + z tan f = 0                        no turning moment
    v = z / cos f,   cos t / (tan a cos f - sin t sin f) = v / sqrt(q^2 - v^2)
    M = 2 (r cos t + sqrt(q^2 - v^2) + q)

Source: derived here; the handbook formula, its lead term and the normal-section form of NBS
Handbook H28 and ASME B1.2 are approximations of it (recalled from those books).
With an odd number of starts the single wire lies opposite the middle of the two, with an even
number opposite one of them; the size over wires is the same.
Lengths [mm], angles [rad].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology.model import OutOfRange
from server.wording import say

LARGEST_LEAD_ANGLE_RAD = math.radians(25)  # agrees with brute force up to here
_STEPS = 200
_CONVERGED = 1e-13  # of the contact radius


@dataclass(frozen=True)
class Contact:
    """Where a wire touches and what the micrometer then reads.  [mm], [rad]"""

    over_wires_mm: float
    contact_diameter_mm: float
    wire_tilt_rad: float


def over_wires_mm(
    pitch_diameter_mm: float,
    wire_mm: float,
    pitch_mm: float,
    lead_mm: float,
    half_angle_rad: float,
) -> float:
    """Size over three equal wires, exact.  [mm]

    Arguments and errors as for `touch`.

    Example (2-4 Acme with its best wire, against a brute-force search):
    >>> round(over_wires_mm(47.625, 3.279458, 6.35, 6.35, math.radians(14.5)), 5)
    51.73643
    """
    return touch(pitch_diameter_mm, wire_mm, pitch_mm, lead_mm, half_angle_rad).over_wires_mm


def touch(
    pitch_diameter_mm: float,
    wire_mm: float,
    pitch_mm: float,
    lead_mm: float,
    half_angle_rad: float,
) -> Contact:
    """Contact of one wire with the two flanks of its groove.

    pitch_diameter_mm  simple pitch diameter (groove as wide as half a pitch)  [mm], > 0
    wire_mm            wire diameter  [mm], > 0
    pitch_mm           axial distance of neighbouring grooves  [mm], > 0
    lead_mm            advance in one turn, pitch x starts; 0 for plain grooves  [mm]
    half_angle_rad     between flank and a plane square to the axis  [rad]

    Source: the equations at the head of this module.
    Holds: lead angle at the pitch line up to 25 degrees.  Whether crest and root leave the flank
    there is `wires.usable`'s business.
    Raises OutOfRange for a lead angle above that or a wire that finds no flank contact.
    """
    e, p, a, k = pitch_diameter_mm, pitch_mm, half_angle_rad, lead_mm / math.tau
    _check_lead(e, lead_mm)
    tan_a, q = math.tan(a), wire_mm / 2
    r, t = e / 2 + (q * math.cos(a) - p / 4) / tan_a, 0.0
    for _ in range(_STEPS):
        if r <= 0:
            break
        f = math.atan(k / r * math.cos(t) + tan_a * math.sin(t))
        slope = math.cos(t) / (tan_a * math.cos(f) - math.sin(t) * math.sin(f))
        v = q * slope / math.sqrt(1 + slope * slope)
        moment = v * math.sin(f) / r
        if abs(moment) >= 1:
            break
        t = -math.asin(moment)
        before, r = r, e / 2 + (v * math.cos(f) - k * t - p / 4) / tan_a
        if abs(r - before) <= _CONVERGED * e:
            stands = v / slope
            return Contact(2 * (r * math.cos(t) + stands + q), 2 * r, f)
    raise OutOfRange(say("wire diameter"), wire_mm, None, None, "mm")


def wire_touching_at_mm(
    contact_diameter_mm: float,
    pitch_diameter_mm: float,
    pitch_mm: float,
    lead_mm: float,
    half_angle_rad: float,
) -> float:
    """The wire that touches the flanks at a given diameter.  [mm]

    contact_diameter_mm  where it shall touch  [mm], > 0; the rest as for `touch`

    Source: the equations at the head of this module, solved for the wire.
    Holds and raises: as `touch`.
    """
    e, p, a, k = pitch_diameter_mm, pitch_mm, half_angle_rad, lead_mm / math.tau
    _check_lead(e, lead_mm)
    tan_a, r, t = math.tan(a), contact_diameter_mm / 2, 0.0
    for _ in range(_STEPS):
        f = math.atan(k / r * math.cos(t) + tan_a * math.sin(t))
        v = (p / 4 + (r - e / 2) * tan_a + k * t) / math.cos(f)
        moment = v * math.sin(f) / r
        if v <= 0 or abs(moment) >= 1:
            break
        before, t = t, -math.asin(moment)
        if abs(t - before) <= _CONVERGED:
            slope = math.cos(t) / (tan_a * math.cos(f) - math.sin(t) * math.sin(f))
            return 2 * v * math.sqrt(1 + slope * slope) / slope
    raise OutOfRange(say("contact diameter"), contact_diameter_mm, None, None, "mm")


def pitch_diameter_mm(
    over_wires_mm: float,
    wire_mm: float,
    pitch_mm: float,
    lead_mm: float,
    half_angle_rad: float,
) -> float:
    """Simple pitch diameter from the size over three equal wires; inverse of `over_wires_mm`.  [mm]

    Source: the equations at the head of this module; secant steps, since dM/dE is nearly 1.
    Holds and raises: as `touch`.
    """
    csc_a, cot_a = 1 / math.sin(half_angle_rad), 1 / math.tan(half_angle_rad)
    e = over_wires_mm - wire_mm * (1 + csc_a) + pitch_mm / 2 * cot_a
    if e <= 0:
        raise OutOfRange(say("size over wires"), over_wires_mm, over_wires_mm - e, None, "mm")
    e = max(e, lead_mm / (math.pi * math.tan(LARGEST_LEAD_ANGLE_RAD)))
    slope, before, missing_before = 1.0, e, 0.0
    for _ in range(_STEPS):
        reads = touch(e, wire_mm, pitch_mm, lead_mm, half_angle_rad).over_wires_mm
        missing = over_wires_mm - reads
        if abs(missing) <= _CONVERGED * over_wires_mm:
            return e
        if e != before:
            slope = (missing_before - missing) / (e - before)
        before, missing_before = e, missing
        e += missing / slope
    raise OutOfRange(say("size over wires"), over_wires_mm, None, None, "mm")


def _check_lead(pitch_diameter_mm: float, lead_mm: float) -> None:
    if pitch_diameter_mm <= 0:
        raise OutOfRange(say("pitch diameter"), pitch_diameter_mm, 0, None, "mm")
    angle = math.atan(lead_mm / (math.pi * pitch_diameter_mm))
    if angle > LARGEST_LEAD_ANGLE_RAD * (1 + 1e-12):
        raise OutOfRange(
            say("lead angle"),
            round(math.degrees(angle), 2),
            0,
            round(math.degrees(LARGEST_LEAD_ANGLE_RAD)),
            say("degrees"),
        )
