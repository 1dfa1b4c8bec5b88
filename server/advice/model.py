"""The values the advice speaks in.

Every length is in millimetres on diameter (on the length itself for axial stock) and positive
means metal still to come off, for bores and internal threads too.  Stock is measured from the aim:
0 is the aim, the metal-on limit lies at a positive stock and the limit that scraps the piece at a
negative one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

InWords = Callable[[float], str]  # a length in mm as the user reads it, unit included


class CutKind(StrEnum):
    """What sort of cut is taken; it decides what is believed before anything is learned."""

    TURN = "turn"
    BORE = "bore"
    THREAD = "thread"
    LENGTH = "length"


class Action(StrEnum):
    CUT = "cut"
    SPRING_PASS = "spring_pass"
    MEASURE_AGAIN = "measure_again"
    WAIT = "wait"
    FINER_FEED = "finer_feed"  # a cut by job.finer_graduation_mm; 0 steps: none will do


class Change(StrEnum):
    """An event at the lathe after which the offset is learned anew."""

    TOOL_CHANGED = "tool_changed"
    REZEROED = "rezeroed"
    RECHUCKED = "rechucked"


@dataclass(frozen=True)
class Cut:
    """One pass.  depth_mm: the dial's move toward more cut; 0 a spring pass, < 0 backed off."""

    depth_mm: float


@dataclass(frozen=True)
class Reading:
    """One measurement, or the geometry's own estimate before anything could be measured.

    stock_mm    measured size minus aim, in the cutting direction
    scatter_mm  standard uncertainty of this reading alone, warmth included; the part it shares
                with the others is job.common_uncertainty_mm
    teaches     False for wires on the corners and readings in state Wait: used for nothing
    """

    stock_mm: float
    scatter_mm: float
    teaches: bool = True


@dataclass(frozen=True)
class Reset:
    what: Change


Entry = Cut | Reading | Reset


@dataclass(frozen=True)
class Job:
    """What is to be reached, with what.

    kind                     decides the prior and, for threads, that springing grows with depth
    stock_at_metal_limit_mm  > 0, the limit on the side where metal is still on
    stock_at_past_limit_mm   < 0, the limit beyond which the piece is scrap
    graduation_mm            one graduation of the slide in use, expressed on diameter
    guard_mm                 guard band of the decision rule (0 under plain acceptance)
    common_uncertainty_mm    standard uncertainty that all readings share (instrument, wires)
    reading_scatter_mm       standard uncertainty expected of the next reading alone
    total_depth_mm           threads: twice the infeed from crest to full depth, where known
    finer_graduation_mm      a finer feed that could be set up, None where there is none
    deepest_cut_mm           no pass deeper than this, None where nothing limits it
    past_chance_bound        the user's bound on going past the limit, per piece
    past_chance_spent        chance_past_limit of the advised cuts already taken on this piece
    """

    kind: CutKind
    stock_at_metal_limit_mm: float
    stock_at_past_limit_mm: float
    graduation_mm: float
    guard_mm: float = 0.0
    common_uncertainty_mm: float = 0.0
    reading_scatter_mm: float = 0.002
    total_depth_mm: float | None = None
    finer_graduation_mm: float | None = None
    deepest_cut_mm: float | None = None
    past_chance_bound: float = 0.005
    past_chance_spent: float = 0.0

    def __post_init__(self) -> None:
        if not self.stock_at_past_limit_mm < self.stock_at_metal_limit_mm:
            raise ValueError("the limits must leave room between them")
        if self.graduation_mm <= 0:
            raise ValueError("a dial graduation is more than nothing")
        if self.total_depth_mm is not None and self.total_depth_mm <= 0:
            raise ValueError("a thread's total depth is more than nothing")


@dataclass(frozen=True)
class Landing:
    """Stock after the next cut: expected, and the ends of a 90 % interval.  [mm]"""

    expected_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True)
class NextCut:
    """What to do now.

    step_mm       to dial, on diameter, a whole number of graduations; 0 without a cut
    steps         that number of graduations
    graduation_mm the graduation counted in (the finer one for FINER_FEED)
    landing       where it should end; for MEASURE_AGAIN and WAIT, where the size is now
    chance_*      fractions; of the true size, after the cut
    why           one plain sentence
    """

    action: Action
    step_mm: float
    steps: int
    graduation_mm: float
    landing: Landing
    chance_in_limits: float
    chance_past_limit: float
    measure_after: bool
    why: str
    notes: tuple[str, ...] = ()  # dial or instrument too coarse and the way out, one sentence each
    why_else: str = ""  # MEASURE_AGAIN: why FINER_FEED, if repeats open no step; "" where it is not

    @property
    def is_pass(self) -> bool:
        """A pass is advised; a finer feed without a step says that no step of the dial will do."""
        if self.action is Action.FINER_FEED:
            return self.steps != 0
        return self.action in (Action.CUT, Action.SPRING_PASS)


@dataclass(frozen=True)
class Comparison:
    """How the last reading compared with where the cut before it was expected to land.

    surprise  the reading lies outside the 99 % interval: measure again before it is believed
    """

    expected_mm: float
    low_mm: float
    high_mm: float
    reading_mm: float
    is_inside: bool
    is_surprise: bool
    sentence: str


@dataclass(frozen=True)
class LearnedPass:
    """One interval between readings: dialled against removed.  [mm]"""

    dialled_mm: float
    removed_mm: float
    fitted_mm: float
    cuts: int


@dataclass(frozen=True)
class Learned:
    """What this feature's own passes have taught.

    left_behind        share of the engaged depth that a cut leaves standing, with its standard
                       uncertainty (threads: at full depth)
    offset_mm          where the tool stands against the dial, from the first reading
    standing_mm        metal that a spring pass would still find
    least_cut_mm       thinnest cut that comes off
    cut_scatter_mm     standard deviation of one cut
    """

    passes: tuple[LearnedPass, ...]
    left_behind: float
    left_behind_uncertainty: float
    offset_mm: float
    offset_uncertainty_mm: float
    standing_mm: float
    least_cut_mm: float
    cut_scatter_mm: float
    sentence: str


@dataclass(frozen=True)
class PlannedPass:
    """One pass of a plan.  what: roughing, finishing or spring.  Lengths on diameter.  [mm]"""

    what: str
    step_mm: float
    steps: int
    stock_after_mm: float
    measure_after: bool


@dataclass(frozen=True)
class Prior:
    """What is believed of a lathe, tool and material before this feature's first cut.

    Cut scatter and thinnest cut are stated for a dial of 0.025 mm; a finer one scales them down.

    left_behind_odds   median of phi / (1 - phi), the ratio of cutting stiffness to machine
                       stiffness, phi being the share of an engaged depth left standing
    odds_spread        standard deviation of its natural logarithm
    offset_mm          standard deviation of the tool's place against the dial at the first reading
    least_cut_mm       median of the thinnest cut that comes off
    least_cut_spread   standard deviation of its natural logarithm
    cut_scatter_mm     median of the standard deviation of one cut
    scatter_spread     standard deviation of its natural logarithm
    pieces             finished pieces it has learned from (forgetting counted)
    """

    left_behind_odds: float
    odds_spread: float
    offset_mm: float
    least_cut_mm: float
    least_cut_spread: float
    cut_scatter_mm: float
    scatter_spread: float
    pieces: float = field(default=0.0)
