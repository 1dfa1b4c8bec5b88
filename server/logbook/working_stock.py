"""The working of what is left to cut, and of the infeed from touch-off."""

from __future__ import annotations

import math

from server.advice import schedule
from server.logbook.evaluate import Evaluation, total_depth_mm
from server.logbook.setup import Setup
from server.logbook.stages import StageSize
from server.logbook.working_steps import Given, Scale, Step, angle
from server.metrology.dials import Slide
from server.metrology.infeed import StockLeft
from server.metrology.model import Kind, OutOfRange
from server.metrology.units import usual_decimals

GEOMETRY = "plane geometry of the tool and the slides"
DIAL_FORMULAS = {
    Slide.CROSS_SLIDE: "s / 2",
    Slide.COMPOUND: "s / (2 × cos(θ))",
    Slide.CARRIAGE: "s",
}
DIAL_NAMES = {
    Slide.CROSS_SLIDE: "On the cross-slide dial",
    Slide.COMPOUND: "On the compound dial",
    Slide.CARRIAGE: "On the carriage dial",
}


def stock_steps(found: Evaluation, now: StageSize, scale: Scale) -> tuple[Step, ...]:
    setup, stock = found.setup, found.stock
    assert stock is not None
    on_size_mm = stock.axial_mm if stock.diameter_mm is None else stock.diameter_mm
    assert on_size_mm is not None
    size = scale.length("y", "size", now.size_mm)
    aim = scale.length("A", "aim", setup.aim_mm)
    where = "stock left on the length" if stock.diameter_mm is None else "stock left on diameter"
    steps = [
        Step(
            "Stock left",
            scale.result("s", where, on_size_mm),
            "A − y" if setup.kind.is_internal else "y − A",
            (size, aim),
        )
    ]
    s = scale.length("s", where, on_size_mm)
    if stock.radial_mm is not None:
        radial = scale.result("ρ", "stock left on radius", stock.radial_mm)
        steps.append(Step("On radius", radial, "s / 2", (s,)))
    steps += _flank_steps(setup, stock, scale)
    steps += [step for slide in Slide for step in _dial_steps(setup, stock, slide, s, scale)]
    return tuple(steps)


def _flank_steps(setup: Setup, stock: StockLeft, scale: Scale) -> list[Step]:
    if stock.leading_flank_mm is None or stock.radial_mm is None or setup.thread is None:
        return []
    depth_mm = abs(stock.radial_mm)
    swings = setup.slide is Slide.COMPOUND
    tangent = math.tan(setup.slides.theta_rad()) if swings else 0.0
    radial = scale.length("r", "stock left on radius, its size", depth_mm)
    shift = scale.length("z", "the compound's move along the work", depth_mm * tangent)
    half_angle = angle("a", "half angle", setup.thread.half_angle_rad)
    steps = []
    if swings:
        steps.append(
            Step(
                "How far the compound moves along the work",
                scale.result("z", "shift toward the leading flank", depth_mm * tangent),
                "r × tan(θ)",
                (radial, _theta(setup)),
                GEOMETRY,
            )
        )
    sign = "−" if stock.radial_mm < 0 else ""
    for name, symbol, between, value_mm in (
        ("Square to the leading flank", "l", "+", stock.leading_flank_mm),
        ("Square to the trailing flank", "t", "−", stock.trailing_flank_mm),
    ):
        assert value_mm is not None
        steps.append(
            Step(
                name,
                scale.result(symbol, "metal before the tool", value_mm),
                f"{sign}max(0, r × sin(a) {between} z × cos(a))",
                (radial, half_angle, shift),
                GEOMETRY,
                "" if swings else "A straight plunge: nothing along the work.",
            )
        )
    return steps


def _theta(setup: Setup) -> Given:
    return angle("θ", "compound from the cross-slide", setup.slides.theta_rad())


def _dial_steps(setup: Setup, stock: StockLeft, slide: Slide, s: Given, scale: Scale) -> list[Step]:
    value_mm = stock.on_dial_mm(slide)
    if value_mm is None:
        return []
    dial = setup.slides.dial(slide)
    formula = DIAL_FORMULAS[slide]
    if setup.kind is Kind.LENGTH and slide is Slide.COMPOUND:
        formula = "s / sin(θ)"
    inputs = (s, _theta(setup)) if slide is Slide.COMPOUND else (s,)
    notes = []
    if dial.counts == "diameter":
        formula = f"2 × {formula}"
        notes.append("This dial counts diameter: twice the travel.")
    if dial.unit != scale.unit:
        formula = f"{formula} {'/' if dial.unit == 'in' else '×'} 25.4"
        notes.append(f"This dial is graduated in {'inches' if dial.unit == 'in' else 'mm'}.")
        scale = Scale(dial.unit, usual_decimals(dial.unit))
    return [
        Step(
            DIAL_NAMES[slide],
            scale.result("q", "to dial for all of it, exact", value_mm),
            formula,
            inputs,
            GEOMETRY,
            " ".join(notes),
        )
    ]


def infeed_steps(setup: Setup, scale: Scale) -> tuple[Step, ...]:
    """Total infeed from touching the crest; () where crest, tip or thread is not known."""
    total_mm = total_depth_mm(setup)
    target, tip = setup.thread, setup.tip
    if total_mm is None or target is None or tip is None:
        return ()
    crest_mm = setup.crest_diameter_mm or 0.0
    assumed = ", assumed at the middle of its limits" if setup.crest_is_assumed else ""
    internal = target.kind is Kind.INTERNAL_THREAD
    above = "(A − D) / 2" if internal else "(D − A) / 2"
    return (
        Step(
            "Infeed from touch-off",
            scale.result("h", "radial, from touching the crest to the aim", total_mm / 2),
            f"{above} + P / (4 × tan(a)) − f / (2 × tan(a))",
            (
                scale.length("A", "aim", setup.aim_mm),
                scale.length("D", ("bore" if internal else "crest") + assumed, crest_mm),
                scale.length("P", "pitch", target.pitch_mm),
                angle("a", "half angle", target.half_angle_rad),
                scale.length(
                    "f",
                    "tool flat, or what the nose radius counts as",
                    tip.equivalent_flat_mm(target.half_angle_rad),
                ),
            ),
            GEOMETRY,
        ),
    )


def geometry_plan(setup: Setup) -> tuple[schedule.Plan | None, str]:
    """(the plan from touch-off, why there is none)."""
    target, tip, total_mm = setup.thread, setup.tip, total_depth_mm(setup)
    if target is None:
        return None, "Measure the blank: the plan begins with the first reading."
    if tip is None:
        return None, "Say the tool's flat or nose radius, and the plan begins at touch-off."
    if total_mm is None:
        return None, "This tool, crest and thread leave no infeed to plan."
    try:
        flat_mm = tip.equivalent_flat_mm(target.half_angle_rad)
        plan = schedule.thread_plan(
            total_mm / 2, flat_mm, target.half_angle_rad, setup.kind, setup.slides, setup.slide
        )
    except (OutOfRange, ValueError) as error:
        return None, f"No plan from touch-off: {error}."
    return plan, ""
