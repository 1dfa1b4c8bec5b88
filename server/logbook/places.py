"""Where on a piece a reading was taken, as it is noted: 25, 25 mm @90, 1.5 in, or any name."""

from __future__ import annotations

import re
from dataclasses import dataclass

from server.metrology.units import to_mm

_PLACE = re.compile(r"(?:([0-9]+(?:[.,][0-9]+)?)\s*(mm|in)?)?\s*(?:@\s*([0-9]{1,3}))?")


@dataclass(frozen=True)
class Place:
    """Distance from the chuck [mm] and angle around the axis [degrees], None where not noted."""

    position_mm: float | None = None
    angle_deg: float | None = None


def place_of(text: str, unit: str) -> Place:
    """unit: of a distance that names none.  A name that is no place has neither."""
    found = _PLACE.fullmatch(text.strip())
    if found is None:
        return Place()
    distance, named, angle = found[1], found[2], found[3]
    return Place(
        to_mm(float(distance.replace(",", ".")), named or unit) if distance else None,
        float(angle) if angle else None,
    )


def with_unit(text: str, unit: str, feature_unit: str) -> str:
    """A distance that names no unit is in the unit of its reading: said where the feature's is
    another, so that 25 of an inch and of a millimetre stay apart."""
    found = _PLACE.fullmatch(text.strip())
    if unit == feature_unit or found is None or not found[1] or found[2]:
        return text
    return f"{found[1]} {unit}{f' @{found[3]}' if found[3] else ''}"
