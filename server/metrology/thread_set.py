"""The whole set that one thread needs: the blank, the relief, the chamfer, the way in.

Lengths [mm], angles [rad].  Where no standard is named the number is common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology.aim import Fit, aim_mm, checked_aim_mm
from server.metrology.dials import Slide, Slides
from server.metrology.infeed import (
    StockLeft,
    ToolTip,
    root_diameter_mm,
    stock_left,
    total_infeed_mm,
)
from server.metrology.model import Kind, Limits, OutOfRange, ThreadTarget
from server.metrology.tables import rows
from server.wording import say

CLEARANCE_PER_PITCH = 0.2  # on diameter, between root and relief: common practice
USUAL_WIDTH_PER_PITCH = 3.0
SMALLEST_WIDTH_PER_PITCH = 2.0

GROOVE_CAUTION = say(
    "The tool must be stopped and drawn out within this time, at every pass. Take the speed down "
    "until it is comfortable, keep a hand on the lever, and try it with the tool drawn back "
    "first: a tool run into the shoulder breaks, and can throw the work."
)


@dataclass(frozen=True)
class Relief:
    """The groove that the tool runs out into.  [mm]"""

    diameter_mm: float  # greatest for an external thread, smallest for an internal one
    smallest_width_mm: float
    usual_width_mm: float
    source: str


@dataclass(frozen=True)
class Chamfer:
    """The end of the thread.  [mm], [rad]"""

    angle_rad: float  # from the lathe axis
    end_diameter_mm: float  # at the face: below the root outside, above it inside
    length_mm: float  # along the axis, from the high limit of the blank (low limit of the bore)


@dataclass(frozen=True)
class ThreadSet:
    """Everything to turn before and with one thread.  [mm]"""

    blank_kind: Kind  # OUTSIDE_DIAMETER: the turned major diameter; BORE: the minor diameter
    blank: Limits
    blank_aim_mm: float
    relief: Relief
    chamfer: Chamfer
    pitch_diameter_aim_mm: float


@dataclass(frozen=True)
class TouchOff:
    """The way from touching the crest to the finished thread."""

    infeed: StockLeft  # radial and on the dials, from the touch
    root_diameter_mm: float  # where the tip of the tool ends up
    cautions: tuple[str, ...]


def thread_set(
    target: ThreadTarget,
    tip: ToolTip | None = None,
    chamfer_angle_rad: float = math.pi / 4,
    fit: Fit = Fit.MID,
) -> ThreadSet:
    """The set of features a thread needs, external or internal.

    tip                the tool's; a sharper tip than the standard's root needs a deeper relief
    chamfer_angle_rad  from the lathe axis, 0 to pi/2 exclusive; 45 and 30 degrees are usual
    OutOfRange: chamfer angle, or a thread too small for its relief.  ValueError where the standard
    leaves a limit of the blank or of the pitch diameter open.
    """
    internal = target.kind.is_internal
    blank = target.minor_diameter if internal else target.major_diameter
    blank_kind = Kind.BORE if internal else Kind.OUTSIDE_DIAMETER
    relief = _relief(target, tip)
    return ThreadSet(
        blank_kind=blank_kind,
        blank=blank,
        blank_aim_mm=aim_mm(blank, blank_kind),
        relief=relief,
        chamfer=_chamfer(blank, relief.diameter_mm, chamfer_angle_rad, internal),
        pitch_diameter_aim_mm=aim_mm(target.pitch_diameter, target.kind, fit),
    )


def touch_off(
    target: ThreadTarget,
    tip: ToolTip,
    crest_diameter_mm: float,
    slides: Slides,
    slide: Slide,
    pitch_diameter_aim_mm: float | None = None,
) -> TouchOff:
    """Total infeed for the crest as it was turned (or bored) and the tip the tool really has.

    The aim is mid-tolerance unless given.  OutOfRange as `total_infeed_mm`; AimOutsideLimits.
    """
    internal = target.kind.is_internal
    aim = pitch_diameter_aim_mm
    aim = (
        aim_mm(target.pitch_diameter, target.kind)
        if aim is None
        else checked_aim_mm(aim, target.pitch_diameter)
    )
    pitch_mm, half_angle = target.pitch_mm, target.half_angle_rad
    radial_mm = total_infeed_mm(crest_diameter_mm, aim, pitch_mm, half_angle, tip, internal)
    uncut_mm = aim - 2 * radial_mm if internal else aim + 2 * radial_mm
    root_mm = root_diameter_mm(aim, pitch_mm, half_angle, tip, internal)
    return TouchOff(
        infeed=stock_left(uncut_mm, aim, target.kind, slides, slide, half_angle),
        root_diameter_mm=root_mm,
        cautions=_tip_cautions(target, root_mm),
    )


def groove_seconds(
    groove_width_mm: float, tool_width_mm: float, lead_mm: float, spindle_rpm: float
) -> float:
    """Seconds the tool has in the relief before it meets the shoulder.  [s]

    Formula: (groove width - tool width) * 60 / (lead * rpm).  Show GROOVE_CAUTION beside it.
    OutOfRange: a tool not narrower than the groove, lead or speed not above 0.

    >>> groove_seconds(4.5, 3.0, 1.5, 60)
    1.0
    """
    _check_groove(groove_width_mm, tool_width_mm, lead_mm)
    if not spindle_rpm > 0:
        raise OutOfRange(say("spindle speed"), spindle_rpm, 0, None, "rpm")
    return (groove_width_mm - tool_width_mm) * 60 / (lead_mm * spindle_rpm)


def deepest_root_mm(target: ThreadTarget, tip: ToolTip | None = None) -> float:
    """The smallest root an external thread within limits can have, the largest of an internal.

    The standard's own limit of it where there is one, else the other limit moved by the
    pitch-diameter tolerance, else the root of a sharp V; deeper still if the tool's tip goes there.
    """
    internal = target.kind.is_internal
    inward = -1 if internal else 1
    pitch_low, pitch_high = target.pitch_diameter.both()
    pitch_deep = pitch_high if internal else pitch_low
    roots = target.major_diameter if internal else target.minor_diameter
    deep, shallow = (roots.high_mm, roots.low_mm) if internal else (roots.low_mm, roots.high_mm)
    if deep is None and shallow is not None:
        deep = shallow - inward * (pitch_high - pitch_low)
    if deep is None:
        deep = root_diameter_mm(
            pitch_deep, target.pitch_mm, target.half_angle_rad, ToolTip(), internal
        )
    if tip is None:
        return deep
    tip.check_fits(target.pitch_mm, target.half_angle_rad)
    cut = root_diameter_mm(pitch_deep, target.pitch_mm, target.half_angle_rad, tip, internal)
    return inward * min(inward * deep, inward * cut)


def _relief(target: ThreadTarget, tip: ToolTip | None) -> Relief:
    internal = target.kind.is_internal
    clearance_mm = CLEARANCE_PER_PITCH * target.pitch_mm
    root_mm = deepest_root_mm(target, tip)
    diameter_mm = root_mm + clearance_mm if internal else root_mm - clearance_mm
    source = say(
        "common practice: a fifth of the pitch clear of the root, on diameter; width common "
        "practice, two to three pitches"
    )
    standard_mm = None if internal else _undercut_mm(target)
    if standard_mm is not None and standard_mm < root_mm:
        diameter_mm = standard_mm
        source = say(
            "ISO 4755, DIN 76-1 (from memory); width common practice, two to three pitches"
        )
    if not diameter_mm > 0:
        raise OutOfRange(say("relief diameter"), diameter_mm, 0, None, "mm")
    return Relief(
        diameter_mm=diameter_mm,
        smallest_width_mm=SMALLEST_WIDTH_PER_PITCH * target.pitch_mm,
        usual_width_mm=USUAL_WIDTH_PER_PITCH * target.pitch_mm,
        source=source,
    )


def _undercut_mm(target: ThreadTarget) -> float | None:
    """Undercut diameter of the standard for an external metric thread of a listed pitch."""
    if target.family != "metric":
        return None
    for row in rows("undercut_iso4755"):
        if math.isclose(float(row["pitch_mm"]), target.pitch_mm, abs_tol=1e-9):
            return target.nominal_mm - float(row["below_nominal_mm"])
    return None


def _chamfer(blank: Limits, end_mm: float, angle_rad: float, internal: bool) -> Chamfer:
    if not 0 < angle_rad < math.pi / 2:
        raise OutOfRange(say("chamfer angle"), round(math.degrees(angle_rad), 6), 0, 90, "deg")
    low_mm, high_mm = blank.both()
    depth_mm = (end_mm - low_mm) / 2 if internal else (high_mm - end_mm) / 2
    return Chamfer(angle_rad, end_mm, depth_mm / math.tan(angle_rad))


def _tip_cautions(target: ThreadTarget, root_mm: float) -> tuple[str, ...]:
    minor, major = target.minor_diameter, target.major_diameter
    if target.kind.is_internal:
        if major.low_mm is not None and root_mm < major.low_mm - 1e-6:
            return (
                say(
                    "The tip is too blunt: at the aim it has not reached the lowest major "
                    "diameter, and a screw would foul there. Use a sharper tip."
                ),
            )
        return ()
    if minor.high_mm is not None and root_mm > minor.high_mm + 1e-6:
        return (
            say(
                "The tip is too blunt: at the aim the root still stands above the highest minor "
                "diameter. Use a sharper tip."
            ),
        )
    if minor.low_mm is not None and root_mm < minor.low_mm - 1e-6:
        return (
            say(
                "The tip is sharper than the root of the standard: at the aim the root lies below "
                "the lowest minor diameter, which weakens the thread. Stone the tip."
            ),
        )
    return ()


def _check_groove(groove_width_mm: float, tool_width_mm: float, lead_mm: float) -> None:
    if not tool_width_mm > 0:
        raise OutOfRange(say("tool width"), tool_width_mm, 0, None, "mm")
    if not groove_width_mm > tool_width_mm:
        raise OutOfRange(say("groove width"), groove_width_mm, tool_width_mm, None, "mm")
    if not lead_mm > 0:
        raise OutOfRange(say("lead"), lead_mm, 0, None, "mm")
