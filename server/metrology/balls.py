"""Internal threads over balls, or pins with ball ends.

A ball of diameter d in a groove that opens toward the axis has its centre at radius R; in the
axial plane 2 R = E + (P/2) / tan a - d / sin a.  Two balls face each other, or one faces two.  With
an odd number of starts the groove opposite lies half a pitch along, so that two balls are measured
along a line that leans: its length is sqrt((2R)^2 + (P/2)^2).  One ball against two is square to
the axis.  The reading is taken across the far sides of the balls (+ d) or as the gap between them
(- d).

By the handbook rule the groove is taken as straight rings.  Exact: the ball touches the helicoid
z(r, t) = P/4 - (r - E/2) tan a + k t, k = L / (2 pi), where

    R cos t = r - z tan a,   R r sin t = -z k,   z^2 (1 + tan^2 a + k^2 / r^2) = (d/2)^2

Source: plane geometry and the contact equations, derived here and checked by brute force.
Lengths [mm], angles [rad], all at 20 degrees C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from server.metrology.contact import LARGEST_LEAD_ANGLE_RAD
from server.metrology.model import Kind, OutOfRange, Rule, ThreadTarget
from server.metrology.units import shown
from server.metrology.wire_range import STRAIGHT_ADDENDUM, best_wire_mm
from server.metrology.wires import LEAD_TERM_LIMIT_MM
from server.wording import say

_STEPS = 200
_CONVERGED = 1e-13


class Feelers(StrEnum):
    """How many balls."""

    TWO = "two"  # one on each side
    THREE = "three"  # one against two


class Taken(StrEnum):
    """What is measured."""

    ACROSS = "across"  # over the far sides, as with an inside micrometer with ball ends
    BETWEEN = "between"  # the gap between loose balls, as with gauge blocks


@dataclass(frozen=True)
class BallRange:
    """Balls that measure an internal thread properly.  [mm]"""

    best_mm: float
    smallest_mm: float
    largest_mm: float
    smallest_because: str
    largest_because: str

    def holds(self, ball_mm: float) -> bool:
        """Whether a ball of that size is usable; a bound itself is."""
        hair = 1e-9 * self.best_mm
        return self.smallest_mm - hair <= ball_mm <= self.largest_mm + hair


class BallUnusable(ValueError):
    """A ball that can't measure the thread, with the range that can."""

    def __init__(self, ball_mm: float, ball_range: BallRange, unit: str) -> None:
        self.ball_mm = ball_mm
        self.ball_range = ball_range
        self.is_too_small = ball_mm < ball_range.smallest_mm
        super().__init__(self.sentence(unit))

    def sentence(self, unit: str) -> str:
        """What is wrong and what would do, with sizes in "in" or "mm"."""
        fits = self.ball_range
        size = shown(self.ball_mm, unit)
        low, high = shown(fits.smallest_mm, unit), shown(fits.largest_mm, unit)
        if self.is_too_small:
            return say(
                "Ball {size} {unit} is too small; use {low} to {high} {unit}: {because}.",
                size=size,
                low=low,
                high=high,
                unit=unit,
                because=fits.smallest_because,
            )
        return say(
            "Ball {size} {unit} is too large; use {low} to {high} {unit}: {because}.",
            size=size,
            low=low,
            high=high,
            unit=unit,
            because=fits.largest_because,
        )


@dataclass(frozen=True)
class OverBalls:
    """Limits of an internal thread over given balls under one rule.  [mm]

    lead_correction_mm  exact minus handbook, at the middle of the limits; part of low, high and
                        middle only under the exact rule
    """

    ball_mm: float
    rule: Rule
    feelers: Feelers
    taken: Taken
    lead_correction_mm: float
    low_mm: float
    high_mm: float
    middle_mm: float


def usable(target: ThreadTarget) -> BallRange:
    """Balls that measure every thread inside the limits, judged in the axial plane.

    Smallest: stands proud of the smallest bore at high pitch diameter, and clears the root, which
    lies as far beyond the pitch line as in the standard's maximum-material form.
    Largest: touches straight flank below the largest bore, or below the form's rounded crest, at
    low pitch diameter.  Best touches at the pitch line.

    Raises ValueError for an external thread or where the standard leaves the bore open.
    """
    if target.kind is not Kind.INTERNAL_THREAD:
        raise ValueError(say("balls measure internal threads; an external one takes wires"))
    p, a = target.pitch_mm, target.half_angle_rad
    csc_a, apex = 1 / math.sin(a), p / 2 / math.tan(a)
    e_low, e_high = target.pitch_diameter.both()
    bore_low, bore_high = target.minor_diameter.both()
    root_low = target.major_diameter.low_mm or target.nominal_mm
    proud = (e_high - bore_low + apex) / (1 + csc_a)
    bottoms = (e_low - root_low + apex) / (csc_a - 1)  # one tool cuts root and flanks
    straight = (e_low - bore_high) / 2
    rounded = STRAIGHT_ADDENDUM.get(target.family, math.inf) * p
    largest = (p / 2 + 2 * min(straight, rounded) * math.tan(a)) / math.cos(a)
    return BallRange(
        best_mm=best_wire_mm(p, a),
        smallest_mm=max(proud, bottoms),
        largest_mm=largest,
        smallest_because=say("a smaller ball sinks below the thread's crest")
        if proud >= bottoms
        else say("a smaller ball touches the root of the groove instead of its flanks"),
        largest_because=say("a larger ball rests on the corners of the crest instead of the flanks")
        if straight <= rounded
        else say("a larger ball touches where the flank already turns into the rounded crest"),
    )


def reading_mm(
    pitch_diameter_mm: float,
    target: ThreadTarget,
    ball_mm: float,
    rule: Rule,
    feelers: Feelers = Feelers.TWO,
    taken: Taken = Taken.ACROSS,
) -> float:
    """What is read over balls at a pitch diameter.  [mm]

    Raises OutOfRange where the ball finds no flank, or beyond 25 degrees of lead.
    """
    if rule is Rule.EXACT:
        centres = 2 * _centre_radius_mm(pitch_diameter_mm, target, ball_mm)
    else:
        centres = pitch_diameter_mm + _handbook_centres_mm(target, ball_mm)
    leaning = math.hypot(centres, _offset_mm(target, feelers))
    return leaning + ball_mm if taken is Taken.ACROSS else leaning - ball_mm


def pitch_diameter_mm(
    reading_mm: float,
    target: ThreadTarget,
    ball_mm: float,
    rule: Rule,
    feelers: Feelers = Feelers.TWO,
    taken: Taken = Taken.ACROSS,
) -> float:
    """Pitch diameter that a reading over balls means; inverse of `reading_mm`.  [mm]

    Raises OutOfRange where no thread reads that.
    """
    centres = centres_mm(reading_mm, target, ball_mm, feelers, taken)
    e = centres - _handbook_centres_mm(target, ball_mm)
    if rule is Rule.HANDBOOK:
        return e
    for _ in range(_STEPS):
        missing = centres - 2 * _centre_radius_mm(e, target, ball_mm)
        e += missing
        if abs(missing) <= _CONVERGED * centres:
            return e
    raise OutOfRange(say("reading over balls"), reading_mm, None, None, "mm")


def centres_mm(
    reading_mm: float,
    target: ThreadTarget,
    ball_mm: float,
    feelers: Feelers = Feelers.TWO,
    taken: Taken = Taken.ACROSS,
) -> float:
    """How far the ball centres lie apart across the axis.  [mm]

    Raises OutOfRange where the balls would be closer than their offset along the axis.
    """
    leaning = reading_mm - ball_mm if taken is Taken.ACROSS else reading_mm + ball_mm
    offset = _offset_mm(target, feelers)
    if leaning <= offset:
        raise OutOfRange(say("reading over balls"), reading_mm, None, None, "mm")
    return math.sqrt(leaning * leaning - offset * offset)


def lead_correction_mm(
    pitch_diameter_mm: float,
    target: ThreadTarget,
    ball_mm: float,
    feelers: Feelers = Feelers.TWO,
) -> float:
    """Exact minus handbook at one pitch diameter, across or between alike.  [mm]"""
    exact = reading_mm(pitch_diameter_mm, target, ball_mm, Rule.EXACT, feelers)
    return exact - reading_mm(pitch_diameter_mm, target, ball_mm, Rule.HANDBOOK, feelers)


def default_rule(target: ThreadTarget, ball_mm: float) -> Rule:
    """Handbook while it leaves out less than 0.00015 in at the low limit, else exact."""
    lowest, _ = target.pitch_diameter.both()
    left_out = abs(lead_correction_mm(lowest, target, ball_mm))
    return Rule.HANDBOOK if left_out < LEAD_TERM_LIMIT_MM else Rule.EXACT


def over_balls(
    target: ThreadTarget,
    ball_mm: float,
    rule: Rule | None = None,
    feelers: Feelers = Feelers.TWO,
    taken: Taken = Taken.ACROSS,
) -> OverBalls:
    """Limits of an internal thread over balls.

    rule  None: `default_rule`
    Raises BallUnusable for a ball outside `usable`, and what `usable` and `reading_mm` raise.
    """
    ball_range = usable(target)
    if not ball_range.holds(ball_mm):
        raise BallUnusable(ball_mm, ball_range, target.unit)
    in_force = rule or default_rule(target, ball_mm)
    low, high = target.pitch_diameter.both()
    middle = target.pitch_diameter.middle_mm
    return OverBalls(
        ball_mm=ball_mm,
        rule=in_force,
        feelers=feelers,
        taken=taken,
        lead_correction_mm=lead_correction_mm(middle, target, ball_mm, feelers),
        low_mm=reading_mm(low, target, ball_mm, in_force, feelers, taken),
        high_mm=reading_mm(high, target, ball_mm, in_force, feelers, taken),
        middle_mm=reading_mm(middle, target, ball_mm, in_force, feelers, taken),
    )


def _handbook_centres_mm(target: ThreadTarget, ball_mm: float) -> float:
    """Distance of the ball centres across the axis, less the pitch diameter."""
    a = target.half_angle_rad
    return target.pitch_mm / 2 / math.tan(a) - ball_mm / math.sin(a)


def _offset_mm(target: ThreadTarget, feelers: Feelers) -> float:
    """How far along the axis the balls of a pair lie apart."""
    is_square = feelers is Feelers.THREE or target.starts % 2 == 0
    return 0.0 if is_square else target.pitch_mm / 2


def _centre_radius_mm(e: float, target: ThreadTarget, ball_mm: float) -> float:
    """R of a ball in the helical groove, by repeated substitution."""
    p, a, k, q = target.pitch_mm, target.half_angle_rad, target.lead_mm / math.tau, ball_mm / 2
    tan_a = math.tan(a)
    if e <= 0 or math.atan(2 * k / e) > LARGEST_LEAD_ANGLE_RAD:
        raise OutOfRange(
            say("pitch diameter"), e, 2 * k / math.tan(LARGEST_LEAD_ANGLE_RAD), None, "mm"
        )
    r, t = e / 2 + (p / 4 - q * math.cos(a)) / tan_a, 0.0
    for _ in range(_STEPS):
        if r <= 0:
            break
        z = q / math.sqrt(1 + tan_a**2 + (k / r) ** 2)
        centre = (r - z * tan_a) / math.cos(t)
        sine = -z * k / (r * centre) if centre > 0 else 1.0
        if abs(sine) >= 1:
            break
        t = math.asin(sine)
        before, r = r, e / 2 + (p / 4 + k * t - z) / tan_a
        if abs(r - before) <= _CONVERGED * e:
            return (r - z * tan_a) / math.cos(t)
    raise OutOfRange(say("ball diameter"), ball_mm, None, None, "mm")
