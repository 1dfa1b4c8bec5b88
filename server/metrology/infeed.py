"""From a size to what is left to cut, and from touch-off to the finished thread.

Lengths [mm], angles [rad].  Stock and steps are positive toward more cut, bores included.
Source: plane geometry of a tool with straight flanks of half angle a; theta as in dials.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology.dials import Slide, SlideCannotFeed, Slides, dial_step_mm
from server.metrology.model import Kind, OutOfRange
from server.wording import say

TRAILING_STEPS_WORDS = say(
    "The compound is swung further than the half angle of the thread: the trailing flank is left "
    "with steps. Set it half a degree to a degree less than the half angle."
)


@dataclass(frozen=True)
class StockLeft:
    """Metal still to cut, exact and unrounded; None where it has no meaning.  [mm]

    Positive = metal still to cut, negative = cut past the aim.  Dials in their own count.
    """

    diameter_mm: float | None
    radial_mm: float | None
    axial_mm: float | None  # a length has only this
    leading_flank_mm: float | None  # normal to the flank; threads only
    trailing_flank_mm: float | None
    cross_slide_dial_mm: float | None
    compound_dial_mm: float | None
    carriage_dial_mm: float | None
    warnings: tuple[str, ...] = ()

    def on_dial_mm(self, slide: Slide) -> float | None:
        """Stock left on the dial of one slide."""
        return {
            Slide.CROSS_SLIDE: self.cross_slide_dial_mm,
            Slide.COMPOUND: self.compound_dial_mm,
            Slide.CARRIAGE: self.carriage_dial_mm,
        }[slide]


@dataclass(frozen=True)
class FlankStock:
    """Metal between tool and flanks, normal to each.  [mm]"""

    leading_mm: float
    trailing_mm: float


def stock_on_size_mm(size_mm: float, aim_mm: float, kind: Kind) -> float:
    """Stock on the size itself: on diameter, or along the axis for a length.

    A length counts as cut short, as when a face is turned off.
    """
    return aim_mm - size_mm if kind.is_internal else size_mm - aim_mm


def flank_stock(radial_mm: float, axial_mm: float, half_angle_rad: float) -> FlankStock:
    """What a move of the tool has before it on each flank.  [mm]

    radial_mm  into the work, >= 0;  axial_mm  toward the leading flank

    Formula: leading = radial sin a + axial cos a, trailing = radial sin a - axial cos a, neither
    below 0 (a tool that moves away from a flank leaves it as it is).  Over wires the pitch
    diameter of a groove moves by (leading + trailing) / sin a.
    Holds: 0 < a < pi/2.

    >>> round(flank_stock(0.1, 0.0, math.radians(30)).leading_mm, 6)
    0.05
    """
    _check_half_angle(half_angle_rad)
    across = radial_mm * math.sin(half_angle_rad)
    along = axial_mm * math.cos(half_angle_rad)
    return FlankStock(max(0.0, across + along), max(0.0, across - along))


def stock_left(
    size_mm: float,
    aim_mm: float,
    kind: Kind,
    slides: Slides,
    slide: Slide,
    half_angle_rad: float | None = None,
) -> StockLeft:
    """Everything that is left to cut, in every direction that means something.

    size_mm, aim_mm  the feature's own size (pitch diameter for a thread)
    slide            the slide in use: it decides the axial shift and so the flanks
    half_angle_rad   needed for a thread; ValueError without it

    A slide that cannot feed this kind has None on its dial, and the reason among the warnings if
    it is the slide in use.
    """
    stock_mm = stock_on_size_mm(size_mm, aim_mm, kind)
    dials = {each: _on_dial(stock_mm, each, slides, kind) for each in Slide}
    warnings = _warnings(slides, slide, kind, half_angle_rad)
    leading, trailing = _flanks(stock_mm / 2, slides, slide, kind, half_angle_rad)
    is_length = kind is Kind.LENGTH
    return StockLeft(
        diameter_mm=None if is_length else stock_mm,
        radial_mm=None if is_length else stock_mm / 2,
        axial_mm=stock_mm if is_length else None,
        leading_flank_mm=leading,
        trailing_flank_mm=trailing,
        cross_slide_dial_mm=dials[Slide.CROSS_SLIDE],
        compound_dial_mm=dials[Slide.COMPOUND],
        carriage_dial_mm=dials[Slide.CARRIAGE],
        warnings=warnings,
    )


def tip_flat_of_nose_radius_mm(nose_radius_mm: float, half_angle_rad: float) -> float:
    """The flat f of a sharp-cornered tool that reaches as deep as a nose radius r.  [mm]

    Formula: f = 2 r (1/sin a - 1) tan a.  OutOfRange if r < 0.
    """
    _check_half_angle(half_angle_rad)
    if not nose_radius_mm >= 0:
        raise OutOfRange(say("nose radius"), nose_radius_mm, 0, None, "mm")
    return 2 * nose_radius_mm * (1 / math.sin(half_angle_rad) - 1) * math.tan(half_angle_rad)


@dataclass(frozen=True)
class ToolTip:
    """The end of a threading tool: a flat or a nose radius, the other one 0.  [mm]"""

    flat_mm: float = 0.0
    nose_radius_mm: float = 0.0

    def __post_init__(self) -> None:
        if not self.flat_mm >= 0:
            raise OutOfRange(say("tip flat"), self.flat_mm, 0, None, "mm")
        if not self.nose_radius_mm >= 0:
            raise OutOfRange(say("nose radius"), self.nose_radius_mm, 0, None, "mm")
        if self.flat_mm and self.nose_radius_mm:
            raise ValueError(say("a tool tip has a flat or a nose radius, not both"))

    def equivalent_flat_mm(self, half_angle_rad: float) -> float:
        """f of the formulas."""
        if self.nose_radius_mm:
            return tip_flat_of_nose_radius_mm(self.nose_radius_mm, half_angle_rad)
        return self.flat_mm

    def check_fits(self, pitch_mm: float, half_angle_rad: float) -> None:
        """OutOfRange where the tip is too wide to cut straight flank at the pitch line.

        There the groove is P/2 wide; a nose radius leaves its tangent points 2 r cos a apart.
        """
        if not self.flat_mm < pitch_mm / 2:
            raise OutOfRange(say("tip flat"), self.flat_mm, 0, pitch_mm / 2, "mm")
        widest_mm = pitch_mm / (4 * math.cos(half_angle_rad))
        if not self.nose_radius_mm < widest_mm:
            raise OutOfRange(say("nose radius"), self.nose_radius_mm, 0, widest_mm, "mm")


def total_infeed_mm(
    crest_diameter_mm: float,
    pitch_diameter_mm: float,
    pitch_mm: float,
    half_angle_rad: float,
    tip: ToolTip,
    internal: bool = False,
) -> float:
    """Radial infeed from touching the crest to the pitch diameter.  [mm]

    crest_diameter_mm  as measured: turned major diameter, or the bore of an internal thread

    Formula: h = (D0 - E)/2 + P/(4 tan a) - f/(2 tan a); internal (E - D1)/2 + the same.
    OutOfRange: tip wider than the groove at the pitch line, crest on the wrong side of the pitch
    line.
    Example (60 degrees, tip flat P/8, D0 basic: 0.64952 P):
    >>> round(total_infeed_mm(10, 9.025721, 1.5, math.radians(30), ToolTip(1.5 / 8)), 4)
    0.9743
    """
    _check_half_angle(half_angle_rad)
    tip.check_fits(pitch_mm, half_angle_rad)
    if internal and not crest_diameter_mm < pitch_diameter_mm:
        raise OutOfRange(say("bore"), crest_diameter_mm, 0, pitch_diameter_mm, "mm")
    if not internal and not crest_diameter_mm > pitch_diameter_mm:
        raise OutOfRange(say("crest diameter"), crest_diameter_mm, pitch_diameter_mm, None, "mm")
    above_mm = abs(crest_diameter_mm - pitch_diameter_mm) / 2
    return above_mm + _below_pitch_line_mm(pitch_mm, half_angle_rad, tip)


def pitch_diameter_at_mm(
    depth_mm: float,
    crest_diameter_mm: float,
    pitch_mm: float,
    half_angle_rad: float,
    tip: ToolTip,
    internal: bool = False,
) -> float:
    """Pitch diameter of a groove cut `depth_mm` deep (radial) from the crest: the way back.  [mm]

    OutOfRange as `total_infeed_mm`.
    """
    _check_half_angle(half_angle_rad)
    tip.check_fits(pitch_mm, half_angle_rad)
    above_mm = depth_mm - _below_pitch_line_mm(pitch_mm, half_angle_rad, tip)
    return crest_diameter_mm + (2 * above_mm if internal else -2 * above_mm)


def root_diameter_mm(
    pitch_diameter_mm: float,
    pitch_mm: float,
    half_angle_rad: float,
    tip: ToolTip,
    internal: bool = False,
) -> float:
    """Diameter that the tool's tip has reached when the thread is at a pitch diameter.  [mm]"""
    _check_half_angle(half_angle_rad)
    below_mm = 2 * _below_pitch_line_mm(pitch_mm, half_angle_rad, tip)
    return pitch_diameter_mm + (below_mm if internal else -below_mm)


def _below_pitch_line_mm(pitch_mm: float, half_angle_rad: float, tip: ToolTip) -> float:
    flat_mm = tip.equivalent_flat_mm(half_angle_rad)
    return (pitch_mm / 2 - flat_mm) / (2 * math.tan(half_angle_rad))


def _on_dial(stock_mm: float, slide: Slide, slides: Slides, kind: Kind) -> float | None:
    try:
        return dial_step_mm(stock_mm, slide, slides, kind)
    except SlideCannotFeed:
        return None


def _flanks(
    radial_mm: float, slides: Slides, slide: Slide, kind: Kind, half_angle_rad: float | None
) -> tuple[float | None, float | None]:
    if not kind.is_thread:
        return None, None
    if half_angle_rad is None:
        raise ValueError("a thread needs its half angle")
    if _on_dial(0.0, slide, slides, kind) is None:
        return None, None
    tangent = math.tan(slides.theta_rad()) if slide is Slide.COMPOUND else 0.0
    depth_mm = abs(radial_mm)
    flanks = flank_stock(depth_mm, depth_mm * tangent, half_angle_rad)
    sign = math.copysign(1.0, radial_mm)
    return sign * flanks.leading_mm, sign * flanks.trailing_mm


def _warnings(
    slides: Slides, slide: Slide, kind: Kind, half_angle_rad: float | None
) -> tuple[str, ...]:
    try:
        dial_step_mm(0.0, slide, slides, kind)
    except SlideCannotFeed as error:
        return (error.message,)
    if slide is not Slide.COMPOUND:
        return ()
    theta = slides.theta_rad()
    if kind.is_thread and half_angle_rad is not None and theta > half_angle_rad + 1e-9:
        return (TRAILING_STEPS_WORDS,)
    if kind is Kind.GROOVE_DIAMETER and theta > 1e-9:
        return (
            say(
                "The compound moves along the work as it feeds in and widens the groove by "
                "{share} of the radial depth: set it square, or use the cross-slide.",
                share=f"{math.tan(theta):.2f}",
            ),
        )
    return ()


def _check_half_angle(half_angle_rad: float) -> None:
    if not 0 < half_angle_rad < math.pi / 2:
        raise OutOfRange(say("half angle"), round(math.degrees(half_angle_rad), 6), 0, 90, "deg")
