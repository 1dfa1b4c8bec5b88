"""A plan of passes from touch-off to size, in whole graduations of the slides in use.

Depths are in the cutting direction: radial, or axial for a length.  Lengths [mm], angles [rad].
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from server.metrology.dials import Slide, Slides, depth_per_dial, dial_count, size_per_depth
from server.metrology.model import Kind, OutOfRange
from server.wording import say

MOST_PASSES = 500  # a plan longer than this is a slip in a number


class Purpose(StrEnum):
    """What a pass is for."""

    ROUGH = "rough"
    SEMI_FINISH = "semi_finish"
    LAST = "last"
    SPRING = "spring"


@dataclass(frozen=True)
class PlannedPass:
    """One pass of a plan."""

    number: int
    purpose: Purpose
    slide: Slide
    dial_step: Decimal  # in the dial's own count and unit
    dial_total: Decimal  # on that slide's dial since touch-off
    unit: str
    step_mm: float  # depth of this pass
    depth_mm: float  # depth since touch-off


@dataclass(frozen=True)
class Plan:
    """The passes, and what the graduations leave standing at the end (>= 0)."""

    passes: tuple[PlannedPass, ...]
    left_standing_mm: float


@dataclass(frozen=True)
class ThreadCuts:
    """How hard to cut a thread.  Radial depths [mm]

    The defaults are common practice for a sharp high-speed-steel tool on a manual lathe.

    first_mm  no pass is deeper than this
    last_mm   the last pass, at least `least_mm`
    least_mm  less than this would rub and not cut
    """

    first_mm: float = 0.15
    last_mm: float = 0.025
    least_mm: float = 0.02
    spring_passes: int = 2

    def __post_init__(self) -> None:
        if not self.least_mm > 0:
            raise OutOfRange(say("least cut"), self.least_mm, 0, None, "mm")
        if not self.first_mm >= 2 * self.least_mm:
            raise OutOfRange(say("first cut"), self.first_mm, 2 * self.least_mm, None, "mm")
        if not self.least_mm <= self.last_mm <= self.first_mm:
            raise OutOfRange(say("last cut"), self.last_mm, self.least_mm, self.first_mm, "mm")
        _check_count(say("spring passes"), self.spring_passes)


@dataclass(frozen=True)
class TurningCuts:
    """How hard to turn, bore or face.  Depths of cut [mm]"""

    rough_mm: float = 1.0  # no pass is deeper than this
    semi_finish_mm: float = 0.25
    finish_mm: float = 0.1
    spring_passes: int = 0

    def __post_init__(self) -> None:
        if not self.finish_mm > 0:
            raise OutOfRange(say("finish cut"), self.finish_mm, 0, None, "mm")
        if not self.semi_finish_mm >= 0:
            raise OutOfRange(say("semi-finish cut"), self.semi_finish_mm, 0, None, "mm")
        heaviest_mm = max(self.finish_mm, self.semi_finish_mm)
        if not self.rough_mm >= heaviest_mm:
            raise OutOfRange(say("rough cut"), self.rough_mm, heaviest_mm, None, "mm")
        _check_count(say("spring passes"), self.spring_passes)


def equal_area_depths_mm(
    total_mm: float, pass_count: int, tip_flat_mm: float, half_angle_rad: float
) -> tuple[float, ...]:
    """Depths after each pass, for passes that take the same chip area.  Exact, rising.  [mm]

    Formula: d_i = [-f + sqrt(f^2 + 4 tan a A i/n)] / (2 tan a), A = f h + h^2 tan a; h sqrt(i/n)
    for a sharp V.  A nose radius is taken as its flat, infeed.tip_flat_of_nose_radius_mm.
    OutOfRange: total or flat below 0, no pass.

    >>> [round(d, 3) for d in equal_area_depths_mm(0.92, 2, 0.0, 0.5)]
    [0.651, 0.92]
    """
    _check_groove(total_mm, tip_flat_mm, half_angle_rad)
    if pass_count < 1:
        raise OutOfRange(say("passes"), pass_count, 1, None, "")
    if total_mm == 0:
        return (0.0,) * pass_count
    area = _chip_area(total_mm, tip_flat_mm, half_angle_rad)
    shares = (area * i / pass_count for i in range(1, pass_count))
    return (*(_depth_of(share, tip_flat_mm, half_angle_rad) for share in shares), total_mm)


def pass_count_for_first_cut(
    total_mm: float, first_mm: float, tip_flat_mm: float, half_angle_rad: float
) -> int:
    """The fewest passes of equal chip area of which the first is not above `first_mm`."""
    _check_groove(total_mm, tip_flat_mm, half_angle_rad)
    if not first_mm > 0:
        raise OutOfRange(say("first cut"), first_mm, 0, None, "mm")
    area = _chip_area(total_mm, tip_flat_mm, half_angle_rad)
    return max(1, math.ceil(area / _chip_area(first_mm, tip_flat_mm, half_angle_rad) - 1e-9))


def thread_plan(
    total_mm: float,
    tip_flat_mm: float,
    half_angle_rad: float,
    kind: Kind,
    slides: Slides,
    slide: Slide,
    cuts: ThreadCuts | None = None,
    last_slide: Slide | None = None,
    rough_passes: int | None = None,
) -> Plan:
    """Passes of equal chip area, a set last pass, and spring passes.

    total_mm    radial infeed from touch-off, >= 0
    rough_passes  how many roughing passes, whatever the first cut then is; None: as few as the
                first cut allows.  Passes that would come out under the least cut are put together
    last_slide  the slide for the last pass if another: plunging it with the cross-slide cuts both
                flanks, where a compound near the half angle only rubs on the trailing one

    Every pass is whole graduations; none is deeper than the first cut, and none but a total below
    it is under the least cut; the sum never passes the total.
    Raises SlideCannotFeed; OutOfRange where the first cut is too small for the graduation, or
    rough_passes is below 1.
    """
    cuts = cuts or ThreadCuts()
    if rough_passes is not None and rough_passes < 1:
        raise OutOfRange(say("roughing passes"), rough_passes, 1, None, "")
    _check_groove(total_mm, tip_flat_mm, half_angle_rad)
    rough = _Feed.of(slide, slides, kind)
    last = _Feed.of(last_slide or slide, slides, kind)
    plan = _Planner()
    last_cap = last.cap(cuts.first_mm)
    rough_total_mm = total_mm - last.depth(min(last.least_count(cuts.last_mm), last_cap))
    for count in _rough_counts(
        rough_total_mm, tip_flat_mm, half_angle_rad, rough, cuts, rough_passes
    ):
        plan.add(Purpose.ROUGH, rough, count)
    left = last.count(total_mm - plan.depth_mm)
    *before, final = _even(left, max(1, math.ceil(left / last_cap)))
    for count in before:
        plan.add(Purpose.ROUGH, last, count)
    plan.add(Purpose.LAST, last, final)
    plan.add_springs(last, cuts.spring_passes)
    return Plan(tuple(plan.passes), max(0.0, total_mm - plan.depth_mm))


def turning_plan(
    stock_mm: float,
    kind: Kind,
    slides: Slides,
    slide: Slide,
    cuts: TurningCuts | None = None,
) -> Plan:
    """Equal roughing passes, a semi-finishing pass and a finishing pass for a plain size.

    stock_mm  on the size: on diameter, or along the axis for a length, >= 0

    Less stock than two finishing cuts is one finishing cut.  The sum never passes the stock.
    Raises SlideCannotFeed; OutOfRange where the rough cut is below a graduation.
    """
    cuts = cuts or TurningCuts()
    if not stock_mm >= 0:
        raise OutOfRange(say("stock"), stock_mm, 0, None, "mm")
    total_mm = stock_mm / size_per_depth(kind)
    feed = _Feed.of(slide, slides, kind)
    rough, semi, finish = _turning_counts(feed.count(total_mm), feed, cuts)
    plan = _Planner()
    for count in rough:
        plan.add(Purpose.ROUGH, feed, count)
    plan.add(Purpose.SEMI_FINISH, feed, semi)
    plan.add(Purpose.LAST, feed, finish)
    plan.add_springs(feed, cuts.spring_passes)
    return Plan(tuple(plan.passes), max(0.0, total_mm - plan.depth_mm))


@dataclass(frozen=True)
class _Feed:
    """A slide's graduations as depths of cut."""

    slide: Slide
    graduation: Decimal
    unit: str
    depth_mm: float  # of one graduation

    @classmethod
    def of(cls, slide: Slide, slides: Slides, kind: Kind) -> _Feed:
        dial = slides.dial(slide)
        depth_mm = dial.graduation_mm * depth_per_dial(slide, slides, kind)
        return cls(slide, dial.graduation, dial.unit, depth_mm)

    def count(self, depth_mm: float) -> int:
        """Whole graduations in a depth, toward leaving metal."""
        return max(0, int(dial_count(depth_mm / self.depth_mm, Decimal(1))))

    def least_count(self, depth_mm: float) -> int:
        """The fewest graduations that are not below a depth."""
        return -int(dial_count(-depth_mm / self.depth_mm, Decimal(1)))

    def cap(self, first_mm: float) -> int:
        """Graduations in the deepest pass; OutOfRange where there is none."""
        count = self.count(first_mm)
        if count < 1:
            raise OutOfRange(say("first cut"), first_mm, self.depth_mm, None, "mm")
        return count

    def depth(self, count: int) -> float:
        return count * self.depth_mm


class _Planner:
    """Passes as they are added; a pass of no graduation is left out."""

    def __init__(self) -> None:
        self.passes: list[PlannedPass] = []
        self._counts: dict[Slide, int] = {}
        self._depths: dict[Slide, float] = {}

    @property
    def depth_mm(self) -> float:
        return sum(self._depths.values())

    def add(self, purpose: Purpose, feed: _Feed, count: int) -> None:
        if count > 0:
            self._append(purpose, feed, count)

    def add_springs(self, feed: _Feed, spring_count: int) -> None:
        for _ in range(spring_count if self.passes else 0):
            self._append(Purpose.SPRING, feed, 0)

    def _append(self, purpose: Purpose, feed: _Feed, count: int) -> None:
        total = self._counts.get(feed.slide, 0) + count
        self._counts[feed.slide] = total
        self._depths[feed.slide] = feed.depth(total)
        self.passes.append(
            PlannedPass(
                number=len(self.passes) + 1,
                purpose=purpose,
                slide=feed.slide,
                dial_step=count * feed.graduation,
                dial_total=total * feed.graduation,
                unit=feed.unit,
                step_mm=feed.depth(count),
                depth_mm=self.depth_mm,
            )
        )


def _rough_counts(
    total_mm: float,
    tip_flat_mm: float,
    half_angle_rad: float,
    feed: _Feed,
    cuts: ThreadCuts,
    pass_count: int | None,
) -> list[int]:
    """Graduations of each roughing pass, each between the least and the first cut."""
    cap, least = feed.cap(cuts.first_mm), feed.least_count(cuts.least_mm)
    if cap < 2 * least:
        raise OutOfRange(say("first cut"), cuts.first_mm, feed.depth(2 * least), None, "mm")
    total = feed.count(total_mm) if total_mm > 0 else 0
    if total < least:
        return []
    if total > MOST_PASSES * least:
        raise OutOfRange(say("total infeed"), total_mm, 0, feed.depth(MOST_PASSES * least), "mm")
    depth_mm = feed.depth(total)
    if pass_count is None:
        pass_count = pass_count_for_first_cut(
            depth_mm, feed.depth(cap), tip_flat_mm, half_angle_rad
        )
    depths = equal_area_depths_mm(depth_mm, pass_count, tip_flat_mm, half_angle_rad)
    return _not_below_least(_steps([feed.count(depth) for depth in depths]), least)


def _turning_counts(total: int, feed: _Feed, cuts: TurningCuts) -> tuple[list[int], int, int]:
    """Graduations of (roughing passes, semi-finish, finish)."""
    cap = feed.cap(cuts.rough_mm)
    finish = min(feed.least_count(cuts.finish_mm), cap)
    if total <= cap and total < 2 * finish:
        return [], 0, total
    semi = min(feed.least_count(cuts.semi_finish_mm), cap, total - finish)
    rough = total - finish - semi
    if rough < finish:  # too little for a pass of its own
        both = rough + semi
        semi = both if both <= cap else both // 2
        rough = both - semi
    pass_count = math.ceil(rough / cap)
    if pass_count > MOST_PASSES:
        raise OutOfRange(say("passes"), pass_count, 1, MOST_PASSES, "")
    return _even(rough, pass_count), semi, finish


def _steps(positions: list[int]) -> list[int]:
    return [here - before for before, here in zip([0, *positions], positions, strict=False)]


def _not_below_least(steps: list[int], least: int) -> list[int]:
    """The same total, with the steps too small to cut shared out among as few before as it takes.

    No step comes out deeper than the one before it, or at twice the least cut.
    """
    kept = 0
    while kept < len(steps) and steps[kept] >= least:
        kept += 1
    head, rest = steps[:kept], sum(steps[kept:])
    while rest and head and (rest < least or math.ceil(rest / (rest // least)) > head[-1]):
        rest += head.pop()
    return head + _even(rest, rest // least) if rest else head


def _even(total: int, parts: int) -> list[int]:
    """Equal steps, the odd graduations on the first ones."""
    each, odd = divmod(total, parts) if parts else (0, 0)
    return [each + 1] * odd + [each] * (parts - odd)


def _chip_area(depth_mm: float, tip_flat_mm: float, half_angle_rad: float) -> float:
    return tip_flat_mm * depth_mm + depth_mm**2 * math.tan(half_angle_rad)


def _depth_of(area_mm2: float, tip_flat_mm: float, half_angle_rad: float) -> float:
    root = math.sqrt(tip_flat_mm**2 + 4 * math.tan(half_angle_rad) * area_mm2)
    return 2 * area_mm2 / (tip_flat_mm + root)  # the formula, free of cancellation


def _check_groove(total_mm: float, tip_flat_mm: float, half_angle_rad: float) -> None:
    if not 0 <= total_mm < math.inf:
        raise OutOfRange(say("total infeed"), total_mm, 0, None, "mm")
    if not tip_flat_mm >= 0:
        raise OutOfRange(say("tip flat"), tip_flat_mm, 0, None, "mm")
    if not 0 < half_angle_rad < math.pi / 2:
        raise OutOfRange(say("half angle"), round(math.degrees(half_angle_rad), 6), 0, 90, "deg")


def _check_count(what: str, count: int) -> None:
    if count < 0:
        raise OutOfRange(what, count, 0, None, "")
