"""The working of one feature as it stands: every number with its formula, its inputs and source."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from server.advice import learned as lessons
from server.advice import plan as pass_plan
from server.advice import schedule
from server.advice.model import Learned, PlannedPass
from server.logbook.answers import shown_advice
from server.logbook.evaluate import Evaluation
from server.logbook.replay import PieceLog
from server.logbook.setup import Setup
from server.logbook.sizes import Logged, Sized
from server.logbook.stages import StageSize
from server.logbook.targets import as_number
from server.logbook.working_doubt import (
    BudgetLine,
    budget_lines,
    decision_steps,
    doubt_steps,
    verdict_words,
)
from server.logbook.working_size import end_steps, reading_steps
from server.logbook.working_steps import Given, Scale, Step
from server.logbook.working_stock import geometry_plan, infeed_steps, stock_steps
from server.wording import joined, say

FITTED_WORDS = say(
    "Removed is what the readings say came off; fitted is what (1 − φ) of the metal that stood "
    "before the tool would be, φ being the share that a cut leaves behind."
)


@dataclass(frozen=True)
class Section:
    """Steps that belong together, under one heading."""

    code: str
    title: str
    words: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True)
class Working:
    """found.known is the size explained; None before the first reading, and then most is empty.

    plan      the passes to come as the advice sees them
    geometry  before the first reading, the plan from touch-off
    plan_words  why there is no plan, or what it rests on
    """

    piece_id: int
    found: Evaluation
    scale: Scale
    readings: tuple[Section, ...]
    budget: tuple[BudgetLine, ...]
    doubt: Section
    decision: Section
    stock: Section
    learned: Learned | None
    infeed: Section
    plan: tuple[PlannedPass, ...]
    geometry: schedule.Plan | None
    plan_words: str

    @property
    def sections(self) -> tuple[Section, ...]:
        every = (*self.readings, self.doubt, self.decision, self.stock, self.infeed)
        return tuple(section for section in every if section.steps or section.words)

    @property
    def state(self) -> str:
        """none, measured, or cut_since where the last cut has no reading after it."""
        if self.found.known is None:
            return "none"
        return "measured" if self.found.current is not None else "cut_since"


def working_of(session: Session, piece_id: int, feature_id: int) -> Working:
    """Refused (404, 422) where piece and feature do not belong together."""
    log = PieceLog.read(session, piece_id)
    found = log.evaluation(log.feature(feature_id))
    return explain(piece_id, found, log.logged(found.setup, log.rows_of(feature_id)))


def explain(piece_id: int, found: Evaluation, log: Sequence[Logged]) -> Working:
    setup, known = found.setup, found.known
    scale = Scale(setup.unit, setup.decimals)
    infeed = Section("infeed", say("From touch-off to size"), (), infeed_steps(setup, scale))
    empty = Section("", "")
    if known is None:
        geometry, why = geometry_plan(setup)
        return Working(
            piece_id,
            found,
            scale,
            (),
            (),
            empty,
            empty,
            empty,
            None,
            infeed,
            (),
            geometry,
            why or say("From touch-off, before any reading: passes of equal chip area."),
        )
    plan, plan_words = coming_passes(found)
    return Working(
        piece_id=piece_id,
        found=found,
        scale=scale,
        readings=tuple(size_sections(found, known, log, scale)),
        budget=budget_lines(known, scale),
        doubt=Section("doubt", say("From the lines to the doubt"), (), doubt_steps(known, scale)),
        decision=Section(
            "decision",
            say("The decision"),
            verdict_words(found, known, setup.in_words(known.size_mm)),
            decision_steps(found, known, scale),
        ),
        stock=Section(
            "stock",
            say("Stock left"),
            found.stock.warnings if found.stock else (),
            stock_steps(found, known, scale),
        ),
        learned=learned_of(found),
        infeed=infeed,
        plan=plan,
        geometry=None,
        plan_words=plan_words,
    )


def learned_of(found: Evaluation) -> Learned | None:
    if found.job is None:
        return None
    return lessons.learned(found.lessons, found.job, found.setup.in_words, prior=found.prior)


def coming_passes(found: Evaluation) -> tuple[tuple[PlannedPass, ...], str]:
    """(passes to come, what they rest on or why there are none)."""
    advice = shown_advice(found)
    if advice is None or found.job is None:
        return (), say("Nothing more to cut.")
    if not advice.is_pass:
        return (), say("No cut is planned before the next reading.")
    plan = pass_plan.plan(found.lessons, found.job, prior=found.prior)
    return plan, say("If every cut lands where it is expected to; planned anew after each reading.")


def size_sections(
    found: Evaluation, known: StageSize, log: Sequence[Logged], scale: Scale
) -> list[Section]:
    """One section a reading of the state explained, its ends, then what they say together."""
    setup = found.setup
    by_entry = {logged.row.id or 0: logged for logged in log}
    stage = next(stage for stage in reversed(found.stages) if stage.size is not None)
    numbers = reading_numbers(log)
    sections: list[Section] = []
    for reading in stage.readings:
        logged = by_entry[reading.entry_id]
        title = say(
            "Reading {number}: {value}",
            number=numbers[reading.entry_id],
            value=f"{logged.row.value} {logged.row.unit}",
        )
        counted = reading.entry_id in known.entry_ids
        words = () if counted else (left_out_words(reading, stage.readings, known),)
        station = (say("Station {name}.", name=reading.station),) if reading.station else ()
        steps = reading_steps(setup, logged, reading, scale)
        sections.append(Section("reading", title, station + words, steps))
        if reading.high_mm - reading.low_mm > 1e-9:
            sections += [
                Section("end", joined((title, heading), ". "), (), ends)
                for heading, ends in end_steps(setup, logged, reading, scale)
            ]
    return sections + mean_sections(setup, known, stage.readings, scale)


def left_out_words(reading: Sized, readings: Sequence[Sized], known: StageSize) -> str:
    """Why a reading is not among those that say the size of its state."""
    used = [each for each in readings if each.entry_id in known.entry_ids]
    if reading.instrument not in {each.instrument for each in used}:
        return say("Left out: another instrument says this size with less doubt.")
    if reading.says_warm and reading.note_kind in {each.note_kind for each in used}:
        return say("Left out: the part has cooled since.")
    return say("Left out: its warmth is known less well than that of the readings counted.")


def reading_numbers(log: Sequence[Logged]) -> dict[int, int]:
    """Readings counted as the history counts them, struck ones included."""
    readings = [logged.row.id or 0 for logged in log if logged.row.type == "reading"]
    return {entry: number for number, entry in enumerate(readings, start=1)}


def mean_sections(
    setup: Setup, known: StageSize, readings: Sequence[Sized], scale: Scale
) -> list[Section]:
    """The mean of the readings counted, and which station decides."""
    counted = [reading for reading in readings if reading.entry_id in known.entry_ids]
    if known.judged is not None:
        counted = [each for each in counted if each.station == known.judged.metal_gone.name]
    words: list[str] = [
        joined((place.name or say("No station"), f"{setup.in_words(place.size_mm)}."), ": ")
        for place in known.stations
    ]
    if known.judged is not None:
        words.append(governing_words(known.judged.metal_gone.name))
    steps = []
    if len(counted) > 1:
        size = scale.result("E", say("size"), known.size_mm)
        steps.append(mean_step(say("Size"), size, "size_mm", counted, scale))
    if known.high_mm - known.low_mm > 1e-9:
        low = scale.result("y1", say("smallest it may be"), known.low_mm)
        high = scale.result("y2", say("largest it may be"), known.high_mm)
        steps.append(mean_step(say("Smallest it may be"), low, "low_mm", counted, scale))
        steps.append(mean_step(say("Largest it may be"), high, "high_mm", counted, scale))
    if not steps and not words:
        return []
    title = say("The mean") if len(counted) > 1 else say("What the reading says")
    return [Section("mean", title, tuple(words), tuple(steps))]


def governing_words(station: str) -> str:
    if not station:
        return say("Most metal is gone at the one without a name: that size is shown.")
    return say("Most metal is gone at {station}: that size is shown.", station=station)


def mean_step(name: str, mean: Given, of: str, counted: Sequence[Sized], scale: Scale) -> Step:
    """The mean over the readings counted; a lone reading stands as it is."""
    parts = tuple(
        scale.length(
            f"x{index}",
            say("from reading {number} of this state", number=index),
            getattr(reading, of),
        )
        for index, reading in enumerate(counted, start=1)
    )
    terms = " + ".join(part.symbol for part in parts)
    formula = f"({terms}) / {len(parts)}" if len(parts) > 1 else terms
    return Step(name, mean, formula, parts)


def given_json(given: Given) -> dict[str, Any]:
    return {
        "symbol": given.symbol,
        "words": given.words,
        "value": given.value if math.isfinite(given.value) else None,
        "text": given.text,
        "unit": given.unit,
    }


def step_json(step: Step) -> dict[str, Any]:
    return {
        "name": step.name,
        "result": given_json(step.result),
        "formula": step.formula,
        "filled": step.filled,
        "inputs": [given_json(given) for given in step.inputs],
        "source": step.source,
        "note": step.note,
    }


def learned_json(learned: Learned | None, unit: str) -> dict[str, Any] | None:
    if learned is None:
        return None
    return {
        "passes": [
            {
                "dialled": as_number(each.dialled_mm, unit),
                "removed": as_number(each.removed_mm, unit),
                "fitted": as_number(each.fitted_mm, unit),
                "cuts": each.cuts,
            }
            for each in learned.passes
        ],
        "left_behind": learned.left_behind,
        "left_behind_uncertainty": learned.left_behind_uncertainty,
        "offset": as_number(learned.offset_mm, unit),
        "offset_uncertainty": as_number(learned.offset_uncertainty_mm, unit),
        "standing": as_number(learned.standing_mm, unit),
        "least_cut": as_number(learned.least_cut_mm, unit),
        "cut_scatter": as_number(learned.cut_scatter_mm, unit),
        "sentence": learned.sentence,
    }


def geometry_json(plan: schedule.Plan | None, unit: str) -> dict[str, Any] | None:
    if plan is None:
        return None
    return {
        "passes": [
            {
                "number": each.number,
                "purpose": each.purpose.value,
                "slide": each.slide.value,
                "dial_step": f"{each.dial_step:f}",
                "dial_total": f"{each.dial_total:f}",
                "dial_unit": each.unit,
                "depth": as_number(each.depth_mm, unit),
            }
            for each in plan.passes
        ],
        "left_standing": as_number(plan.left_standing_mm, unit),
    }


def working_json(working: Working) -> dict[str, Any]:
    setup, known = working.found.setup, working.found.known
    unit = setup.unit
    return {
        "piece_id": working.piece_id,
        "feature_id": setup.feature_id,
        "label": setup.label,
        "unit": unit,
        "state": working.state,
        "size": None
        if known is None
        else {
            "value": as_number(known.size_mm, unit),
            "doubt": as_number(known.doubt_mm, unit),
            "verdict": known.verdict.value,
            "contact": known.contact,
        },
        "sections": [
            {
                "code": section.code,
                "title": section.title,
                "words": list(section.words),
                "steps": [step_json(step) for step in section.steps],
            }
            for section in working.sections
        ],
        "budget": [
            step_json(line.step)
            | {"shape": line.shape, "dof": line.dof, "share_percent": line.share_percent}
            for line in working.budget
        ],
        "learned": learned_json(working.learned, unit),
        "plan": [
            {
                "what": each.what,
                "step": as_number(each.step_mm, unit),
                "graduations": each.steps,
                "stock_after": as_number(each.stock_after_mm, unit),
                "measure_after": each.measure_after,
            }
            for each in working.plan
        ],
        "from_touch_off": geometry_json(working.geometry, unit),
        "plan_words": working.plan_words,
    }
