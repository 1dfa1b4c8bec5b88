"""Wires over a thread groove that is not deep enough yet.

A groove cut h deep below a crest of diameter D by a tool of half angle a is 2 b wide at the crest,
b = h tan a + f/2, f the tool's flat; a nose radius r counts as f = 2 r (1/sin a - 1) tan a once the
crest is above its tangent points.  A wire of radius q then stands with its axis H above the crest:

    root    q - h                      on the flat or the nose radius
    corner  sqrt(q^2 - b^2)            on the two crest corners, while b < q cos a
    flank   q / sin a - b / tan a      on the flanks: seated

whichever is highest, and the micrometer reads M = D + 2 q + 2 H, or the crest itself once the wire
lies below it.  H and dH/db are continuous where the wire seats, so the readings show no kink; an
early reading taken for a seated one makes the thread look nearer to size than it is.
Source: plane geometry, checked against brute force.  Lengths [mm], angles [rad], 20 degrees C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from server.metrology import wires as over
from server.metrology.infeed import ToolTip
from server.metrology.model import OutOfRange, Rule, ThreadTarget
from server.metrology.wires import Wires
from server.wording import say

_HALVINGS = 60


class ContactCase(StrEnum):
    """What the wires rest on."""

    ROOT = "root"
    CORNER = "corner"
    FLANK = "flank"
    FLUSH = "flush"


WORDS = {
    ContactCase.ROOT: say("wires on the root: rough"),
    ContactCase.CORNER: say("wires on the corners: rough; file off any burr before measuring"),
    ContactCase.FLANK: say("wires on the flanks"),
    ContactCase.FLUSH: say("wires not above the crest: no size; the anvils touch the thread"),
}


@dataclass(frozen=True)
class GrooveContact:
    """What one reading over wires says of the groove.

    pitch_diameter_mm  simple pitch diameter as the groove is now  [mm]; None when flush
    depth_mm           how deep the groove is below the crest  [mm]; None without a tool tip or
                       when flush
    infeed_to_seat_mm  radial infeed until the wires sit on the flanks  [mm]; 0 when they do, None
                       when they never will (tip too wide for the wire) or when flush
    size_per_reading   change of pitch diameter for a change of the reading, by which a doubt of
                       the reading grows; 1 when seated, large in a shallow groove, inf untouched.
                       A doubt of the crest diameter counts 1 - size_per_reading times on corners
    """

    case: ContactCase
    pitch_diameter_mm: float | None
    depth_mm: float | None
    infeed_to_seat_mm: float | None
    size_per_reading: float

    @property
    def is_seated(self) -> bool:
        return self.case is ContactCase.FLANK

    @property
    def is_rough(self) -> bool:
        """True where the size is not one to finish on."""
        return not self.is_seated

    @property
    def words(self) -> str:
        return WORDS[self.case]


def seating_reading_mm(crest_diameter_mm: float, wire_mm: float, half_angle_rad: float) -> float:
    """The reading at which the wires come to sit on the flanks; seated at it and below.  [mm]

    M = D + w (1 + sin a), whatever the tool's tip; the helix adds its lead correction.
    """
    return crest_diameter_mm + wire_mm * (1 + math.sin(half_angle_rad))


def seat_depth_mm(wire_mm: float, half_angle_rad: float, tip: ToolTip) -> float | None:
    """Radial depth of groove at which the wires come to sit on the flanks.  [mm]

    h = (q cos a - f/2) / tan a; None where the wire rests on the root at every depth.

    Example (5/8-18, best wire 0.81471 mm, sharp tool, from a brute-force table):
    >>> round(seat_depth_mm(0.81471, math.radians(30), ToolTip()), 5)
    0.61103
    """
    if not _reaches_flanks(wire_mm, half_angle_rad, tip):
        return None
    seat = wire_mm / 2 * math.cos(half_angle_rad)
    return _depth_at_mm(seat, half_angle_rad, tip)


def half_opening_mm(depth_mm: float, half_angle_rad: float, tip: ToolTip) -> float:
    """Half the width b of the groove at the crest.  [mm]"""
    r, h = tip.nose_radius_mm, depth_mm
    if h < r * (1 - math.sin(half_angle_rad)):
        return math.sqrt(h * (2 * r - h))
    return h * math.tan(half_angle_rad) + tip.equivalent_flat_mm(half_angle_rad) / 2


def reading_mm(
    depth_mm: float, crest_diameter_mm: float, wire_mm: float, half_angle_rad: float, tip: ToolTip
) -> float:
    """Size over wires that a groove of a given depth gives, without helix.  [mm]

    depth_mm           radial, below the crest  [mm], >= 0
    crest_diameter_mm  as measured  [mm]
    Raises OutOfRange for a negative depth.

    Example (5/8-18, flat P/8, 0.34370 mm deep, from a brute-force table):
    >>> round(reading_mm(0.3437, 15.875, 0.81471, math.radians(30), ToolTip(0.17639)), 3)
    17.269
    """
    if not depth_mm >= 0:
        raise OutOfRange(say("depth of groove"), depth_mm, 0, None, "mm")
    _, stands = _standing(depth_mm, wire_mm / 2, half_angle_rad, tip)
    return max(crest_diameter_mm, crest_diameter_mm + wire_mm + 2 * stands)


def case_at_depth(
    depth_mm: float, wire_mm: float, half_angle_rad: float, tip: ToolTip
) -> ContactCase:
    """What the wire rests on in a groove of a given depth."""
    case, stands = _standing(depth_mm, wire_mm / 2, half_angle_rad, tip)
    return ContactCase.FLUSH if stands <= -wire_mm / 2 else case


def contact_case(
    reading_mm: float,
    crest_diameter_mm: float,
    target: ThreadTarget,
    wires: Wires,
    rule: Rule,
    tip: ToolTip | None = None,
    flattening_mm: float = 0.0,
) -> GrooveContact:
    """Solves the case that holds for a reading over wires.

    reading_mm         at 20 degrees C  [mm]
    crest_diameter_mm  as measured on the turned blank  [mm]
    tip                None: taken as narrow enough to let the wires reach corners and flanks
    flattening_mm      as for `wires.pitch_diameter_mm`

    On the flanks the size is `wires.pitch_diameter_mm` under the rule.  On the corners the plane
    geometry holds; under the exact rule the helix raises the wire by about
    b^2 sin^2(lead angle) / sqrt(q^2 - b^2), scaled so that it meets the exact contact at the seat
    (within 1 um of brute force for one start).
    Raises OutOfRange for a reading above crest diameter plus two wires, which no groove can give.
    """
    free_mm, w, a = reading_mm + flattening_mm, wires.effective_mm, target.half_angle_rad
    highest = crest_diameter_mm + 2 * w
    if not free_mm <= highest + 1e-9:
        raise OutOfRange(say("size over wires"), reading_mm, None, highest, "mm")
    if reading_mm <= crest_diameter_mm:
        return GrooveContact(ContactCase.FLUSH, None, None, None, 1.0)
    if tip is not None and (on_root := _on_root(free_mm, crest_diameter_mm, target, w, tip)):
        return on_root
    helix_at_seat = _helix_at_seat_mm(crest_diameter_mm, target, w, rule)
    if free_mm <= seating_reading_mm(crest_diameter_mm, w, a) + helix_at_seat:
        e = over.pitch_diameter_mm(reading_mm, target, wires, rule, flattening_mm)
        return GrooveContact(
            ContactCase.FLANK, e, _depth_of_mm(e, crest_diameter_mm, target, tip), 0.0, 1.0
        )
    b = _corner_opening_mm(free_mm - crest_diameter_mm - w, w, a, helix_at_seat)
    return _on_corners(b, crest_diameter_mm, target, w, tip)


def _standing(depth_mm: float, q: float, a: float, tip: ToolTip) -> tuple[ContactCase, float]:
    """(case, H) of a wire of radius q."""
    if tip.nose_radius_mm and q <= tip.nose_radius_mm:
        return ContactCase.ROOT, q - depth_mm
    b = half_opening_mm(depth_mm, a, tip)
    if b < q * math.cos(a):
        case, side = ContactCase.CORNER, math.sqrt(q * q - b * b)
    else:
        case, side = ContactCase.FLANK, q / math.sin(a) - b / math.tan(a)
    return (case, side) if side >= q - depth_mm else (ContactCase.ROOT, q - depth_mm)


def _reaches_flanks(wire_mm: float, a: float, tip: ToolTip) -> bool:
    """Whether a deep enough groove carries the wire on its flanks."""
    clearance = wire_mm / 2 * (1 / math.sin(a) - 1)
    return clearance > tip.equivalent_flat_mm(a) / (2 * math.tan(a))


def _depth_at_mm(b: float, a: float, tip: ToolTip) -> float:
    """Depth of a groove that is 2 b wide at the crest; inverse of `half_opening_mm`."""
    r = tip.nose_radius_mm
    if b < r * math.cos(a):
        return r - math.sqrt(r * r - b * b)
    return (b - tip.equivalent_flat_mm(a) / 2) / math.tan(a)


def _depth_of_mm(
    e: float, crest_diameter_mm: float, target: ThreadTarget, tip: ToolTip | None
) -> float | None:
    if tip is None:
        return None
    spare = target.pitch_mm / 2 - tip.equivalent_flat_mm(target.half_angle_rad)
    return (crest_diameter_mm - e) / 2 + spare / (2 * math.tan(target.half_angle_rad))


def _pitch_diameter_at_mm(
    depth_mm: float, crest_diameter_mm: float, target: ThreadTarget, tip: ToolTip
) -> float:
    spare = target.pitch_mm / 2 - tip.equivalent_flat_mm(target.half_angle_rad)
    return crest_diameter_mm - 2 * depth_mm + spare / math.tan(target.half_angle_rad)


def _on_root(
    free_mm: float, crest_diameter_mm: float, target: ThreadTarget, w: float, tip: ToolTip
) -> GrooveContact | None:
    """The root case, where the reading's depth on the root is one at which the root carries."""
    a = target.half_angle_rad
    h = max(0.0, crest_diameter_mm / 2 + w - free_mm / 2)
    if _standing(h, w / 2, a, tip)[0] is not ContactCase.ROOT:
        return None
    e = _pitch_diameter_at_mm(h, crest_diameter_mm, target, tip)
    seats = seat_depth_mm(w, a, tip)
    return GrooveContact(ContactCase.ROOT, e, h, None if seats is None else seats - h, 1.0)


def _helix_at_seat_mm(
    crest_diameter_mm: float, target: ThreadTarget, w: float, rule: Rule
) -> float:
    """What the helix adds to the reading where the wire seats; nothing by the handbook rule."""
    if rule is Rule.HANDBOOK:
        return 0.0
    a = target.half_angle_rad
    e = crest_diameter_mm - (w * math.cos(a) - target.pitch_mm / 2) / math.tan(a)
    return over.lead_correction_mm(e, target, Wires.nominal(w))


def _corner_opening_mm(above_mm: float, w: float, a: float, helix_at_seat_mm: float) -> float:
    """Half opening b from 2 H plus the helix's share, by halving the range it can lie in."""
    q = w / 2
    seat = q * math.cos(a)
    share = helix_at_seat_mm * q * math.sin(a) / (seat * seat)
    low, high = 0.0, seat
    for _ in range(_HALVINGS):
        b = (low + high) / 2
        stands = math.sqrt(q * q - b * b)
        if 2 * stands + share * b * b / stands > above_mm:
            low = b
        else:
            high = b
    return low


def _on_corners(
    b: float, crest_diameter_mm: float, target: ThreadTarget, w: float, tip: ToolTip | None
) -> GrooveContact:
    q, a = w / 2, target.half_angle_rad
    if tip is None:
        depth = None
        e = crest_diameter_mm - (2 * b - target.pitch_mm / 2) / math.tan(a)
        to_seat: float | None = (q * math.cos(a) - b) / math.tan(a)
    else:
        depth = _depth_at_mm(b, a, tip)
        e = _pitch_diameter_at_mm(depth, crest_diameter_mm, target, tip)
        seats = seat_depth_mm(w, a, tip)
        to_seat = None if seats is None else seats - depth
    slope = math.sqrt(q * q - b * b) / (b * math.tan(a)) if b else math.inf
    return GrooveContact(ContactCase.CORNER, e, depth, to_seat, slope)
