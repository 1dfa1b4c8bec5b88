"""Slides, their dials, and what a dialled amount does to a size.

Angles [rad], lengths [mm].  Theta is the direction in which the compound moves, measured from the
direction of the cross-slide: 0 feeds straight in, pi/2 feeds along the lathe axis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum
from typing import Literal

from server.metrology.model import Kind, OutOfRange
from server.metrology.units import from_mm, to_mm
from server.wording import joined, say

Counts = Literal["diameter", "travel"]
MeasuredFrom = Literal["cross_slide", "axis"]

# Common practice: nearer than half a degree to square, a slide has no feed worth dialling.
SQUARE_RAD = math.radians(0.5)
# A compound nearer to the lathe axis than to the cross-slide is a fine feed, no thread infeed.
FINE_FEED_RAD = math.radians(45)
# A step this close below a graduation (in graduations) is that graduation and binary noise.
NOISE = Decimal("1e-6")


class Slide(StrEnum):
    """What is dialled."""

    CROSS_SLIDE = "cross_slide"
    COMPOUND = "compound"
    CARRIAGE = "carriage"


ON_DIAL = {
    Slide.CROSS_SLIDE: say("on the cross-slide dial"),
    Slide.COMPOUND: say("on the compound dial"),
    Slide.CARRIAGE: say("on the carriage dial"),
}


class SlideCannotFeed(ValueError):
    """The slide, as it stands, does not feed this kind of size; the message says what would."""

    def __init__(self, message: str, slide: Slide) -> None:
        super().__init__(message)
        self.message = message
        self.slide = slide


@dataclass(frozen=True)
class Dial:
    """A dial as its maker graduated it.

    counts      "travel": one unit on the dial moves the slide one unit;
                "diameter": it moves the slide half a unit
    graduation  one division, in the dial's own unit, > 0
    unit        "in" or "mm"
    """

    counts: Counts
    graduation: Decimal
    unit: str = "mm"

    def __post_init__(self) -> None:
        if self.counts not in ("diameter", "travel"):
            raise ValueError(f"a dial counts diameter or travel, not {self.counts!r}")
        if not self.graduation > 0:
            raise OutOfRange(say("graduation"), float(self.graduation), 0, None, self.unit)
        to_mm(self.graduation, self.unit)

    @property
    def graduation_mm(self) -> float:
        return to_mm(self.graduation, self.unit)

    @property
    def travel_per_unit(self) -> float:
        """Slide travel for one unit on the dial: 1, or 1/2 where it counts diameter."""
        return 0.5 if self.counts == "diameter" else 1.0

    def leaving_metal(self, step_mm: float) -> Decimal:
        """A dial step rounded toward leaving metal, in the dial's own unit.

        step_mm is in the dial's own count.  See `rounded_to_leave_metal`.

        >>> Dial("diameter", Decimal("0.001"), "in").leaving_metal(0.0695 * 25.4)
        Decimal('0.069')
        """
        return rounded_to_leave_metal(from_mm(step_mm, self.unit), self.graduation)


@dataclass(frozen=True)
class CompoundSetting:
    """How the compound is swivelled, as read on its scale.

    angle_rad      0 to pi/2; to which side is said by `swing_words`
    measured_from  "cross_slide": the scale is zero when the compound points along the cross-slide;
                   "axis": it is zero when the compound lies along the lathe axis
    """

    angle_rad: float
    measured_from: MeasuredFrom = "cross_slide"

    def __post_init__(self) -> None:
        if self.measured_from not in ("cross_slide", "axis"):
            raise ValueError(
                f"measure the compound from cross_slide or axis, not {self.measured_from!r}"
            )
        if not 0 <= self.angle_rad <= math.pi / 2 + 1e-12:
            raise OutOfRange(
                say("compound angle"), round(math.degrees(self.angle_rad), 6), 0, 90, "deg"
            )

    @property
    def from_cross_slide_rad(self) -> float:
        """Theta."""
        if self.measured_from == "cross_slide":
            return self.angle_rad
        return math.pi / 2 - self.angle_rad

    @property
    def from_axis_rad(self) -> float:
        """Beta, the angle of a fine feed."""
        return math.pi / 2 - self.from_cross_slide_rad

    @property
    def words(self) -> str:
        """The setting in both scale conventions."""
        theta, beta = _degrees(self.from_cross_slide_rad), _degrees(self.from_axis_rad)
        return say(
            "{theta}° from the cross-slide direction: reads {theta}° on a scale that is zero "
            "along the cross-slide, {beta}° on a scale that is zero along the lathe axis",
            theta=theta,
            beta=beta,
        )


@dataclass(frozen=True)
class Slides:
    """The slides of one lathe as set up for one feature; a dial it has not is None."""

    cross_slide: Dial
    compound: Dial | None = None
    compound_setting: CompoundSetting | None = None
    carriage: Dial | None = None

    def dial(self, slide: Slide) -> Dial:
        """The dial of a slide; SlideCannotFeed where the lathe has none."""
        found = {
            Slide.CROSS_SLIDE: self.cross_slide,
            Slide.COMPOUND: self.compound,
            Slide.CARRIAGE: self.carriage,
        }[slide]
        if found is None:
            raise SlideCannotFeed(
                say("No dial is noted for the compound of this lathe.")
                if slide is Slide.COMPOUND
                else say("No dial is noted for the carriage of this lathe."),
                slide,
            )
        return found

    def theta_rad(self) -> float:
        """Direction of the compound from the cross-slide; SlideCannotFeed where not noted."""
        if self.compound_setting is None:
            raise SlideCannotFeed(
                say(
                    "The angle of the compound is not noted: type it, and what its scale is "
                    "measured from."
                ),
                Slide.COMPOUND,
            )
        return self.compound_setting.from_cross_slide_rad


def depth_per_dial(slide: Slide, slides: Slides, kind: Kind) -> float:
    """Depth of cut (radial, or axial for a length) for one unit on the dial.  > 0

    Formula: cross-slide 1, compound cos theta = sin beta for a diameter and sin theta = cos beta
    for a length, carriage 1 for a length; half of that on a dial that counts diameter.
    Raises SlideCannotFeed: carriage on a diameter, cross-slide on a length, a compound square to
    the feed, a compound as fine feed in a thread or a groove.

    >>> slides = Slides(Dial("diameter", Decimal("0.02")))
    >>> depth_per_dial(Slide.CROSS_SLIDE, slides, Kind.BORE)
    0.5
    """
    dial = slides.dial(slide)
    return _travel_to_depth(slide, slides, kind) * dial.travel_per_unit


def size_per_dial(slide: Slide, slides: Slides, kind: Kind) -> float:
    """How much the size (a diameter, or a length) changes for one unit on the dial.  > 0

    Twice `depth_per_dial` for a diameter, the same for a length.  Raises SlideCannotFeed.
    """
    return depth_per_dial(slide, slides, kind) * size_per_depth(kind)


def size_per_depth(kind: Kind) -> float:
    """2 for a diameter, 1 for a length."""
    return 1.0 if kind is Kind.LENGTH else 2.0


def dial_step_mm(stock_mm: float, slide: Slide, slides: Slides, kind: Kind) -> float:
    """Exact dial step, in the dial's own count, that takes `stock_mm` off the size.

    stock_mm is on diameter, or along the axis for a length.  Raises SlideCannotFeed.
    """
    return stock_mm / size_per_dial(slide, slides, kind)


def rounded_to_leave_metal(step: Decimal | float, graduation: Decimal) -> Decimal:
    """The largest multiple of the graduation that is not above the step.

    Both in the dial's own unit; a negative step (backing off) is rounded further back.  A step
    within a millionth of a graduation below a multiple counts as that multiple.

    >>> rounded_to_leave_metal(0.06899999999999999, Decimal("0.001"))
    Decimal('0.069')
    """
    return dial_count(step, graduation) * graduation


def dial_count(step: Decimal | float, graduation: Decimal) -> Decimal:
    """Whole graduations in a step, rounded toward leaving metal."""
    exact = step if isinstance(step, Decimal) else Decimal(step)
    return (exact / graduation + NOISE).to_integral_value(ROUND_FLOOR)


def swing_words(kind: Kind, hand: str) -> str:
    """Which way to swing the compound for a thread, and which flank leads.

    Common practice, for a tool in front of the work and a spindle turning forward: the handle end
    goes toward the tailstock for a right-hand external thread; left-hand and internal each turn
    that round.  The leading flank is the one in the direction of feed.  ValueError if no thread.
    """
    if not kind.is_thread:
        raise ValueError("only a thread has a leading flank")
    left, internal = hand == "left", kind is Kind.INTERNAL_THREAD
    swing = (
        say("Swing the handle end of the compound toward the headstock.")
        if left != internal
        else say("Swing the handle end of the compound toward the tailstock.")
    )
    flank = (
        say(
            "The tool feeds toward the tailstock, so the leading flank is the one on the "
            "tailstock side."
        )
        if left
        else say(
            "The tool feeds toward the headstock, so the leading flank is the one on the "
            "headstock side."
        )
    )
    outward = say("The tool cuts outward: the compound is fed by drawing it back.")
    return joined((swing, flank, outward if internal else ""), " ")


def _travel_to_depth(slide: Slide, slides: Slides, kind: Kind) -> float:
    axial = kind is Kind.LENGTH
    if slide is Slide.CARRIAGE:
        if not axial:
            raise SlideCannotFeed(
                say(
                    "The carriage moves along the work and can't feed a diameter: use the "
                    "cross-slide or the compound."
                ),
                slide,
            )
        return 1.0
    if slide is Slide.CROSS_SLIDE:
        if axial:
            raise SlideCannotFeed(
                say(
                    "The cross-slide moves across the work and can't feed a length: use the "
                    "carriage, or the compound set along the lathe axis."
                ),
                slide,
            )
        return 1.0
    return _compound_to_depth(slides, kind)


def _compound_to_depth(slides: Slides, kind: Kind) -> float:
    theta = slides.theta_rad()
    if kind is Kind.LENGTH:
        if theta < SQUARE_RAD:
            raise SlideCannotFeed(
                say(
                    "The compound stands square to the lathe axis and can't feed a length: set it "
                    "along the axis, or use the carriage."
                ),
                Slide.COMPOUND,
            )
        return math.sin(theta)
    if kind in (Kind.EXTERNAL_THREAD, Kind.INTERNAL_THREAD, Kind.GROOVE_DIAMETER):
        _refuse_fine_feed(slides, kind)
    if math.pi / 2 - theta < SQUARE_RAD:
        raise SlideCannotFeed(
            say(
                "The compound lies along the lathe axis and can't feed a diameter: swing it, or "
                "use the cross-slide."
            ),
            Slide.COMPOUND,
        )
    return math.cos(theta)


def _refuse_fine_feed(slides: Slides, kind: Kind) -> None:
    setting = slides.compound_setting
    if setting is None or setting.from_cross_slide_rad <= FINE_FEED_RAD:
        return
    from_axis, angle = _degrees(setting.from_axis_rad), _degrees(setting.angle_rad)
    harm = (
        say(
            "The compound stands {angle}° from the lathe axis, as a fine feed; in a thread groove "
            "that would cut one flank only.",
            angle=from_axis,
        )
        if kind.is_thread
        else say(
            "The compound stands {angle}° from the lathe axis, as a fine feed; that would cut "
            "into the side of the groove.",
            angle=from_axis,
        )
    )
    cure = say("Plunge with the cross-slide, or swing the compound.")
    mistake = (
        say(
            "If its scale is zero along the cross-slide, say that {angle}° is measured from there.",
            angle=angle,
        )
        if setting.measured_from == "axis"
        else say(
            "If its scale is zero along the lathe axis, say that {angle}° is measured from there.",
            angle=angle,
        )
    )
    raise SlideCannotFeed(joined((harm, cure, mistake), " "), Slide.COMPOUND)


def _degrees(angle_rad: float) -> str:
    return f"{round(math.degrees(angle_rad), 3):g}"
