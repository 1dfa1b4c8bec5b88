"""A finished piece opened again, and what scraps parts here."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from server.logbook.entries import claimed_piece
from server.logbook.problems import optional_text, refuse, short_text
from server.logbook.search import folded, forget
from server.logbook.shop import note_change, shop_row, stamp
from server.metrology.decision import Verdict
from server.records.tables import ClosingRow, PieceRow
from server.wording import say

REWORK = "rework"  # a closing row that opens the piece again
MOST_SCRAPPED = 1000  # closings looked back on
MOST_REASONS = 8


def rework(
    session: Session, piece_id: int, reason: str, initials: str, now: datetime
) -> dict[str, Any]:
    """Open a finished piece again.  What it was finished as stays on record.

    Refused: 409 where it is open, 422 without a reason.
    """
    piece = claimed_piece(session, piece_id)
    if not piece.closed_as:
        message = say("Piece {number} is in work already.", number=piece.number)
        raise refuse(409, "not_finished", message)
    why = short_text(reason, "reason", say("The reason"), 500)
    who = optional_text(initials, "initials", say("The initials"), 20)
    was = piece.closed_as
    piece.closed_as = ""
    session.add(piece)
    session.add(
        ClosingRow(
            piece_id=piece_id,
            closed_as=REWORK,
            decision_rule=shop_row(session).decision_rule,
            initials=who,
            reason=why,
            at=stamp(now),
        )
    )
    forget(session, piece_id)
    note_change(session, now, who, f"piece finished as {was} reworked", f"piece {piece_id}: {why}")
    return {"piece": {"id": piece.id, "number": piece.number, "state": "open"}}


def closings_of(session: Session, piece_id: int) -> list[ClosingRow]:
    """Every time the piece was finished or opened again, oldest first."""
    found = select(ClosingRow).where(ClosingRow.piece_id == piece_id)
    return list(session.exec(found.order_by(col(ClosingRow.id))))


def closing_json(row: ClosingRow) -> dict[str, Any]:
    return {
        "as": row.closed_as,
        "at": row.at,
        "rule": row.decision_rule,
        "initials": row.initials,
        "reason": row.reason,
    }


@dataclass(frozen=True)
class ScrapReason:
    """One thing that scraps parts here, as it was last written down."""

    reason: str
    count: int
    last_at: str
    features: tuple[str, ...]  # labels that were past their limit, most often first


def scrap_reasons(session: Session) -> list[ScrapReason]:
    """Reasons of the pieces that are scrap now, most frequent first; spelling alone is the same."""
    rows = session.exec(
        select(ClosingRow)
        .where(
            ClosingRow.piece_id == PieceRow.id,
            PieceRow.closed_as == "scrap",
            ClosingRow.closed_as == "scrap",
        )
        .order_by(col(ClosingRow.id).desc())
        .limit(MOST_SCRAPPED)
    ).all()
    newest = {row.piece_id: row for row in reversed(rows)}
    groups: dict[str, list[ClosingRow]] = {}
    for row in sorted(newest.values(), key=lambda row: row.id or 0, reverse=True):
        groups.setdefault(folded(row.reason).rstrip("."), []).append(row)
    reasons = [
        ScrapReason(group[0].reason, len(group), group[0].at, lost_features(group))
        for group in groups.values()
    ]
    return sorted(reasons, key=lambda each: -each.count)[:MOST_REASONS]


def lost_features(rows: list[ClosingRow]) -> tuple[str, ...]:
    lost = Counter(
        verdict["label"]
        for row in rows
        for verdict in json.loads(row.verdicts).values()
        if verdict["verdict"] == Verdict.PAST_LIMIT.value
    )
    return tuple(label for label, _ in lost.most_common(3))
