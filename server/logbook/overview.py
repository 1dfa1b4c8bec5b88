"""What is in work, what is finished, and how each piece stands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from server.logbook.evaluate import Evaluation
from server.logbook.replay import evaluations_of
from server.logbook.search import Ways, as_typed, find_pieces
from server.metrology.thermal import WarmState
from server.records.tables import ClosingRow, EntryRow, FeatureRow, PartRow, PieceRow

MOST_OPEN = 60
MOST_FOUND = 50
MOST_PARTS = 60
MOST_PIECES = 40


@dataclass(frozen=True)
class Standing:
    """One feature of an open piece."""

    evaluation: Evaluation

    @property
    def is_waiting(self) -> bool:
        now = self.evaluation.current
        return now is not None and now.warm_state is WarmState.WAIT


@dataclass(frozen=True)
class PartCount:
    part: PartRow
    features: int
    pieces: int


def standings(session: Session, pieces: Sequence[PieceRow]) -> dict[int, list[Standing]]:
    """How each open piece stands, by its number; what was worked out before is not read again."""
    numbers = [piece.id or 0 for piece in pieces]
    return {
        piece_id: [Standing(found) for found in evaluations]
        for piece_id, evaluations in evaluations_of(session, numbers).items()
    }


def open_pieces(session: Session) -> list[tuple[PieceRow, PartRow]]:
    """Newest first."""
    query = (
        select(PieceRow, PartRow)
        .where(PieceRow.part_id == PartRow.id, PieceRow.closed_as == "")
        .order_by(col(PieceRow.id).desc())
        .limit(MOST_OPEN)
    )
    return [(piece, part) for piece, part in session.exec(query)]


def finished_pieces(
    session: Session, search: str, ways: Callable[[str], Ways] = as_typed
) -> list[tuple[PieceRow, PartRow]]:
    """Finished pieces in whose search line every word stands, newest first."""
    return find_pieces(session, search, MOST_FOUND, ways)


def parts_at_rest(session: Session) -> list[PartCount]:
    """Parts without an open piece, newest first."""
    in_work = select(PieceRow.part_id).where(PieceRow.closed_as == "")
    rows = session.exec(
        select(PartRow)
        .where(col(PartRow.id).not_in(in_work))
        .order_by(col(PartRow.id).desc())
        .limit(MOST_PARTS)
    ).all()
    numbers = [row.id for row in rows]
    features = dict(
        session.exec(
            select(FeatureRow.part_id, func.count())
            .where(col(FeatureRow.part_id).in_(numbers))
            .group_by(col(FeatureRow.part_id))
        ).all()
    )
    pieces = dict(
        session.exec(
            select(PieceRow.part_id, func.count())
            .where(col(PieceRow.part_id).in_(numbers))
            .group_by(col(PieceRow.part_id))
        ).all()
    )
    return [
        PartCount(row, features.get(row.id or 0, 0), pieces.get(row.id or 0, 0)) for row in rows
    ]


def pieces_of(session: Session, part_id: int) -> list[PieceRow]:
    query = (
        select(PieceRow)
        .where(PieceRow.part_id == part_id)
        .order_by(col(PieceRow.id).desc())
        .limit(MOST_PIECES)
    )
    return list(session.exec(query))


def last_readings(session: Session, pieces: Sequence[PieceRow]) -> dict[int, str]:
    """When the last reading of each piece was logged; a piece without one is left out."""
    last = (
        select(func.max(EntryRow.id))
        .where(
            col(EntryRow.piece_id).in_([piece.id for piece in pieces]),
            EntryRow.type == "reading",
        )
        .group_by(col(EntryRow.piece_id))
    )
    rows = session.exec(select(EntryRow.piece_id, EntryRow.at).where(col(EntryRow.id).in_(last)))
    return dict(rows.all())


def closings(session: Session, pieces: Sequence[PieceRow]) -> dict[int, ClosingRow]:
    """The last closing of each finished piece."""
    numbers = [piece.id for piece in pieces if piece.closed_as]
    if not numbers:
        return {}
    rows = session.exec(
        select(ClosingRow).where(col(ClosingRow.piece_id).in_(numbers)).order_by(col(ClosingRow.id))
    )
    return {row.piece_id: row for row in rows}
