"""Stored entries read back and evaluated."""

from __future__ import annotations

import json
from datetime import datetime

from sqlmodel import Session, col, func, or_, select

from server.advice import learned
from server.advice.model import Prior
from server.logbook.evaluate import Evaluation, evaluate
from server.logbook.setup import Setup, instrument_of, setup_of
from server.logbook.shop import shop_temperature_c
from server.logbook.sizes import Logged
from server.records.tables import AnswerRow, EntryRow, FeatureRow, LearnedRow, PieceRow, StrikeRow


def entries_of(
    session: Session, piece_id: int, feature_id: int | None = None, upto: int | None = None
) -> list[EntryRow]:
    """Entries in the order they were logged; with a feature, its own and the piece's events."""
    query = select(EntryRow).where(EntryRow.piece_id == piece_id)
    if feature_id is not None:
        query = query.where(
            or_(col(EntryRow.feature_id) == feature_id, col(EntryRow.feature_id).is_(None))
        )
    if upto is not None:
        query = query.where(col(EntryRow.id) <= upto)
    return list(session.exec(query.order_by(col(EntryRow.id))))


def newest_entry(session: Session, piece_id: int) -> int:
    """Number of the last entry logged on a piece, 0 before the first."""
    newest = session.exec(
        select(EntryRow.id)
        .where(EntryRow.piece_id == piece_id)
        .order_by(col(EntryRow.id).desc())
        .limit(1)
    ).first()
    return newest or 0


def change_mark(session: Session, piece_id: int) -> str:
    """Differs whenever something was logged, struck or finished on a piece."""
    strikes = session.exec(
        select(func.count())
        .select_from(StrikeRow)
        .where(col(StrikeRow.entry_id) == EntryRow.id, EntryRow.piece_id == piece_id)
    ).one()
    piece = session.get(PieceRow, piece_id)
    closed_as = piece.closed_as if piece else ""
    return f"{newest_entry(session, piece_id)}.{strikes}.{closed_as}"


def strikes_of(session: Session, rows: list[EntryRow]) -> dict[int, StrikeRow]:
    if not rows:
        return {}
    numbers = [row.id for row in rows]
    found = session.exec(select(StrikeRow).where(col(StrikeRow.entry_id).in_(numbers)))
    return {strike.entry_id: strike for strike in found}


def minutes_between(early: str, late: str) -> float:
    """By the clock; a clock that was set back counts as no time."""
    span = datetime.fromisoformat(late) - datetime.fromisoformat(early)
    return max(0.0, span.total_seconds() / 60)


def logged_of(
    session: Session, setup: Setup, rows: list[EntryRow], struck: dict[int, StrikeRow]
) -> list[Logged]:
    """Rows with what the computation needs beside them."""
    found: list[Logged] = []
    last_cut = ""
    for row in rows:
        is_cut = row.dial_step_mm is not None
        if is_cut:
            last_cut = row.at
        is_reading = row.type == "reading"
        found.append(
            Logged(
                row=row,
                is_struck=(row.id or 0) in struck,
                instrument=(
                    instrument_of(session, row.instrument_id or setup.instrument_id, row.at)
                    if is_reading
                    else None
                ),
                shop_c=shop_temperature_c(session, row.at[:10]) if is_reading else 20.0,
                minutes=minutes_between(rows[0].at, row.at),
                minutes_since_cut=minutes_between(last_cut, row.at) if last_cut else None,
            )
        )
    return found


def prior_of(session: Session, setup: Setup) -> Prior | None:
    """What this shop's finished pieces taught of this lathe, material and kind of cut."""
    row = session.exec(
        select(LearnedRow)
        .where(
            LearnedRow.lathe_id == setup.lathe_id,
            LearnedRow.material == setup.material.name,
            LearnedRow.cut == setup.cut_kind.value,
        )
        .order_by(col(LearnedRow.id).desc())
        .limit(1)
    ).first()
    return learned.prior_from_numbers(json.loads(row.body)) if row else None


def chance_spent(session: Session, rows: list[EntryRow]) -> float:
    """Chance to go past the limit that advised cuts already taken on this piece carried."""
    numbers = [row.id for row in rows if row.type == "reading"]
    if not numbers:
        return 0.0
    answers = {
        answer.entry_id: json.loads(answer.body).get("next_cut") or {}
        for answer in session.exec(select(AnswerRow).where(col(AnswerRow.entry_id).in_(numbers)))
    }
    spent, advised = 0.0, 0.0
    for row in rows:
        if row.dial_step_mm is not None and row.dial_step_mm > 0:
            spent, advised = spent + advised, 0.0
        if row.type == "reading":
            advised = float(answers.get(row.id or 0, {}).get("chance_past_limit") or 0.0)
    return spent


def evaluation_of(
    session: Session,
    feature: FeatureRow,
    piece_id: int,
    *,
    upto: int | None = None,
    wants_advice: bool = True,
) -> Evaluation:
    setup = setup_of(session, feature)
    rows = entries_of(session, piece_id, feature.id, upto)
    log = logged_of(session, setup, rows, strikes_of(session, rows))
    return evaluate(
        setup,
        log,
        prior=prior_of(session, setup) if wants_advice else None,
        spent=chance_spent(session, rows) if wants_advice else 0.0,
        wants_advice=wants_advice,
    )
