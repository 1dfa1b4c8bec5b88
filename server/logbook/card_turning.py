"""The passes of a plain size on the target card: from the blank as it is to the aim."""

from __future__ import annotations

from dataclasses import dataclass

from server.advice import schedule
from server.advice.schedule import Plan
from server.logbook.card_infeed import PLAIN_GRADUATION
from server.logbook.card_typed import Asked
from server.logbook.problems import Problem
from server.metrology import infeed
from server.metrology.dials import (
    CompoundSetting,
    Dial,
    Slide,
    SlideCannotFeed,
    Slides,
    dial_step_mm,
    size_per_depth,
)
from server.metrology.model import Kind, OutOfRange, Target
from server.metrology.units import shown
from server.wording import say, sentence


@dataclass(frozen=True)
class Turning:
    """plan is None where the typed numbers allow none; the problems say why.  [mm]"""

    kind: Kind
    slides: Slides
    slide: Slide
    blank_mm: float
    plan: Plan | None
    problems: tuple[Problem, ...] = ()

    def size_after_mm(self, depth_mm: float) -> float:
        """The size at a depth of cut since touch-off."""
        took_mm = depth_mm * size_per_depth(self.kind)
        return self.blank_mm + took_mm if self.kind.is_internal else self.blank_mm - took_mm


def turning(
    target: Target, asked: Asked, aim_mm: float, lathe: Slides | None = None
) -> Turning | None:
    """None before the blank is typed.

    lathe  the dials of a lathe of the crib; None: dials that count travel, 0.001 in or 0.01 mm
    """
    if asked.blank_mm is None:
        return None
    slides = lathe or plain_slides(asked)
    slide = asked.slide or (Slide.CARRIAGE if target.kind is Kind.LENGTH else Slide.CROSS_SLIDE)
    stock_mm = infeed.stock_on_size_mm(asked.blank_mm, aim_mm, target.kind)
    plan, problem = None, None
    if stock_mm <= 0:
        problem = Problem("out_of_range", no_stock_words(target, asked, aim_mm), "blank")
    else:
        try:
            dial_step_mm(0.0, slide, slides, target.kind)
            plan = schedule.turning_plan(stock_mm, target.kind, slides, slide)
        except SlideCannotFeed as error:
            problem = Problem("slide_cannot_feed", error.message, "slide")
        except OutOfRange as error:
            problem = Problem("out_of_range", sentence(error.words(asked.unit)), "blank")
    problems = (problem,) if problem else ()
    return Turning(target.kind, slides, slide, asked.blank_mm, plan, problems)


def plain_slides(asked: Asked) -> Slides:
    """A compound that nobody set stands along the cross-slide."""
    dial = Dial("travel", PLAIN_GRADUATION[asked.unit], asked.unit)
    return Slides(dial, dial, asked.compound or CompoundSetting(0.0), dial)


def no_stock_words(target: Target, asked: Asked, aim_mm: float) -> str:
    aim = f"{shown(aim_mm, asked.unit)} {asked.unit}"
    if target.kind.is_internal:
        return say("This blank has no metal to cut: type a size below the aim, {aim}.", aim=aim)
    return say("This blank has no metal to cut: type a size above the aim, {aim}.", aim=aim)
