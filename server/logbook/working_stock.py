"""The working of what is left to cut, and of the infeed from touch-off."""

from __future__ import annotations

import math

from server.advice import schedule
from server.logbook.evaluate import Evaluation, total_depth_mm
from server.logbook.problems import reason_of
from server.logbook.setup import Setup
from server.logbook.stages import StageSize
from server.logbook.working_steps import Given, Scale, Step, angle
from server.metrology.dials import Slide
from server.metrology.infeed import StockLeft
from server.metrology.model import Kind
from server.metrology.units import usual_decimals
from server.wording import joined, say

GEOMETRY = say("plane geometry of the tool and the slides")
DIAL_FORMULAS = {
    Slide.CROSS_SLIDE: "s / 2",
    Slide.COMPOUND: "s / (2 × cos(θ))",
    Slide.CARRIAGE: "s",
}
DIAL_NAMES = {
    Slide.CROSS_SLIDE: say("On the cross-slide dial"),
    Slide.COMPOUND: say("On the compound dial"),
    Slide.CARRIAGE: say("On the carriage dial"),
}


def stock_steps(found: Evaluation, now: StageSize, scale: Scale) -> tuple[Step, ...]:
    setup, stock = found.setup, found.stock
    assert stock is not None
    on_size_mm = stock.axial_mm if stock.diameter_mm is None else stock.diameter_mm
    assert on_size_mm is not None
    size = scale.length("y", say("size"), now.size_mm)
    aim = scale.length("A", say("aim"), setup.aim_mm)
    where = (
        say("stock left on the length")
        if stock.diameter_mm is None
        else say("stock left on diameter")
    )
    steps = [
        Step(
            say("Stock left"),
            scale.result("s", where, on_size_mm),
            "A − y" if setup.kind.is_internal else "y − A",
            (size, aim),
        )
    ]
    s = scale.length("s", where, on_size_mm)
    if stock.radial_mm is not None:
        radial = scale.result("ρ", say("stock left on radius"), stock.radial_mm)
        steps.append(Step(say("On radius"), radial, "s / 2", (s,)))
    steps += _flank_steps(setup, stock, scale)
    steps += [step for slide in Slide for step in _dial_steps(setup, stock, slide, s, scale)]
    return tuple(steps)


def _flank_steps(setup: Setup, stock: StockLeft, scale: Scale) -> list[Step]:
    if stock.leading_flank_mm is None or stock.radial_mm is None or setup.thread is None:
        return []
    depth_mm = abs(stock.radial_mm)
    swings = setup.slide is Slide.COMPOUND
    tangent = math.tan(setup.slides.theta_rad()) if swings else 0.0
    radial = scale.length("r", say("stock left on radius, its size"), depth_mm)
    shift = scale.length("z", say("the compound's move along the work"), depth_mm * tangent)
    half_angle = angle("a", say("half angle"), setup.thread.half_angle_rad)
    steps = []
    if swings:
        steps.append(
            Step(
                say("How far the compound moves along the work"),
                scale.result("z", say("shift toward the leading flank"), depth_mm * tangent),
                "r × tan(θ)",
                (radial, _theta(setup)),
                GEOMETRY,
            )
        )
    sign = "−" if stock.radial_mm < 0 else ""
    for name, symbol, between, value_mm in (
        (say("Square to the leading flank"), "l", "+", stock.leading_flank_mm),
        (say("Square to the trailing flank"), "t", "−", stock.trailing_flank_mm),
    ):
        assert value_mm is not None
        steps.append(
            Step(
                name,
                scale.result(symbol, say("metal before the tool"), value_mm),
                f"{sign}max(0, r × sin(a) {between} z × cos(a))",
                (radial, half_angle, shift),
                GEOMETRY,
                "" if swings else say("A straight plunge: nothing along the work."),
            )
        )
    return steps


def _theta(setup: Setup) -> Given:
    return angle("θ", say("compound from the cross-slide"), setup.slides.theta_rad())


def _dial_steps(setup: Setup, stock: StockLeft, slide: Slide, s: Given, scale: Scale) -> list[Step]:
    value_mm = stock.on_dial_mm(slide)
    if value_mm is None:
        return []
    dial = setup.slides.dial(slide)
    formula = DIAL_FORMULAS[slide]
    if setup.kind is Kind.LENGTH and slide is Slide.COMPOUND:
        formula = "s / sin(θ)"
    inputs = (s, _theta(setup)) if slide is Slide.COMPOUND else (s,)
    notes: list[str] = []
    if dial.counts == "diameter":
        formula = f"2 × {formula}"
        notes.append(say("This dial counts diameter: twice the travel."))
    if dial.unit != scale.unit:
        formula = f"{formula} {'/' if dial.unit == 'in' else '×'} 25.4"
        notes.append(
            say("This dial is graduated in inches.")
            if dial.unit == "in"
            else say("This dial is graduated in mm.")
        )
        scale = Scale(dial.unit, usual_decimals(dial.unit))
    return [
        Step(
            DIAL_NAMES[slide],
            scale.result("q", say("to dial for all of it, exact"), value_mm),
            formula,
            inputs,
            GEOMETRY,
            joined(notes, " "),
        )
    ]


def infeed_steps(setup: Setup, scale: Scale) -> tuple[Step, ...]:
    """Total infeed from touching the crest; () where crest, tip or thread is not known."""
    total_mm = total_depth_mm(setup)
    target, tip = setup.thread, setup.tip
    if total_mm is None or target is None or tip is None:
        return ()
    crest_mm = setup.crest_diameter_mm or 0.0
    internal = target.kind is Kind.INTERNAL_THREAD
    above = "(A − D) / 2" if internal else "(D − A) / 2"
    return (
        Step(
            say("Infeed from touch-off"),
            scale.result("h", say("radial, from touching the crest to the aim"), total_mm / 2),
            f"{above} + P / (4 × tan(a)) − f / (2 × tan(a))",
            (
                scale.length("A", say("aim"), setup.aim_mm),
                scale.length("D", crest_words(setup, internal), crest_mm),
                scale.length("P", say("pitch"), target.pitch_mm),
                angle("a", say("half angle"), target.half_angle_rad),
                scale.length(
                    "f",
                    say("tool flat, or what the nose radius counts as"),
                    tip.equivalent_flat_mm(target.half_angle_rad),
                ),
            ),
            GEOMETRY,
        ),
    )


def crest_words(setup: Setup, internal: bool) -> str:
    if setup.crest_is_assumed:
        return (
            say("bore, assumed at the middle of its limits")
            if internal
            else say("crest, assumed at the middle of its limits")
        )
    return say("bore") if internal else say("crest")


def geometry_plan(setup: Setup) -> tuple[schedule.Plan | None, str]:
    """(the plan from touch-off, why there is none)."""
    target, tip, total_mm = setup.thread, setup.tip, total_depth_mm(setup)
    if target is None:
        return None, say("Measure the blank: the plan begins with the first reading.")
    if tip is None:
        return None, say("Say the tool's flat or nose radius, and the plan begins at touch-off.")
    if total_mm is None:
        return None, say("This tool, crest and thread leave no infeed to plan.")
    try:
        flat_mm = tip.equivalent_flat_mm(target.half_angle_rad)
        plan = schedule.thread_plan(
            total_mm / 2, flat_mm, target.half_angle_rad, setup.kind, setup.slides, setup.slide
        )
    except ValueError as error:
        return None, say("No plan from touch-off: {why}.", why=reason_of(error, setup.unit))
    return plan, ""
