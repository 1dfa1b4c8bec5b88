"""The tool tip that is taken where none is given: the one that cuts the standard's own root."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology.infeed import ToolTip
from server.metrology.model import ThreadTarget
from server.wording import say

# Root radius in pitches: BS 84 and ISO 228-1 (0.137329), BS 93 (2/11)
ROUND_ROOTS = {"whitworth": 0.137329, "pipe_g": 0.137329, "ba": 2 / 11}
FLAT_OF_60_DEG = 1 / 8  # of the pitch: ASME B1.1 and ISO 68-1 basic profile
SIXTY_DEG = math.radians(30)


@dataclass(frozen=True)
class UsualTip:
    """A tip and where it comes from, in words."""

    tip: ToolTip
    because: str


def usual_tip(target: ThreadTarget) -> UsualTip:
    """P/8 flat for 60 degrees, the rounded forms' own radius, else the flat of the standard's root.

    That flat is f = P/2 - 2 h tan a, h the depth of the maximum-material root below its pitch line.
    A standard that gives no root leaves P/8.
    """
    pitch_mm = target.pitch_mm
    if target.family in ROUND_ROOTS:
        share = ROUND_ROOTS[target.family]
        return UsualTip(
            ToolTip(nose_radius_mm=share * pitch_mm),
            say("root radius {share} P", share=f"{share:.4g}"),
        )
    if math.isclose(target.half_angle_rad, SIXTY_DEG):
        return UsualTip(ToolTip(flat_mm=pitch_mm * FLAT_OF_60_DEG), say("flat P/8"))
    low_mm, high_mm = target.pitch_diameter.both()
    if target.kind.is_internal:
        root_mm = target.major_diameter.low_mm
        depth_mm = None if root_mm is None else (root_mm - low_mm) / 2
    else:
        root_mm = target.minor_diameter.high_mm
        depth_mm = None if root_mm is None else (high_mm - root_mm) / 2
    if depth_mm is None:
        return UsualTip(ToolTip(flat_mm=pitch_mm * FLAT_OF_60_DEG), say("flat P/8"))
    flat_mm = pitch_mm / 2 - 2 * depth_mm * math.tan(target.half_angle_rad)
    return UsualTip(ToolTip(flat_mm=max(0.0, flat_mm)), say("flat of the standard's root"))
