"""Balls in an internal thread groove that is not deep enough yet.

The plane geometry of `groove`, turned inside out: the bore D1 takes the place of the crest, and a
ball of radius q whose centre stands H inside the bore puts the centres of a pair C = D1 - 2 H
apart.  A bore is hollow, so that the ball meets the two corners in the axial plane.  While the
opening 2 b is narrower than 2 q cos a the ball rests on the corners, H = sqrt(q^2 - b^2); then it
is seated on the flanks, and `balls` holds.
Source: plane geometry, derived here.  Lengths [mm], angles [rad], 20 degrees C.
"""

from __future__ import annotations

import math

from server.metrology import balls, groove
from server.metrology.groove import ContactCase, GrooveContact
from server.metrology.infeed import ToolTip, pitch_diameter_at_mm
from server.metrology.model import OutOfRange, Rule, ThreadTarget
from server.wording import say


def seating_centres_mm(bore_mm: float, ball_mm: float, half_angle_rad: float) -> float:
    """Distance of the ball centres across the axis at which they come to sit on the flanks."""
    return bore_mm - ball_mm * math.sin(half_angle_rad)


def seating_reading_mm(
    bore_mm: float, target: ThreadTarget, ball_mm: float, rule: Rule, tip: ToolTip
) -> float | None:
    """The reading across two balls from which on they are seated; None where they never are."""
    depth = groove.seat_depth_mm(ball_mm, target.half_angle_rad, tip)
    if depth is None:
        return None
    e = pitch_diameter_at_mm(
        depth, bore_mm, target.pitch_mm, target.half_angle_rad, tip, internal=True
    )
    return balls.reading_mm(e, target, ball_mm, rule)


def contact_case(
    reading_mm: float, bore_mm: float, target: ThreadTarget, ball_mm: float, rule: Rule
) -> GrooveContact:
    """Solves the case that holds for a reading across two balls.

    reading_mm  at 20 degrees C  [mm]
    bore_mm     the bore as measured before threading  [mm]

    The tool's tip is taken as narrow enough to let the balls reach corners and flanks.  On the
    corners the helix is left out: that size is rough.
    Raises OutOfRange for a reading below the bore, which no groove can give.
    """
    a, q = target.half_angle_rad, ball_mm / 2
    centres = balls.centres_mm(reading_mm, target, ball_mm)
    leaning = (reading_mm - ball_mm) / centres
    if centres < bore_mm - ball_mm - 1e-9:
        raise OutOfRange(say("reading over balls"), reading_mm, bore_mm, None, "mm")
    if centres >= seating_centres_mm(bore_mm, ball_mm, a):
        e = balls.pitch_diameter_mm(reading_mm, target, ball_mm, rule)
        return GrooveContact(ContactCase.FLANK, e, None, 0.0, leaning)
    stands = (bore_mm - centres) / 2
    b = math.sqrt(max(0.0, q * q - stands * stands))
    slope = stands / (b * math.tan(a)) if b else math.inf
    return GrooveContact(
        case=ContactCase.CORNER,
        pitch_diameter_mm=bore_mm + (2 * b - target.pitch_mm / 2) / math.tan(a),
        depth_mm=None,
        infeed_to_seat_mm=(q * math.cos(a) - b) / math.tan(a),
        size_per_reading=slope * leaning,
    )
