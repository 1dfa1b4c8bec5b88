"""The working of the doubt, of the decision and of the chance in limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.logbook.answers import conformance, landing_prior
from server.logbook.evaluate import Evaluation
from server.logbook.stages import StageSize
from server.logbook.working_steps import (
    Given,
    Scale,
    Step,
    number,
    number_result,
    plain,
    significant,
    trimmed,
)
from server.metrology import decision
from server.metrology.decision import IN_A_SENTENCE, GuardRule
from server.metrology.doubt import Line, Shape, expanded_apart
from server.metrology.thermal import WarmState
from server.wording import say

GUM = "GUM (JCGM 100)"
CHANCE_SOURCE = say("JCGM 106:2012, clause 7")
DIVISOR_TEXTS = {
    Shape.NORMAL: "1",
    Shape.RECTANGULAR: "√3",
    Shape.TRIANGULAR: "√6",
    Shape.U_SHAPED: "√2",
}
SHAPE_WORDS = {
    Shape.NORMAL: say("normal"),
    Shape.RECTANGULAR: say("rectangular"),
    Shape.TRIANGULAR: say("triangular"),
    Shape.U_SHAPED: say("U-shaped"),
}
MOST_DOF = 1000.0  # beyond it the number says nothing more


@dataclass(frozen=True)
class BudgetLine:
    """A line of the budget; step gives its standard uncertainty from spread and sensitivity."""

    line: Line
    step: Step
    shape: str
    dof: str
    share_percent: float  # of u squared

    @property
    def share(self) -> str:
        return plain(self.share_percent, 1)


def budget_lines(found: StageSize, scale: Scale) -> tuple[BudgetLine, ...]:
    u_mm = found.budget.u_mm
    return tuple(
        BudgetLine(
            line=line,
            step=_line_step(line, index, scale),
            shape=SHAPE_WORDS[line.shape],
            dof="∞" if math.isinf(line.dof) else trimmed(significant(line.dof, 4)),
            share_percent=100 * (line.standard_uncertainty_mm / u_mm) ** 2 if u_mm else 0.0,
        )
        for index, line in enumerate(found.budget.lines, start=1)
    )


def _line_step(line: Line, index: int, scale: Scale) -> Step:
    size = abs(line.sensitivity)
    if line.unit == "mm":
        spread = scale.small("a", line.name, line.spread)
        slope = Given("c", say("sensitivity"), size, trimmed(significant(size, 8)))
    else:
        unit, factor = {"rad": ("mrad", 1e3), "1/°C": ("10⁻⁶/°C", 1e6)}.get(
            line.unit, (line.unit, 1.0)
        )
        each = scale.in_micro(size) / factor
        wide = line.spread * factor
        spread = Given("a", line.name, wide, trimmed(significant(wide, 8)), unit)
        slope = Given(
            "c",
            say("sensitivity"),
            each,
            trimmed(significant(each, 8)),
            say("{micro} per {unit}", micro=scale.micro, unit=unit),
        )
    divisor = DIVISOR_TEXTS[line.shape] if line.divisor is None else f"{line.divisor:g}"
    return Step(
        name=line.name,
        result=scale.small_result(f"u{index}", line.name, line.standard_uncertainty_mm),
        formula="c × a / d",
        inputs=(slope, spread, Given("d", SHAPE_WORDS[line.shape], 0.0, divisor)),
        source=f"{GUM} 4.3",
        note=line.note,
    )


def doubt_steps(found: StageSize, scale: Scale) -> tuple[Step, ...]:
    budget = found.budget
    parts = [
        scale.small(f"u{index}", line.name, line.standard_uncertainty_mm, 8)
        for index, line in enumerate(budget.lines, start=1)
    ]
    u = scale.small("u", say("standard uncertainty"), budget.u_mm, 8)
    k = number("k", say("coverage factor"), budget.coverage_factor)
    growth = found.doubt_mm / budget.doubt_mm if budget.doubt_mm else 1.0
    grows = growth > 1 + 1e-12
    inputs = [k, u]
    if grows:
        inputs.append(number("g", say("change of the size for a change of the reading"), growth))
    return (
        Step(
            say("Standard uncertainty"),
            scale.small_result("u", say("standard uncertainty"), budget.u_mm),
            f"√({' + '.join(f'{part.symbol}²' for part in parts)})",
            tuple(parts),
            f"{GUM} 5.1.2",
        ),
        _dof_step(found, parts, u),
        _coverage_step(found, u, scale),
        Step(
            say("Doubt"),
            scale.small_result("U", say("doubt"), found.doubt_mm),
            "g × k × u" if grows else "k × u",
            tuple(inputs),
            f"{GUM} 6.2",
            say("Off the flanks a doubt of the reading grows on its way to the size.")
            if grows
            else "",
        ),
    )


def _coverage_step(found: StageSize, u: Given, scale: Scale) -> Step:
    budget = found.budget
    result = number_result("k", say("coverage factor"), budget.coverage_factor, 3)
    note = budget.coverage_reason + "."
    apart = expanded_apart(budget.lines)
    if not apart:
        source = say("{gum} G.3, G.4; EA-4/02 appendix E", gum=GUM)
        return Step(say("Coverage factor"), result, source=source, note=note)
    (t, scatter_mm), (k, rest_mm) = apart
    inputs = (
        number("t", say("Student's t of that scatter"), t),
        scale.small("s", say("scatter of readings"), scatter_mm, 8),
        number("r", say("coverage factor of the other lines"), k),
        scale.small("v", say("the other lines together"), rest_mm, 8),
        u,
    )
    formula = "√((t × s)² + (r × v)²) / u"
    return Step(say("Coverage factor"), result, formula, inputs, "ISO 14253-2", note)


def _dof_step(found: StageSize, parts: list[Given], u: Given) -> Step:
    dof = found.budget.dof
    name, source = say("Effective degrees of freedom"), f"{GUM} G.4.1 (Welch-Satterthwaite)"
    text = plain(dof, 2) if dof < MOST_DOF else say("over {most}", most=f"{MOST_DOF:g}")
    result = Given("ν", say("degrees of freedom"), dof, text)
    loose = [
        (
            part,
            number(
                f"n{part.symbol[1:]}",
                say("degrees of freedom of {line}", line=part.words),
                line.dof,
            ),
        )
        for part, line in zip(parts, found.budget.lines, strict=True)
        if not math.isinf(line.dof) and line.standard_uncertainty_mm > 0
    ]
    if not loose:
        return Step(name, result, source=source, note=say("Every line is taken as known."))
    terms = " + ".join(f"{part.symbol}⁴ / {count.symbol}" for part, count in loose)
    givens = tuple(given for pair in loose for given in pair)
    return Step(name, result, f"u⁴ / ({terms})", (u, *givens), source)


def decision_steps(found: Evaluation, now: StageSize, scale: Scale) -> tuple[Step, ...]:
    """Guard band, the zone of acceptance, and the chance in limits."""
    setup = found.setup
    low_mm, high_mm = setup.limits.both()
    u_mm = now.doubt_mm / now.budget.coverage_factor
    guard_mm = decision.guard_band_mm(setup.decision_rule, now.doubt_mm, now.u_guard_mm)
    guard = scale.length("g", say("guard band"), guard_mm)
    u_words = say("standard uncertainty")
    if now.u_guard_mm > u_mm * (1 + 1e-12):
        u_words = say(
            "standard uncertainty, each line widened by Student's t for 95 % on one side over 1.645"
        )
    formula, inputs = {
        GuardRule.FULL: ("U", (scale.length("U", say("doubt"), now.doubt_mm),)),
        GuardRule.NINETY_FIVE: (
            "1.645 × u",
            (scale.length("u", u_words, now.u_guard_mm),),
        ),
        GuardRule.PLAIN: ("", ()),
    }[setup.decision_rule]
    low = scale.length("L", say("low limit"), low_mm)
    high = scale.length("H", say("high limit"), high_mm)
    return (
        Step(
            say("Guard band"),
            scale.result("g", say("guard band"), guard_mm),
            formula,
            inputs,
            setup.decision_rule.words,
        ),
        Step(
            say("Smallest size that is surely in limits"),
            scale.result("Lg", say("low limit with the guard band"), low_mm + guard_mm),
            "L + g",
            (low, guard),
            "ISO 14253-1",
        ),
        Step(
            say("Largest size that is surely in limits"),
            scale.result("Hg", say("high limit with the guard band"), high_mm - guard_mm),
            "H − g",
            (high, guard),
            "ISO 14253-1",
        ),
        *chance_steps(found, now, scale, u_mm),
    )


def chance_steps(found: Evaluation, now: StageSize, scale: Scale, u_mm: float) -> tuple[Step, ...]:
    prior = landing_prior(found, now)
    chance = number_result("p", say("chance in limits"), conformance(found, now), 4)
    low_mm, high_mm = found.setup.limits.both()
    limits = (
        scale.length("L", say("low limit"), low_mm),
        scale.length("H", say("high limit"), high_mm),
    )
    u = scale.length("u", say("standard uncertainty"), u_mm)
    ends = min(now.low_mm, now.size_mm), max(now.high_mm, now.size_mm)
    if ends[1] - ends[0] > decision.SAME_SIZE_MM:
        span = (
            scale.length("y1", say("smallest the size may be"), ends[0]),
            scale.length("y2", say("largest the size may be"), ends[1]),
        )
        note = say("The mean of the chance over every size between y1 and y2 alike.")
        if prior is not None:
            note = say(
                "The mean of the chance over every size between y1 and y2 alike, each weighed "
                "with the landing."
            )
        return (
            Step(
                say("Chance in limits"),
                chance,
                "",
                (*span, u, *limits),
                CHANCE_SOURCE,
                note,
            ),
        )
    y_mm, steps = now.size_mm, []
    dof = now.budget.dof
    if prior is not None:
        y_mm, weighed_mm = decision.with_prior(now.size_mm, u_mm, prior)
        steps = _prior_steps(scale, now.size_mm, u, prior, y_mm, weighed_mm)
        u, dof = scale.length("u", say("with the landing"), weighed_mm), math.inf
    y = scale.length("y", say("size"), y_mm)
    inputs: tuple[Given, ...] = (y, u, *limits)
    formula = "Φ((H − y) / u) − Φ((L − y) / u)"
    note = say("Φ is the normal distribution.")
    if not math.isinf(dof):
        inputs = (*inputs, number("n", say("degrees of freedom"), dof))
        formula = "Student((H − y) / u, n) − Student((L − y) / u, n)"
        note = say("Student's distribution with n degrees of freedom.")
    steps.append(Step(say("Chance in limits"), chance, formula, inputs, CHANCE_SOURCE, note))
    return tuple(steps)


def _prior_steps(
    scale: Scale,
    size_mm: float,
    u: Given,
    prior: decision.Prior,
    y_mm: float,
    weighed_mm: float,
) -> list[Step]:
    inputs = (
        scale.length("y", say("size"), size_mm),
        u,
        scale.length("y0", say("where the cut was expected to land"), prior.mean_mm),
        scale.length("u0", say("how sure that was"), prior.u_mm),
    )
    return [
        Step(
            say("Size weighed with the landing"),
            scale.result("y", say("size"), y_mm),
            "(y / u² + y0 / u0²) / (1 / u² + 1 / u0²)",
            inputs,
            CHANCE_SOURCE,
        ),
        Step(
            say("Its standard uncertainty"),
            scale.small_result("u", say("standard uncertainty"), weighed_mm),
            "√(1 / (1 / u² + 1 / u0²))",
            tuple(
                scale.small(given.symbol, given.words, value)
                for given, value in ((u, _mm(u, scale)), (inputs[3], prior.u_mm))
            ),
            CHANCE_SOURCE,
        ),
    ]


def _mm(given: Given, scale: Scale) -> float:
    return given.value * (25.4 if scale.unit == "in" else 1.0)


def verdict_words(found: Evaluation, now: StageSize, in_words: str) -> tuple[str, ...]:
    """What the numbers lead to, and what else bears on it."""
    setup = found.setup
    verdict = IN_A_SENTENCE[now.verdict]
    said: list[str] = [say("The size is {size}: {verdict}.", size=in_words, verdict=verdict)]
    ends = decision.range_verdict(
        now.low_mm,
        now.high_mm,
        now.doubt_mm,
        now.u_guard_mm,
        setup.limits,
        setup.kind.is_internal,
        setup.decision_rule,
    )
    if ends.can_flip:
        said.append(
            say(
                "Warmth decides it: {low} at the small end of the range, {high} at the large.",
                low=IN_A_SENTENCE[ends.at_low],
                high=IN_A_SENTENCE[ends.at_high],
            )
        )
    if now.warm_state is WarmState.WAIT:
        said.append(
            say("The reading is too warm to act on: wait, or measure the temperature.")
            if now.last.says_warm
            else say("The reading may be too warm to act on: wait, or measure the temperature.")
        )
    if now.stations:
        said.append(say("The station where most metal is gone decides, and all of them must hold."))
    return tuple(said)
