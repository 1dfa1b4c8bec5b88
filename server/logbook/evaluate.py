"""What a feature's whole log means now: size, verdict, warmth, stock left and the next cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from server.advice import nextcut
from server.advice.model import Change, Cut, Job, NextCut, Prior, Reset
from server.advice.model import Entry as Lesson
from server.advice.model import Reading as LessonReading
from server.logbook.setup import Setup
from server.logbook.sizes import Logged, Sized, budget_of, sized
from server.metrology import cooling, decision, dials, infeed, thermal
from server.metrology.decision import Verdict
from server.metrology.dials import Slide
from server.metrology.doubt import Budget
from server.metrology.model import Kind, OutOfRange
from server.metrology.thermal import WarmState

FINE_FEED_SHARE = 0.1  # a compound set 5.74 degrees from the axis feeds a tenth, on radius
LARGEST_GROWTH = 100.0  # wires on an all but uncut crest say next to nothing
UNKNOWN_WAIT_MIN = 60.0  # said as "cool it" where waiting alone has no known end
WORST_FIRST = (Verdict.PAST_LIMIT, Verdict.TOO_CLOSE, Verdict.STOCK_LEFT, Verdict.IN_LIMITS)


@dataclass(frozen=True)
class Stage:
    """The cuts and events since the readings before, then the readings of this state."""

    moves: tuple[Cut | Reset, ...]
    readings: tuple[Sized, ...]
    size: StageSize | None = None


@dataclass(frozen=True)
class StageSize:
    """What the readings of one state say together.  Lengths [mm]."""

    size_mm: float
    low_mm: float
    high_mm: float
    shift_low_mm: float
    shift_high_mm: float
    budget: Budget
    doubt_mm: float
    verdict: Verdict
    warm_state: WarmState
    wait_minutes: float | None
    is_rough: bool
    contact: str
    entry_ids: tuple[int, ...]  # averaged in it

    @property
    def teaches(self) -> bool:
        return not self.is_rough and self.warm_state is not WarmState.WAIT


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
    prior: Prior | None = field(default=None)

    @property
    def verdict(self) -> Verdict | None:
        return self.current.verdict if self.current else None

    def size_at(self, stock_mm: float) -> float:
        """The own size that a stock on diameter stands for."""
        return self.setup.aim_mm + (-stock_mm if self.setup.kind.is_internal else stock_mm)


def on_diameter_mm(setup: Setup, row_slide: str, dial_mm: float) -> float:
    """What a dialled amount, in the dial's own count, means on the size; 0 where it feeds nothing.

    A second slide moved in the same interval may be one that can't feed this size alone.
    """
    slide = Slide(row_slide) if row_slide else setup.slide
    try:
        return dial_mm * dials.size_per_dial(slide, setup.slides, setup.kind)
    except dials.SlideCannotFeed:
        return 0.0


def stages_of(setup: Setup, log: Sequence[Logged]) -> list[Stage]:
    """The log as states of the work: struck readings leave, their cuts stay."""
    found: list[Stage] = []
    moves: list[Cut | Reset] = []
    readings: list[Sized] = []

    def close() -> None:
        if moves or readings:
            found.append(Stage(tuple(moves), tuple(readings)))
            moves.clear()
            readings.clear()

    for logged in log:
        row = logged.row
        if row.type == "event":
            if readings:
                close()
            moves.append(Reset(Change(row.event)))
        elif row.dial_step_mm is not None and not (row.type == "pass" and logged.is_struck):
            if readings:
                close()
            moves.append(Cut(on_diameter_mm(setup, row.slide, row.dial_step_mm)))
        if row.type == "reading" and not logged.is_struck:
            readings.append(sized(setup, logged))
    close()
    return found


def stage_size(setup: Setup, readings: Sequence[Sized]) -> StageSize:
    """The mean of readings that agree in warmth, by station; the verdict is the worst one's."""
    stations: dict[str, list[Sized]] = {}
    for reading in readings:
        stations.setdefault(reading.station, []).append(reading)
    by_station = [station_size(setup, group) for group in stations.values()]
    governing = min(
        by_station,
        key=lambda found: infeed.stock_on_size_mm(found.size_mm, setup.aim_mm, setup.kind),
    )
    verdict = min((found.verdict for found in by_station), key=WORST_FIRST.index)
    waiting = next((found for found in by_station if found.warm_state is WarmState.WAIT), governing)
    return replace(
        governing,
        verdict=verdict,
        warm_state=waiting.warm_state,
        wait_minutes=waiting.wait_minutes,
        entry_ids=tuple(number for found in by_station for number in found.entry_ids),
    )


def station_size(setup: Setup, readings: Sequence[Sized]) -> StageSize:
    """Readings in Wait are left out as soon as one at the same state has settled."""
    singles = [mean_size(setup, (reading,)) for reading in readings]
    settled = [
        reading
        for reading, single in zip(readings, singles, strict=True)
        if single.warm_state is not WarmState.WAIT
    ]
    if not settled:
        return with_wait(setup, singles[-1], readings)
    return with_wait(setup, mean_size(setup, settled), readings)


def mean_size(setup: Setup, readings: Sequence[Sized]) -> StageSize:
    count = len(readings)
    last = readings[-1]

    def mean(name: str) -> float:
        total: float = sum(getattr(reading, name) for reading in readings)
        return total / count

    budget = budget_of(setup, readings)
    low_mm, high_mm = mean("low_mm"), mean("high_mm")
    growth = min(max(1.0, mean("size_per_reading")), LARGEST_GROWTH)
    doubt_mm, u_mm = budget.doubt_mm * growth, budget.u_mm * growth
    ends = decision.range_verdict(
        low_mm,
        high_mm,
        doubt_mm,
        u_mm,
        setup.limits,
        setup.kind.is_internal,
        setup.decision_rule,
    )
    at_size = decision.verdict(
        mean("size_mm"),
        doubt_mm,
        u_mm,
        setup.limits,
        setup.kind.is_internal,
        setup.decision_rule,
    )
    shift_low_mm, shift_high_mm = mean("shift_low_mm"), mean("shift_high_mm")
    per_dial = dials.size_per_dial(setup.slide, setup.slides, setup.kind)
    state = thermal.state(
        ends,
        (high_mm - low_mm) / per_dial,
        setup.slides.dial(setup.slide).graduation_mm,
        max(abs(shift_low_mm), abs(shift_high_mm)),
        setup.limits.tolerance_mm,
    )
    return StageSize(
        size_mm=mean("size_mm"),
        low_mm=low_mm,
        high_mm=high_mm,
        shift_low_mm=shift_low_mm,
        shift_high_mm=shift_high_mm,
        budget=budget,
        doubt_mm=doubt_mm,
        verdict=Verdict.TOO_CLOSE if ends.can_flip else at_size,
        warm_state=state,
        wait_minutes=None,
        is_rough=any(reading.is_rough for reading in readings),
        contact=last.contact,
        entry_ids=tuple(reading.entry_id for reading in readings),
    )


def with_wait(setup: Setup, found: StageSize, readings: Sequence[Sized]) -> StageSize:
    """How long until the range stops mattering, by this part's own cooling where it is known."""
    if found.warm_state is not WarmState.WAIT:
        return found
    per_dial = dials.size_per_dial(setup.slide, setup.slides, setup.kind)
    graduation_mm = setup.slides.dial(setup.slide).graduation_mm

    def still_matters(low_mm: float, high_mm: float) -> bool:
        ends = decision.range_verdict(
            low_mm,
            high_mm,
            found.budget.doubt_mm,
            found.budget.u_mm,
            setup.limits,
            setup.kind.is_internal,
            setup.decision_rule,
        )
        return ends.can_flip or (high_mm - low_mm) / per_dial > graduation_mm + 1e-9

    tau_min = cooling_tau_min(setup, readings)
    least_mm = 2.0 * setup.material.expansion_per_c * found.size_mm
    minutes = cooling.wait_minutes(
        found.low_mm, found.high_mm, tau_min, still_matters, least_half_width_mm=least_mm
    )
    return replace(found, wait_minutes=minutes)


def cooling_tau_min(setup: Setup, readings: Sequence[Sized]) -> float:
    """Fitted to this part's own readings once they determine it, else Newton for its diameter."""
    numbers = [reading for reading in readings if reading.temperature.is_number]
    if len(numbers) >= 2:
        fit = cooling.fit_temperatures(
            [reading.minutes for reading in numbers],
            [reading.temperature.middle_c for reading in numbers],
            readings[-1].instrument_temperature_c,
        )
        if fit is not None:
            return fit.tau_min
    if len(readings) >= 3:
        fit = cooling.fit_sizes(
            [reading.minutes for reading in readings],
            [reading.reading_mm for reading in readings],
            resolution_mm=readings[-1].instrument.resolution_mm,
        )
        if fit is not None:
            return fit.tau_min
    return cooling.time_constant_min(setup.material, max(setup.target.nominal_mm, 0.1))


def current_size(stages: Sequence[Stage]) -> StageSize | None:
    """The size the work has now; None where a cut has no reading after it."""
    for stage in reversed(stages):
        if stage.size is not None:
            return stage.size
        if any(isinstance(move, Cut) for move in stage.moves):
            return None
    return None


def job_of(setup: Setup, budget: Budget, spent: float) -> Job:
    def stock(size_mm: float) -> float:
        return infeed.stock_on_size_mm(size_mm, setup.aim_mm, setup.kind)

    low_mm, high_mm = setup.limits.both()
    ends = sorted((stock(low_mm), stock(high_mm)))
    dial = setup.slides.dial(setup.slide)
    return Job(
        kind=setup.cut_kind,
        stock_at_metal_limit_mm=ends[1],
        stock_at_past_limit_mm=ends[0],
        graduation_mm=dial.graduation_mm
        * dials.size_per_dial(setup.slide, setup.slides, setup.kind),
        guard_mm=decision.guard_band_mm(setup.decision_rule, budget.doubt_mm, budget.u_mm),
        common_uncertainty_mm=budget.u_common_mm,
        reading_scatter_mm=budget.with_repeats(1).u_per_reading_mm,
        total_depth_mm=total_depth_mm(setup),
        finer_graduation_mm=finer_graduation_mm(setup),
        past_chance_bound=setup.past_chance_bound,
        past_chance_spent=spent,
    )


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


def finer_graduation_mm(setup: Setup) -> float | None:
    """The compound as a fine feed: plain turning and boring by the cross-slide only."""
    compound = setup.slides.compound
    plain = setup.kind in (Kind.OUTSIDE_DIAMETER, Kind.BORE)
    if not plain or setup.slide is not Slide.CROSS_SLIDE or compound is None:
        return None
    return 2 * compound.graduation_mm * compound.travel_per_unit * FINE_FEED_SHARE


def lessons_of(setup: Setup, stages: Sequence[Stage]) -> list[Lesson]:
    lessons: list[Lesson] = []
    for stage in stages:
        lessons.extend(stage.moves)
        if stage.size is None:
            continue
        found = stage.size
        range_u_mm = (found.high_mm - found.low_mm) / 12**0.5
        scatter_mm = (found.budget.u_per_reading_mm**2 + range_u_mm**2) ** 0.5
        lessons.append(
            LessonReading(
                infeed.stock_on_size_mm(found.size_mm, setup.aim_mm, setup.kind),
                scatter_mm,
                found.teaches,
            )
        )
    return lessons


def evaluate(
    setup: Setup,
    log: Sequence[Logged],
    *,
    prior: Prior | None = None,
    spent: float = 0.0,
    wants_advice: bool = True,
) -> Evaluation:
    """Replays the log.  log: entries of this feature and events of its piece, oldest first."""
    stages = [
        replace(stage, size=stage_size(setup, stage.readings) if stage.readings else None)
        for stage in stages_of(setup, log)
    ]
    known = next((stage.size for stage in reversed(stages) if stage.size), None)
    current = current_size(stages)
    if known is None:
        return Evaluation(setup, tuple(stages), None, None, None, prior=prior)
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
    job = job_of(setup, known.budget, spent)
    found = Evaluation(
        setup, tuple(stages), current, known, stock, tuple(lessons), job, prior=prior
    )
    if not wants_advice:
        return found
    wait = None
    if known.warm_state is WarmState.WAIT:
        wait = UNKNOWN_WAIT_MIN if known.wait_minutes is None else known.wait_minutes
    advice = nextcut.next_cut(
        lessons, job, known.verdict.value, setup.in_words, prior=prior, wait_minutes=wait
    )
    return replace(found, advice=advice)
