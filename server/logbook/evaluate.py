"""What a feature's whole log means now: size, verdict, warmth, stock left and the next cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.advice import nextcut
from server.advice.model import Action, Comparison, Cut, Job, NextCut, Prior
from server.advice.model import Entry as Lesson
from server.advice.model import Reading as LessonReading
from server.logbook.setup import Setup
from server.logbook.sizes import Logged
from server.logbook.stages import Stage, StageSize, evidence_of, sized_stages
from server.metrology import decision, dials, infeed
from server.metrology.decision import Verdict
from server.metrology.dials import Slide
from server.metrology.doubt import Budget
from server.metrology.model import Kind, OutOfRange
from server.metrology.stations import GaugeEvidence
from server.metrology.thermal import WarmState
from server.wording import say

ENDLESS_WAIT = say(
    "waiting alone does not settle it: measure the part's temperature and type it in degrees"
)
SHOP_DECIDES = say(
    "the part's temperature is known to 2 °C either way, which decides here and no waiting "
    "narrows: measure it and type it in degrees"
)
GAUGED = "gauges"  # the method that gives no size
ENOUGH_REPEATS = 4  # averaged: a fifth would take a tenth off their scatter
FINE_FEED_SHARE = 0.1  # a compound set 5.74 degrees from the axis feeds a tenth, on radius
FINE_FEED_LINES = 10  # of the coarse dial: with more to go it comes off by that dial first
UNKNOWN_WAIT_MIN = 60.0  # said as "cool it" where waiting alone has no known end


@dataclass(frozen=True)
class Evaluation:
    """current is None where the last cut has no reading after it, or nothing was read yet."""

    setup: Setup
    stages: tuple[Stage, ...]
    current: StageSize | None
    known: StageSize | None  # the last size there was, whatever was cut since
    stock: infeed.StockLeft | None
    lessons: tuple[Lesson, ...] = ()
    job: Job | None = None
    advice: NextCut | None = None
    prior: Prior | None = None
    compared: Comparison | None = None
    evidence: GaugeEvidence | None = None

    @property
    def verdict(self) -> Verdict | None:
        """Of the size; where a feature is only gauged, of what the gauges proved."""
        if self.current is not None:
            return self.current.verdict
        if self.setup.method == GAUGED and self.evidence is not None:
            return self.evidence.verdict
        return None

    def size_at(self, stock_mm: float) -> float:
        """The own size that a stock on diameter stands for."""
        return self.setup.aim_mm + (-stock_mm if self.setup.kind.is_internal else stock_mm)


def current_size(stages: Sequence[Stage]) -> StageSize | None:
    """The size the work has now; None where a cut has no reading after it."""
    for stage in reversed(stages):
        if stage.size is not None:
            return stage.size
        if any(isinstance(move, Cut) for move in stage.moves):
            return None
    return None


def job_of(setup: Setup, known: StageSize, spent: float) -> Job:
    budget, single = known.budget, known.budget.with_repeats(1)

    def stock(size_mm: float) -> float:
        return infeed.stock_on_size_mm(size_mm, setup.aim_mm, setup.kind)

    low_mm, high_mm = setup.limits.both()
    ends = sorted((stock(low_mm), stock(high_mm)))
    dial = setup.slides.dial(setup.slide)
    graduation_mm = dial.graduation_mm * dials.size_per_dial(setup.slide, setup.slides, setup.kind)
    is_near = stock(known.size_mm) <= FINE_FEED_LINES * graduation_mm
    return Job(
        kind=setup.cut_kind,
        stock_at_metal_limit_mm=ends[1],
        stock_at_past_limit_mm=ends[0],
        graduation_mm=graduation_mm,
        guard_mm=min(guard_of(setup, budget), guard_of(setup, single)),
        common_uncertainty_mm=budget.u_common_mm,
        reading_scatter_mm=single.u_per_reading_mm,
        total_depth_mm=total_depth_mm(setup),
        finer_graduation_mm=finer_graduation_mm(setup, graduation_mm) if is_near else None,
        past_chance_bound=setup.past_chance_bound,
        past_chance_spent=spent,
    )


def guard_of(setup: Setup, budget: Budget) -> float:
    return decision.guard_band_mm(setup.decision_rule, budget.doubt_mm, budget.u_guard_mm)


def total_depth_mm(setup: Setup) -> float | None:
    """Twice the infeed from the crest to the aim, for a thread cut with a known tip."""
    target = setup.thread
    if target is None or setup.tip is None or setup.crest_diameter_mm is None:
        return None
    try:
        return 2 * infeed.total_infeed_mm(
            setup.crest_diameter_mm,
            setup.aim_mm,
            target.pitch_mm,
            target.half_angle_rad,
            setup.tip,
            internal=target.kind is Kind.INTERNAL_THREAD,
        )
    except OutOfRange:
        return None


def finer_graduation_mm(setup: Setup, graduation_mm: float) -> float | None:
    """The compound as a fine feed, if it is finer: plain turning and boring by the cross-slide."""
    compound = setup.slides.compound
    plain = setup.kind in (Kind.OUTSIDE_DIAMETER, Kind.BORE)
    if not plain or setup.slide is not Slide.CROSS_SLIDE or compound is None:
        return None
    finer_mm = 2 * compound.graduation_mm * compound.travel_per_unit * FINE_FEED_SHARE
    return finer_mm if finer_mm < graduation_mm else None


def lessons_of(setup: Setup, stages: Sequence[Stage]) -> list[Lesson]:
    lessons: list[Lesson] = []
    for stage in stages:
        lessons.extend(stage.moves)
        if stage.size is None:
            continue
        lessons.extend(readings_learned(setup, stage, stage.size))
    return lessons


def readings_learned(setup: Setup, stage: Stage, found: StageSize) -> list[LessonReading]:
    """Each reading of the governing station by itself: a second one confirms a first."""
    range_u_mm = (found.high_mm - found.low_mm) / 12**0.5
    single_mm = found.budget.with_repeats(1).u_per_reading_mm
    governing = found.judged.metal_gone.name if found.judged else stage.readings[-1].station
    return [
        LessonReading(
            infeed.stock_on_size_mm(reading.size_mm, setup.aim_mm, setup.kind),
            (single_mm**2 + range_u_mm**2) ** 0.5,
            found.teaches and reading.entry_id in found.entry_ids,
        )
        for reading in stage.readings
        if reading.station == governing
    ]


def is_measured_out(known: StageSize, advice: NextCut) -> bool:
    """True where another reading would only say the same."""
    return advice.action is Action.MEASURE_AGAIN and len(known.entry_ids) >= ENOUGH_REPEATS


def wait_why(known: StageSize) -> str | None:
    """Why to wait, where that is not for a part felt to be warm that will settle; else None."""
    last, minutes = known.last, known.wait_minutes
    if last.says_warm:
        return ENDLESS_WAIT if minutes is None else None
    if minutes is None:
        return SHOP_DECIDES
    if not last.temperature.is_noted:
        return say(
            "the part may be warm, as no temperature was noted: type its temperature in degrees, "
            "or wait about {minutes} min and measure again",
            minutes=f"{minutes:.0f}",
        )
    return say(
        "the part may still be warm, though it feels as the shop: type its temperature in "
        "degrees, or wait about {minutes} min and measure again",
        minutes=f"{minutes:.0f}",
    )


def settled_advice(known: StageSize, advice: NextCut) -> NextCut | None:
    """With metal on only a finer feed helps; else a close call is left to a person's reason."""
    if known.verdict is Verdict.STOCK_LEFT or advice.why_else:
        return replace(advice, action=Action.FINER_FEED, why=advice.why_else or advice.why)
    return None


def evaluate(
    setup: Setup,
    log: Sequence[Logged],
    *,
    prior: Prior | None = None,
    spent: float = 0.0,
    wants_advice: bool = True,
) -> Evaluation:
    """Replays the log.  log: entries of this feature and events of its piece, oldest first."""
    stages = sized_stages(setup, log)
    known = next((stage.size for stage in reversed(stages) if stage.size), None)
    current = current_size(stages)
    evidence = evidence_of(setup, log)
    if known is None:
        return Evaluation(setup, tuple(stages), None, None, None, prior=prior, evidence=evidence)
    target = setup.thread
    stock = infeed.stock_left(
        known.size_mm,
        setup.aim_mm,
        setup.kind,
        setup.slides,
        setup.slide,
        target.half_angle_rad if target else None,
    )
    lessons = lessons_of(setup, stages)
    job = job_of(setup, known, spent)
    found = Evaluation(
        setup,
        tuple(stages),
        current,
        known,
        stock,
        tuple(lessons),
        job,
        prior=prior,
        evidence=evidence,
    )
    if not wants_advice:
        return found
    wait = None
    if known.warm_state is WarmState.WAIT:
        wait = UNKNOWN_WAIT_MIN if known.wait_minutes is None else known.wait_minutes
    advice: NextCut | None
    if current is None:
        advice = nextcut.measure_first(lessons, job, setup.in_words, prior=prior)
    else:
        advice = nextcut.next_cut(
            lessons, job, known.verdict.value, setup.in_words, prior=prior, wait_minutes=wait
        )
        if advice is not None and is_measured_out(known, advice):
            advice = settled_advice(known, advice)
        if wait is not None and advice is not None:
            advice = replace(advice, why=wait_why(known) or advice.why)
    compared = nextcut.comparison(lessons, job, setup.in_words, prior=prior)
    return replace(found, advice=advice, compared=compared)
