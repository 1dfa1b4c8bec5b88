"""Pass history: what was read, dialled and removed; prints to one page; finishing."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response
from sqlmodel import Session

from server import __version__
from server.logbook import history
from server.logbook.answers import conformance
from server.logbook.closing import Finish, closing_of
from server.logbook.evaluate import Evaluation
from server.logbook.problems import Refused
from server.logbook.replay import PieceLog
from server.logbook.rework import closings_of
from server.logbook.setup import Setup
from server.metrology.model import Target
from server.pages.entry_lines import entry_lines, plot_points
from server.pages.forms import Fields
from server.pages.lathe_view import finish_view, is_range, measured_over
from server.pages.render import book, page, problems_of, see_other, theme_of
from server.pages.views import Fact, FeatureHistory, FinishPage, HistoryPage, Plot, Problem
from server.pages.words import (
    STATE_WORDS,
    clock,
    day,
    finished_words,
    moment_words,
    percent,
    size_text,
    standing_view,
)
from server.records.tables import ClosingRow, FeatureRow, InstrumentRow
from server.wording import joined, say, say_n

router = APIRouter()
# What one sheet holds in print of 7 points or more; what is more goes on a second one.
ONE_COLUMN = 2  # features
ROOMY_FEATURES = 4
FEW_LINES = 14  # of all features, that leave room for each across the sheet
ROOMY_LINES = 30  # readings, cuts and events of all of them
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]


@router.get("/pieces/{piece_id}/history")
def get_history(request: Request, piece_id: Id) -> Response:
    return show(request, piece_id)


def show(
    request: Request,
    piece_id: int,
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = (),
    status: int = 200,
) -> Response:
    """The page; with what was typed and what was wrong where a form on it was refused."""
    logbook = book(request)
    with logbook.reading() as session:
        log = PieceLog.read(session, piece_id)
        piece, part = log.piece, log.part
        closing = closing_of(session, piece_id)
        found = [log.evaluation(each, wants_advice=False) for each in log.features]
        now = logbook.now().astimezone()
        features = tuple(
            feature_view(session, log, feature, each)
            for feature, each in zip(log.features, found, strict=True)
        )
        view = HistoryPage(
            title=say("{part}, piece {number}: pass history", part=part.name, number=piece.number),
            nav="parts",
            theme=theme_of(request),
            typed=typed or {},
            problems=problems,
            piece_id=piece_id,
            part_name=part.name,
            part_number=part.number,
            part_url=f"/parts/{part.id}",
            piece_name=say("Piece {number}", number=piece.number),
            serial=piece.serial,
            material=part.material,
            state=piece.closed_as or "open",
            state_words=state_words(closing),
            state_reason=closing.reason if closing else "",
            closings=closing_lines(closings_of(session, piece_id)),
            rework_action=f"/pieces/{piece_id}/rework" if piece.closed_as else "",
            features=features,
            crowd=crowd_of(features),
            csv_url=f"/pieces/{piece_id}/history.csv",
            json_url=f"/api/pieces/{piece_id}/history",
            finish=None if piece.closed_as else finish_view(piece_id, found),
            again_action=f"/parts/{part.id}/pieces",
            made_with=f"Midlimit {__version__}",
            printed_on=moment_words(now),
        )
    return page(request, view, status)


def closing_lines(rows: list[ClosingRow]) -> tuple[str, ...]:
    """Every end and every rework; nothing where the piece was finished once and stayed so."""
    if len(rows) < 2:
        return ()
    return tuple(
        joined([STATE_WORDS[row.closed_as], day(row.at), row.initials])
        + (f": {row.reason}" if row.reason else "")
        for row in rows
    )


def state_words(closing: ClosingRow | None) -> str:
    return finished_words(closing) if closing else STATE_WORDS[""]


def crowd_of(features: tuple[FeatureHistory, ...]) -> str:
    if len(features) <= ONE_COLUMN:
        return ""
    lines = sum(len(each.entries) for each in features)
    if len(features) <= ROOMY_FEATURES and lines <= FEW_LINES:
        return "few"
    return "many" if len(features) <= ROOMY_FEATURES and lines <= ROOMY_LINES else "sheets"


def measured_words(setup: Setup, instrument: str) -> str:
    over = measured_over(setup)[0]
    if over:
        return say("Measured {over}, {instrument}.", over=over, instrument=instrument)
    return say("Measured with {instrument}.", instrument=instrument)


def limits_words(target: Target) -> str:
    if target.family == "stated":
        return say("Limits stated on the drawing.")
    return say("Limits from {source}.", source=target.source)


def feature_view(
    session: Session, log: PieceLog, feature: FeatureRow, found: Evaluation
) -> FeatureHistory:
    setup, now, piece = found.setup, found.current, log.piece
    told = history.feature_history(log, feature)
    low_mm, high_mm = setup.limits.both()
    instrument = session.get_one(InstrumentRow, feature.instrument_id)
    points = plot_points(told)
    return FeatureHistory(
        feature_id=setup.feature_id,
        label=setup.label,
        designation=feature.designation,
        unit=setup.unit,
        low=size_text(setup, low_mm),
        high=size_text(setup, high_mm),
        aim=size_text(setup, setup.aim_mm),
        measured=measured_words(setup, log.around.instrument_label(instrument)),
        final_size=size_text(setup, now.size_mm) if now else "",
        final_doubt=size_text(setup, now.doubt_mm) if now else "",
        final_low=size_text(setup, now.low_mm) if now and is_range(found) else "",
        final_high=size_text(setup, now.high_mm) if now and is_range(found) else "",
        verdict=standing_view(found, setup),
        rule=setup.decision_rule.words,
        limits_from=limits_words(setup.target),
        plot=(
            Plot(
                low_mm=low_mm,
                high_mm=high_mm,
                aim_mm=setup.aim_mm,
                unit=setup.unit,
                places=setup.decimals,
                points=points,
                is_internal=setup.kind.is_internal,
                words=say_n(
                    len(points),
                    "{n} reading of {feature} against its limits.",
                    "{n} readings of {feature} against its limits.",
                    feature=setup.label,
                ),
            )
            if points
            else None
        ),
        entries=tuple(entry_lines(told, setup, can_strike=not piece.closed_as)),
        facts=facts(told, found),
        lathe_url=f"/pieces/{piece.id}/lathe?feature={setup.feature_id}",
    )


def facts(told: dict[str, Any], found: Evaluation) -> tuple[Fact, ...]:
    live = [entry for entry in told["entries"] if entry["struck"] is None]
    readings = [entry for entry in live if entry["type"] == "reading"]
    cuts = [entry for entry in told["entries"] if entry.get("dial_step") is not None]
    lines = [
        Fact(label=say("Readings"), value=str(len(readings))),
        Fact(label=say("Cuts"), value=str(len(cuts))),
    ]
    if found.current is not None:
        chance = percent(conformance(found, found.current))
        lines.append(Fact(label=say("Chance in limits"), value=chance))
    if readings:
        first, last = readings[0]["at"], readings[-1]["at"]
        when = say("{day} {first} to {last}", day=day(first), first=clock(first), last=clock(last))
        lines.append(Fact(label=say("Measured"), value=when))
    return tuple(lines)


@router.get("/pieces/{piece_id}/history.csv")
def get_history_csv(request: Request, piece_id: Id) -> Response:
    with book(request).reading() as session:
        text = history.history_csv(session, piece_id)
    return Response(
        text,
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="piece-{piece_id}-history.csv"'},
    )


@router.get("/pieces/{piece_id}/finish")
def get_finish(request: Request, piece_id: Id) -> Response:
    return finish_page(request, piece_id, {}, None)


def finish_page(
    request: Request, piece_id: int, typed: dict[str, str], refused: Refused | None
) -> Response:
    with book(request).reading() as session:
        log = PieceLog.read(session, piece_id)
        piece, part = log.piece, log.part
        found = [log.evaluation(each, wants_advice=False) for each in log.features]
        view = FinishPage(
            title=say("Finish {part}, piece {number}", part=part.name, number=piece.number),
            nav="parts",
            theme=theme_of(request),
            typed=typed,
            problems=problems_of(refused.problems) if refused else (),
            piece_name=say("{part}, piece {number}", part=part.name, number=piece.number),
            piece_url=f"/pieces/{piece_id}/lathe",
            finish=finish_view(piece_id, found),
        )
    return page(request, view, refused.status if refused else 200)


@router.post("/pieces/{piece_id}/finish")
def post_finish(request: Request, piece_id: Id, fields: Fields) -> Response:
    asked = Finish(fields.get("as", "good"), fields.get("initials", ""), fields.get("reason", ""))
    try:
        book(request).finish(piece_id, asked)
    except Refused as refused:
        if refused.status == 404:
            raise
        return finish_page(request, piece_id, fields | {"form": "finish"}, refused)
    return see_other(f"/pieces/{piece_id}/history")
