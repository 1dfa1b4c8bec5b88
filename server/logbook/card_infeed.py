"""The cutting half of the target card: touch-off to size, where the wires seat, the passes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from server.advice import schedule
from server.advice.schedule import Plan, Purpose, ThreadCuts
from server.logbook import measuring
from server.logbook.card_typed import Asked
from server.logbook.problems import Problem, reason_of
from server.logbook.setup import assumed_crest_mm
from server.metrology import thread_set
from server.metrology.dials import (
    CompoundSetting,
    Dial,
    Slide,
    SlideCannotFeed,
    Slides,
    depth_per_dial,
    dial_step_mm,
)
from server.metrology.infeed import ToolTip
from server.metrology.model import OutOfRange, ThreadTarget
from server.metrology.thread_set import ThreadSet, TouchOff
from server.metrology.usual_tip import usual_tip
from server.wording import joined, say, sentence

SHORT_OF_HALF_ANGLE_RAD = math.radians(0.5)  # common practice: the trailing flank is just wiped
PLAIN_GRADUATION = {"in": Decimal("0.001"), "mm": Decimal("0.01")}
T = TypeVar("T")


@dataclass(frozen=True)
class Infeed:
    """From touching the crest to the finished thread.  [mm]

    touch_off, plan  None where the typed numbers allow none; the problems say why
    seconds          in the relief groove; None until speed and tool width are typed
    """

    slides: Slides
    slide: Slide
    tip: ToolTip
    tip_because: str  # "" where it was typed
    crest_mm: float
    crest_is_assumed: bool
    set: ThreadSet | None
    touch_off: TouchOff | None
    seat: measuring.Seat | None
    plan: Plan | None
    groove_width_mm: float | None
    seconds: float | None
    notes: tuple[str, ...]
    problems: tuple[Problem, ...]


def usual_compound(target: ThreadTarget) -> CompoundSetting:
    """Half a degree short of the half angle, from the cross-slide."""
    return CompoundSetting(target.half_angle_rad - SHORT_OF_HALF_ANGLE_RAD)


def plain_slides(target: ThreadTarget, asked: Asked) -> Slides:
    """Where no lathe of the crib is picked: dials that count travel, 0.001 in or 0.01 mm a line."""
    dial = Dial("travel", PLAIN_GRADUATION[asked.unit], asked.unit)
    return Slides(dial, dial, asked.compound or usual_compound(target), dial)


def infeed(
    target: ThreadTarget,
    asked: Asked,
    aim_mm: float,
    measured: measuring.Measured | None,
    lathe: Slides | None = None,
) -> Infeed | None:
    """None where the standard leaves the crest open and none was typed.

    lathe  the dials of a lathe of the crib, its compound as the feature has it
    """
    crest_mm = asked.crest_mm or assumed_crest_mm(target)
    if crest_mm is None:
        return None
    collected: list[Problem] = []
    notes: list[str] = []
    slides = lathe or plain_slides(target, asked)
    usual = usual_tip(target)
    tip = asked.tip or usual.tip
    slide = _slide(target, asked, slides, notes, collected)
    touched = _tried(
        lambda: thread_set.touch_off(target, tip, crest_mm, slides, slide, aim_mm),
        asked,
        "crest_diameter" if asked.crest_mm else "flat",
        collected,
    )
    features = _tried(lambda: thread_set.thread_set(target, tip), asked, "flat", collected)
    seat = None
    if measured is not None:
        seat = measuring.seat(target, measured.wires, measured.rule, crest_mm, tip)
    plan = None
    if touched is not None:
        notes += touched.cautions + touched.infeed.warnings
        plan = _plan(target, asked, touched, tip, slides, slide, notes, collected)
    width_mm = asked.groove_width_mm
    if width_mm is None and features is not None:
        width_mm = features.relief.usual_width_mm
    return Infeed(
        slides=slides,
        slide=slide,
        tip=tip,
        tip_because="" if asked.tip else usual.because,
        crest_mm=crest_mm,
        crest_is_assumed=asked.crest_mm is None,
        set=features,
        touch_off=touched,
        seat=seat,
        plan=plan,
        groove_width_mm=width_mm,
        seconds=_seconds(target, asked, width_mm, collected),
        notes=tuple(notes),
        problems=tuple(collected),
    )


def _tried(work: Callable[[], T], asked: Asked, field: str, collected: list[Problem]) -> T | None:
    try:
        return work()
    except ValueError as error:
        message = sentence(reason_of(error, asked.unit))
        collected.append(Problem("out_of_range", message, field))
    return None


def _slide(
    target: ThreadTarget,
    asked: Asked,
    slides: Slides,
    notes: list[str],
    collected: list[Problem],
) -> Slide:
    """The slide asked for, else the compound; the cross-slide where that one can't feed."""
    wanted = asked.slide or Slide.COMPOUND
    try:
        dial_step_mm(0.0, wanted, slides, target.kind)
    except SlideCannotFeed as error:
        field = "compound_angle_deg" if wanted is Slide.COMPOUND and asked.compound else "slide"
        if asked.slide is None and asked.compound is None:
            there = say("The passes are on the cross-slide.")
            notes.append(joined((error.message, there), " "))
        else:
            collected.append(Problem("slide_cannot_feed", error.message, field))
        return Slide.CROSS_SLIDE
    return wanted


def _plan(
    target: ThreadTarget,
    asked: Asked,
    touched: TouchOff,
    tip: ToolTip,
    slides: Slides,
    slide: Slide,
    notes: list[str],
    collected: list[Problem],
) -> Plan | None:
    line_mm = slides.dial(slide).graduation_mm * depth_per_dial(slide, slides, target.kind)
    try:
        found = schedule.thread_plan(
            touched.infeed.radial_mm or 0.0,
            tip.equivalent_flat_mm(target.half_angle_rad),
            target.half_angle_rad,
            target.kind,
            slides,
            slide,
            ThreadCuts(first_mm=max(ThreadCuts().first_mm, 2 * line_mm)),
            rough_passes=None if asked.passes is None else asked.passes - 1,
        )
    except OutOfRange as error:
        notes.append(say("No pass plan: {why}", why=sentence(error.words(asked.unit))))
        return None
    if asked.passes is not None and cutting_passes(found) != asked.passes:
        message = say(
            "{asked} passes would rub or can't be dialled in whole graduations; {planned} are "
            "shown.",
            asked=asked.passes,
            planned=cutting_passes(found),
        )
        collected.append(Problem("out_of_range", message, "passes"))
    return found


def cutting_passes(plan: Plan) -> int:
    return sum(each.purpose is not Purpose.SPRING for each in plan.passes)


def _seconds(
    target: ThreadTarget, asked: Asked, width_mm: float | None, collected: list[Problem]
) -> float | None:
    if asked.rpm is None or asked.tool_width_mm is None or width_mm is None:
        return None
    rpm, tool_mm, groove_mm = asked.rpm, asked.tool_width_mm, width_mm
    return _tried(
        lambda: thread_set.groove_seconds(groove_mm, tool_mm, target.lead_mm, rpm),
        asked,
        "groove_width" if asked.groove_width_mm else "tool_width",
        collected,
    )
