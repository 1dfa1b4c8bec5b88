"""Which wires measure an external thread.  Lengths [mm], angles [rad].

Symbols: E pitch diameter, P pitch, a half angle, w wire, D crest diameter, M size over wires.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from server.metrology import contact
from server.metrology.model import Kind, ThreadTarget
from server.metrology.units import shown
from server.wording import say

_REFINEMENTS = 3  # each gains a factor of twenty or more


class Bound(StrEnum):
    """What keeps a wire from being smaller or larger."""

    CREST = "crest"
    ROOT = "root"
    FLANK_END = "flank_end"
    ROUNDED_CREST = "rounded_crest"


BECAUSE = {
    Bound.CREST: say(
        "with the crest at its highest and the pitch diameter at its lowest, a smaller wire lies "
        "below the crest and the anvils touch the thread"
    ),
    Bound.ROOT: say("a smaller wire touches the root of the groove instead of its flanks"),
    Bound.FLANK_END: say(
        "with the crest at its lowest and the pitch diameter at its highest, a larger wire rests "
        "on the crest corners instead of the flanks"
    ),
    Bound.ROUNDED_CREST: say(
        "a larger wire touches where the flank already turns into the rounded crest"
    ),
}


@dataclass(frozen=True)
class WireRange:
    """Wires that measure a thread properly.  [mm]"""

    best_mm: float
    smallest_mm: float
    largest_mm: float
    smallest_bound: Bound
    largest_bound: Bound

    @property
    def smallest_because(self) -> str:
        return BECAUSE[self.smallest_bound]

    @property
    def largest_because(self) -> str:
        return BECAUSE[self.largest_bound]

    @property
    def recommended_mm(self) -> float | None:
        """The usable size nearest to best, which is best itself wherever best is usable.

        None where no wire is usable at every size within the limits.
        """
        if self.smallest_mm > self.largest_mm:
            return None
        return min(max(self.best_mm, self.smallest_mm), self.largest_mm)

    def holds(self, wire_mm: float) -> bool:
        """Whether a wire of that size is usable; a bound itself is."""
        hair = 1e-9 * self.best_mm
        return self.smallest_mm - hair <= wire_mm <= self.largest_mm + hair


class WireUnusable(ValueError):
    """A wire that can't measure the thread, with the range that can and which bound it breaks."""

    def __init__(self, wire_mm: float, wire_range: WireRange, unit: str) -> None:
        self.wire_mm = wire_mm
        self.smallest_mm = wire_range.smallest_mm
        self.largest_mm = wire_range.largest_mm
        self.is_too_small = wire_mm < wire_range.smallest_mm
        self.bound = wire_range.smallest_bound if self.is_too_small else wire_range.largest_bound
        super().__init__(self.sentence(unit))

    def sentence(self, unit: str) -> str:
        """What is wrong and what would do, with sizes in "in" or "mm"."""
        size, because = shown(self.wire_mm, unit), BECAUSE[self.bound]
        if self.smallest_mm > self.largest_mm:
            fits = say("no wire is usable at every size within the limits")
        else:
            fits = say(
                "use {low} to {high} {unit}",
                low=shown(self.smallest_mm, unit),
                high=shown(self.largest_mm, unit),
                unit=unit,
            )
        if self.is_too_small:
            return say(
                "Wire {size} {unit} is too small; {fits}: {because}.",
                size=size,
                unit=unit,
                fits=fits,
                because=because,
            )
        return say(
            "Wire {size} {unit} is too large; {fits}: {because}.",
            size=size,
            unit=unit,
            fits=fits,
            because=because,
        )


def best_wire_mm(pitch_mm: float, half_angle_rad: float) -> float:
    """The wire that touches the flanks at the pitch line, w = P / (2 cos a).  [mm]

    Example (published factor .57735 P of the 60 degree wire tables):
    >>> round(best_wire_mm(1.0, math.radians(30)), 5)
    0.57735
    """
    return pitch_mm / (2 * math.cos(half_angle_rad))


def practical_range_mm(pitch_mm: float) -> tuple[float, float]:
    """The shop's own window for 60 degree threads, 0.56 P to 0.90 P.  [mm]

    Source: published machinist training courses.  A rule of thumb; `usable` decides.
    """
    return 0.56 * pitch_mm, 0.90 * pitch_mm


def usable(target: ThreadTarget, crest_diameter_mm: float | None = None) -> WireRange:
    """Wires that measure every thread inside the limits.

    target             external thread
    crest_diameter_mm  major diameter as turned  [mm]; None: its limits

    Smallest: stands proud of the crest at high major with low pitch diameter, and clears the root.
    The crest is turned apart from the groove, so that their worst limits meet; root and flanks are
    cut by one tool, so that the root lies as far below the pitch line as in the standard's
    maximum-material form.  Largest: still touches straight flank at low major with high
    pitch diameter, and below the rounding where the form's crest is round.  The helix is counted.
    A wire table's own factors are those of the basic profile: `chart_range`.  The limits narrow
    them; a small Acme thread of class 2G may leave no room for its best wire until the crest is
    turned toward its low limit.

    Source: design rule stated above, exact contact.
    Raises ValueError for an internal thread, model.OutOfRange beyond 25 degrees of lead.
    """
    if target.kind is not Kind.EXTERNAL_THREAD:
        raise ValueError(say("wires measure external threads; an internal one takes balls"))
    e_low, e_high = target.pitch_diameter.both()
    crest_high = crest_diameter_mm or target.major_diameter.high_mm or target.nominal_mm
    crest_low = crest_diameter_mm or target.major_diameter.low_mm or crest_high
    root = target.minor_diameter.high_mm
    root_high = None if root is None else root - (e_high - e_low)
    smallest, smallest_bound = _smallest(target, target.lead_mm, e_low, crest_high, root_high)
    largest, largest_bound = _largest(target, target.lead_mm, e_high, crest_low)
    best = best_wire_mm(target.pitch_mm, target.half_angle_rad)
    return WireRange(best, smallest, largest, smallest_bound, largest_bound)


def chart_range(target: ThreadTarget) -> WireRange:
    """The wires of a chart on the wall: basic profile, no helix.

    Factors of the pitch (smallest, best, largest): 60 degrees .505182, .577350, 1.010363;
    29 degrees .487263, .516450, .650013; 55 degrees rounded .505678, .563692, .8527.
    Source: published wire tables (Machinery's Handbook 31st ed. p. 2135; H28, B1.2).
    """
    e, d = target.basic_pitch_diameter_mm, target.nominal_mm
    smallest, smallest_bound = _smallest(target, 0.0, e, d, None)
    largest, largest_bound = _largest(target, 0.0, e, d)
    best = best_wire_mm(target.pitch_mm, target.half_angle_rad)
    return WireRange(best, smallest, largest, smallest_bound, largest_bound)


def _smallest(
    target: ThreadTarget, lead_mm: float, e_low: float, crest_high: float, root_high: float | None
) -> tuple[float, Bound]:
    """The wire flush with the crest, or the one that reaches the root where that is larger."""
    p, a = target.pitch_mm, target.half_angle_rad
    csc_a, cot_a = 1 / math.sin(a), 1 / math.tan(a)

    def reads(wire: float) -> float:
        return contact.over_wires_mm(e_low, wire, p, lead_mm, a)

    flush = (crest_high - e_low + p / 2 * cot_a) / (1 + csc_a)
    for _ in range(_REFINEMENTS if lead_mm else 0):
        flush -= (reads(flush) - crest_high) / (1 + csc_a)
    if root_high is None:
        return flush, Bound.CREST
    bottoms = (root_high - e_low + p / 2 * cot_a) / (csc_a - 1)
    if bottoms <= flush:
        return flush, Bound.CREST
    for _ in range(_REFINEMENTS if lead_mm else 0):
        bottoms -= (reads(bottoms) - 2 * bottoms - root_high) / (csc_a - 1)
    return (flush, Bound.CREST) if bottoms <= flush else (bottoms, Bound.ROOT)


def _largest(
    target: ThreadTarget, lead_mm: float, e_high: float, crest_low: float
) -> tuple[float, Bound]:
    """The wire that touches where the straight flank ends."""
    ends, bound = crest_low, Bound.FLANK_END
    rounded = STRAIGHT_ADDENDUM.get(target.family)
    if rounded is not None and e_high + 2 * rounded * target.pitch_mm < crest_low:
        ends, bound = e_high + 2 * rounded * target.pitch_mm, Bound.ROUNDED_CREST
    largest = contact.wire_touching_at_mm(
        ends, e_high, target.pitch_mm, lead_mm, target.half_angle_rad
    )
    return largest, bound


def _straight_addendum(half_angle_deg: float, height: float, radius: float) -> float:
    """How far above the pitch line a flank stays straight below a tangent round crest.  [P]"""
    return height / 2 - radius * (1 - math.sin(math.radians(half_angle_deg)))


# Forms with round crests: thread height and crest radius in pitches, BS 84, ISO 228-1, BS 93
_WHITWORTH = _straight_addendum(27.5, 0.640327, 0.137329)
STRAIGHT_ADDENDUM = {
    "whitworth": _WHITWORTH,
    "pipe_g": _WHITWORTH,
    "ba": _straight_addendum(23.75, 0.6, 2 / 11),
}
