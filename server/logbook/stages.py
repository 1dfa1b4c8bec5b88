"""The log as states of the work: cuts, then the readings of one state and what they say."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from server.advice.model import Change, Cut, Reset
from server.logbook.averaging import alike, best_known, not_cooled_since, noted_alike
from server.logbook.places import place_of
from server.logbook.setup import Setup
from server.logbook.sizes import (
    NOTHING_REPEATED,
    Logged,
    Sized,
    budget_of,
    growth_of,
    shown_by,
    sized,
)
from server.metrology import cooling, decision, dials, stations, thermal
from server.metrology.decision import Verdict
from server.metrology.dials import Slide
from server.metrology.doubt import Budget
from server.metrology.instruments import Instrument
from server.metrology.scatter import NO_REPEATS, Repeats
from server.metrology.stations import GaugeEvidence, Station, StationsVerdict
from server.metrology.thermal import WarmState
from server.records.tables import EntryRow

Key = TypeVar("Key", bound=Hashable)


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
    u_guard_mm: float
    verdict: Verdict
    warm_state: WarmState
    wait_minutes: float | None
    is_rough: bool
    contact: str
    temperature_is_number: bool
    entry_ids: tuple[int, ...]  # averaged in it
    last: Sized  # of these
    stations: tuple[Station, ...] = ()  # where readings were taken at several
    judged: StationsVerdict | None = None

    @property
    def teaches(self) -> bool:
        return not self.is_rough and self.warm_state is not WarmState.WAIT


def on_diameter_mm(setup: Setup, row_slide: str, dial_mm: float) -> float:
    """What a dialled amount, in the dial's own count, means on the size; 0 where it feeds nothing.

    A second slide moved in the same interval may be one that can't feed this size alone.
    """
    slide = Slide(row_slide) if row_slide else setup.slide
    try:
        return dial_mm * dials.size_per_dial(slide, setup.slides, setup.kind)
    except dials.SlideCannotFeed:
        return 0.0


def size_step_mm(setup: Setup, row: EntryRow) -> float:
    """What a logged dial step meant on the size, as the slides stood when it was logged."""
    if row.size_step_mm is not None:
        return row.size_step_mm
    return on_diameter_mm(setup, row.slide, row.dial_step_mm or 0.0)


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
            if logged.is_struck:
                continue
            if readings:
                close()
            moves.append(Reset(Change(row.event)))
        elif row.dial_step_mm is not None and not (row.type == "pass" and logged.is_struck):
            if readings:
                close()
            moves.append(Cut(size_step_mm(setup, row)))
        if row.type == "reading" and not logged.is_struck:
            readings.append(sized(setup, logged))
    close()
    return found


def repeats_by_instrument(stages: Sequence[Stage]) -> dict[int, Repeats]:
    """How readings that were averaged scattered, by instrument, all states pooled."""
    found: dict[int, Repeats] = {}
    for stage in stages:
        if stage.size is None or stage.size.is_rough:
            continue
        averaged = [each for each in stage.readings if each.entry_id in stage.size.entry_ids]
        for number, sizes_mm in by_place(averaged, lambda each: each.instrument_id):
            found[number] = found.get(number, NO_REPEATS).with_group(sizes_mm)
    return {number: repeats for number, repeats in found.items() if repeats.dof}


def by_place(
    averaged: Sequence[Sized], whose: Callable[[Sized], Key]
) -> Iterator[tuple[Key, list[float]]]:
    """Readings that should be equal: of one instrument at one station, each as read at 20 C."""
    groups: dict[tuple[Key, str], list[float]] = {}
    for reading in averaged:
        groups.setdefault((whose(reading), reading.station), []).append(reading.at_20_mm)
    for (key, _), sizes_mm in groups.items():
        yield key, sizes_mm


def sized_stages(setup: Setup, log: Sequence[Logged]) -> list[Stage]:
    """The states with what their readings say; how repeats scattered is carried forward."""
    found: list[Stage] = []
    repeats: dict[Instrument, Repeats] = {}
    for stage in stages_of(setup, log):
        if not stage.readings:
            found.append(stage)
            continue
        size = stage_size(setup, stage.readings, repeats)
        found.append(replace(stage, size=size))
        if not size.is_rough:
            note_repeats(
                repeats, [each for each in stage.readings if each.entry_id in size.entry_ids]
            )
    return found


def note_repeats(repeats: dict[Instrument, Repeats], averaged: Sequence[Sized]) -> None:
    """What the readings averaged at one state show of how each instrument repeats."""
    for instrument, sizes_mm in by_place(averaged, lambda each: shown_by(each.instrument)):
        repeats[instrument] = repeats.get(instrument, NO_REPEATS).with_group(sizes_mm)


def stage_size(
    setup: Setup,
    readings: Sequence[Sized],
    repeats: Mapping[Instrument, Repeats] = NOTHING_REPEATED,
) -> StageSize:
    """The mean of readings that agree in warmth, by station; the verdict is the worst one's."""
    groups: dict[str, list[Sized]] = {}
    for reading in readings:
        groups.setdefault(reading.station, []).append(reading)
    by_station = {name: station_size(setup, group, repeats) for name, group in groups.items()}
    if len(by_station) == 1:
        return next(iter(by_station.values()))
    places = [station_of(setup, name, found) for name, found in by_station.items()]
    judged = stations.worst_verdict(
        places, setup.limits, setup.kind.is_internal, setup.decision_rule
    )
    found = list(by_station.values())
    waiting = next((each for each in found if each.warm_state is WarmState.WAIT), None)
    governing = by_station[judged.metal_gone.name]
    verdict = judged.verdict
    if any(each.verdict is Verdict.TOO_CLOSE for each in found) and verdict is Verdict.IN_LIMITS:
        verdict = Verdict.TOO_CLOSE
    return replace(
        governing,
        verdict=verdict,
        warm_state=waiting.warm_state if waiting else governing.warm_state,
        wait_minutes=waiting.wait_minutes if waiting else None,
        entry_ids=tuple(number for each in found for number in each.entry_ids),
        last=waiting.last if waiting else governing.last,
        stations=tuple(places),
        judged=judged,
    )


def station_of(setup: Setup, name: str, found: StageSize) -> Station:
    place = place_of(name, setup.unit)
    return Station(
        size_mm=found.size_mm,
        doubt_mm=found.doubt_mm,
        u_mm=found.u_guard_mm,
        position_mm=place.position_mm,
        angle_deg=place.angle_deg,
        name=name,
    )


def evidence_of(setup: Setup, log: Sequence[Logged]) -> GaugeEvidence | None:
    """What GO and NOT GO gauges proved since the last cut; None where none was tried."""
    tried: dict[str, bool] = {}
    for logged in log:
        row = logged.row
        if row.dial_step_mm is not None and not (row.type == "pass" and logged.is_struck):
            tried.clear()
        if row.type == "gauge" and not logged.is_struck:
            tried[row.event] = row.gauge_result == "enters"
    if not tried:
        return None
    return stations.gauge_evidence(
        tried.get("go"), tried.get("not_go"), setup.kind.is_internal, setup.kind.is_thread
    )


def station_size(
    setup: Setup, readings: Sequence[Sized], repeats: Mapping[Instrument, Repeats]
) -> StageSize:
    """Readings with one kind of note are averaged first, then their warmth is judged.

    The last kind stands alone where it is in Wait; where it is not, it leaves out those that are.
    What was read with several instruments, or over several wires, is not averaged: the one with
    the least doubt says the size.
    """
    kinds = [not_cooled_since(group) for group in noted_alike(readings)]
    means = [mean_size(setup, group, repeats) for group in kinds]
    if len(means) == 1 or means[-1].warm_state is WarmState.WAIT:
        return with_wait(setup, means[-1], readings)
    counted = {
        reading.entry_id
        for group, mean in zip(kinds, means, strict=True)
        if mean.warm_state is not WarmState.WAIT
        for reading in group
    }
    settled = [reading for reading in readings if reading.entry_id in counted]
    sizes = [mean_size(setup, group, repeats) for group in alike(best_known(settled))]
    best = min(reversed(sizes), key=lambda each: each.doubt_mm)
    return with_wait(setup, best, readings)


def mean_size(
    setup: Setup, readings: Sequence[Sized], repeats: Mapping[Instrument, Repeats]
) -> StageSize:
    count = len(readings)
    last = readings[-1]

    def mean(name: str) -> float:
        total: float = sum(getattr(reading, name) for reading in readings)
        return total / count

    budget = budget_of(setup, readings, repeats)
    low_mm, high_mm = mean("low_mm"), mean("high_mm")
    growth = growth_of(readings)
    doubt_mm, u_mm = budget.doubt_mm * growth, budget.u_guard_mm * growth
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
        u_guard_mm=u_mm,
        verdict=Verdict.TOO_CLOSE if ends.can_flip else at_size,
        warm_state=state,
        wait_minutes=None,
        is_rough=any(reading.is_rough for reading in readings),
        contact=last.contact,
        temperature_is_number=last.temperature.is_number,
        entry_ids=tuple(reading.entry_id for reading in readings),
        last=last,
    )


def with_wait(setup: Setup, found: StageSize, readings: Sequence[Sized]) -> StageSize:
    """How long until the range stops mattering, by this part's own cooling where it is known.

    A part that nobody felt warm is known better once it counts as cut long ago, and not till then.
    """
    if found.warm_state is not WarmState.WAIT:
        return found
    soon_min = found.last.soon_for_min
    if not found.last.says_warm:
        return replace(found, wait_minutes=math.floor(soon_min) + 1.0 if soon_min else None)
    per_dial = dials.size_per_dial(setup.slide, setup.slides, setup.kind)
    graduation_mm = setup.slides.dial(setup.slide).graduation_mm

    def still_matters(low_mm: float, high_mm: float) -> bool:
        ends = decision.range_verdict(
            low_mm,
            high_mm,
            found.doubt_mm,
            found.u_guard_mm,
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
    readings = alike(readings)[-1]
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
