"""The working: every number of one feature with its formula, its inputs and its source."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response
from sqlmodel import Session

from server.advice import schedule
from server.advice.model import Learned, PlannedPass
from server.advice.schedule import Purpose
from server.logbook.parts import features_of, part_of
from server.logbook.problems import not_found
from server.logbook.setup import piece_of
from server.logbook.working import FITTED_WORDS, Working, working_of
from server.logbook.working_doubt import BudgetLine
from server.logbook.working_steps import plain
from server.metrology.dials import Slide
from server.metrology.units import from_mm
from server.pages.render import book, page, theme_of
from server.pages.view_working import BudgetRow, LearnedRow, PlanRow, WorkingPage
from server.pages.views import Fact
from server.pages.words import ON_SLIDE, size_text, verdict_view, with_minus
from server.records.tables import FeatureRow
from server.wording import joined, say, sentence

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]
WHAT_WORDS = {
    "roughing": say("Roughing"),
    "finishing": say("Finishing"),
    "spring": say("Spring pass"),
}
PURPOSE_WORDS = {
    Purpose.ROUGH: say("Roughing"),
    Purpose.SEMI_FINISH: say("Semi-finishing"),
    Purpose.LAST: say("Last cut"),
    Purpose.SPRING: say("Spring pass"),
}
SAME_SETTING = say("same setting once more")
STATE_WORDS = {
    "none": say("Nothing was read yet."),
    "measured": "",
    "cut_since": say("A cut came after this size: measure again."),
}


@router.get("/pieces/{piece_id}/working")
def get_working(
    request: Request,
    piece_id: Id,
    feature: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
) -> Response:
    with book(request).reading() as session:
        piece = piece_of(session, piece_id)
        features = features_of(session, piece.part_id)
        if not features:
            raise not_found(say("feature on piece"), piece_id)
        chosen = next((each for each in features if each.id == feature), None)
        if chosen is None:
            if feature is not None:
                raise not_found(say("feature"), feature)
            chosen = features[0]
        view = working_page(session, piece_id, chosen, features, theme_of(request))
    return page(request, view)


def working_page(
    session: Session,
    piece_id: int,
    feature: FeatureRow,
    features: list[FeatureRow],
    theme: str,
) -> WorkingPage:
    piece = piece_of(session, piece_id)
    part = part_of(session, piece.part_id)
    working = working_of(session, piece_id, feature.id or 0)
    setup, known = working.found.setup, working.found.known
    base = f"/pieces/{piece_id}"
    after = (working.doubt, working.decision, working.stock, working.infeed)
    return WorkingPage(
        title=say("{feature}: the working", feature=setup.label),
        nav="parts",
        theme=theme,
        piece_name=say("Piece {number}", number=piece.number),
        part_name=part.name,
        part_url=f"/parts/{part.id}",
        feature_label=setup.label,
        designation=feature.designation,
        source=setup.target.source,
        unit=setup.unit,
        micro=working.scale.micro,
        size=size_text(setup, known.size_mm) if known else "",
        doubt=size_text(setup, known.doubt_mm) if known else "",
        verdict=verdict_view(known.verdict.value if known else None, setup),
        state_words=STATE_WORDS[working.state],
        tabs=tuple(
            Fact(
                label=each.label,
                value=f"{base}/working?feature={each.id}",
                note="current" if each.id == feature.id else "",
            )
            for each in features
        ),
        readings=working.readings,
        budget=tuple(budget_row(line) for line in working.budget),
        after_budget=tuple(section for section in after if section.steps),
        learned_sentence=sentence(working.learned.sentence) if working.learned else "",
        learned_facts=learned_facts(working, working.learned) if working.learned else (),
        learned=learned_rows(working, working.learned) if working.learned else (),
        fitted_words=FITTED_WORDS if working.learned else "",
        plan=plan_rows(working),
        plan_after=say("Depth from touch-off") if working.geometry else say("Size after it"),
        plan_words=working.plan_words,
        lathe_url=f"{base}/lathe?feature={feature.id}",
        history_url=f"{base}/history",
        json_url=f"/api/pieces/{piece_id}/features/{feature.id}/working",
    )


def budget_row(line: BudgetLine) -> BudgetRow:
    sensitivity, spread, _ = line.step.inputs
    return BudgetRow(
        name=line.line.name,
        step=line.step,
        spread=joined([spread.text, spread.unit], " "),
        shape=line.shape,
        sensitivity=joined([sensitivity.text, sensitivity.unit], " "),
        contribution=line.step.result.text,
        share=line.share,
        dof=line.dof,
        note=line.line.note,
    )


def finer(working: Working, value_mm: float) -> str:
    """A length with one place more than the screen: what is learned is finer than a reading."""
    return plain(from_mm(value_mm, working.scale.unit), working.scale.decimals + 1)


def learned_facts(working: Working, learned: Learned) -> tuple[Fact, ...]:
    unit = working.scale.unit
    share, spread = learned.left_behind * 100, learned.left_behind_uncertainty * 100
    offset = finer(working, learned.offset_uncertainty_mm)
    return (
        Fact(label=say("Left behind, φ"), value=plain(share, 1), unit=f"± {plain(spread, 1)} %"),
        Fact(
            label=say("Tool against dial"),
            value=finer(working, learned.offset_mm),
            unit=f"± {offset} {unit}",
        ),
        Fact(
            label=say("A spring pass finds"), value=finer(working, learned.standing_mm), unit=unit
        ),
        Fact(label=say("Least cut"), value=finer(working, learned.least_cut_mm), unit=unit),
        Fact(
            label=say("Scatter of one cut"),
            value=finer(working, learned.cut_scatter_mm),
            unit=unit,
        ),
    )


def learned_rows(working: Working, learned: Learned) -> tuple[LearnedRow, ...]:
    return tuple(
        LearnedRow(
            number=str(number),
            dialled=finer(working, each.dialled_mm),
            removed=finer(working, each.removed_mm),
            fitted=finer(working, each.fitted_mm),
            cuts=str(each.cuts),
        )
        for number, each in enumerate(learned.passes, start=1)
    )


def plan_rows(working: Working) -> tuple[PlanRow, ...]:
    if working.geometry is not None:
        return tuple(
            PlanRow(
                number=str(each.number),
                what=PURPOSE_WORDS[each.purpose],
                dial=dial_words(each),
                after=finer(working, each.depth_mm),
            )
            for each in working.geometry.passes
        )
    return tuple(planned_row(working, n, each) for n, each in enumerate(working.plan, start=1))


def dial_words(planned: schedule.PlannedPass) -> str:
    if not planned.dial_step:
        return SAME_SETTING
    return say(
        "{step} {unit} {on_slide}, {total} in all",
        step=f"{planned.dial_step:f}",
        unit=planned.unit,
        on_slide=ON_SLIDE[planned.slide.value],
        total=f"{planned.dial_total:f}",
    )


def planned_dial(working: Working, planned: PlannedPass) -> str:
    """What the pass dials, on the dial that has a graduation of that step."""
    setup, job = working.found.setup, working.found.job
    slide, on_slide = setup.slide, ON_SLIDE[setup.slide.value]
    if job is not None and job.finer_graduation_mm is not None:
        line_mm = planned.step_mm / planned.steps
        if abs(line_mm - job.finer_graduation_mm) < abs(line_mm - job.graduation_mm):
            slide, on_slide = Slide.COMPOUND, say("on the compound as a fine feed")
    dial = setup.slides.dial(slide)
    step = with_minus(f"{planned.steps * dial.graduation:f}")
    return say("{step} {unit} {on_slide}", step=step, unit=dial.unit, on_slide=on_slide)


def planned_row(working: Working, number: int, planned: PlannedPass) -> PlanRow:
    setup = working.found.setup
    return PlanRow(
        number=str(number),
        what=WHAT_WORDS[planned.what],
        dial=planned_dial(working, planned) if planned.steps else SAME_SETTING,
        after=size_text(setup, working.found.size_at(planned.stock_after_mm)),
        measure=planned.measure_after,
    )
