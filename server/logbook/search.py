"""Finding finished pieces: one folded line of text for each, written when the piece is closed.

The line holds part name and number, material, serial, designations, feature names, operators and
the day; it is derived from the records and can be made anew at any time.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from sqlmodel import Session, col, select

from server.records.tables import (
    ClosingRow,
    EntryRow,
    FeatureRow,
    PartRow,
    PieceRow,
    SearchRow,
)

MOST_WORDS = 8


def folded(text: str) -> str:
    return " ".join(text.casefold().split())


def search_line(
    part: PartRow,
    piece: PieceRow,
    features: Iterable[FeatureRow],
    operators: Iterable[str],
    closed_at: str,
) -> str:
    """What a piece can be found by."""
    words = [part.name, part.number, part.material, piece.serial, f"piece {piece.number}"]
    words += [f"{each.designation} {each.label}" for each in features]
    words += [*operators, piece.closed_as, day_words(closed_at)]
    return folded(" ".join(words))


def day_words(at: str) -> str:
    """A day as it may be asked for: 2026-05-02, 2 May 2026."""
    day = date.fromisoformat(at[:10])
    return f"{day.isoformat()} {day.day} {day:%B %Y}"


def note_finished(session: Session, piece: PieceRow, closing: ClosingRow) -> None:
    """Makes a piece that was just closed findable, or findable by what it is closed as now."""
    part = session.get_one(PartRow, piece.part_id)
    features = session.exec(select(FeatureRow).where(FeatureRow.part_id == part.id)).all()
    operators = session.exec(
        select(EntryRow.operator).where(EntryRow.piece_id == piece.id).distinct()
    ).all()
    line = search_line(
        part, piece, features, sorted({*operators, closing.initials} - {""}), closing.at
    )
    session.merge(SearchRow(piece_id=piece.id or 0, text=line))


def forget(session: Session, piece_id: int) -> None:
    """A piece that is in work again is no finished one."""
    row = session.get(SearchRow, piece_id)
    if row is not None:
        session.delete(row)


def find_pieces(session: Session, text: str, most: int) -> list[tuple[PieceRow, PartRow]]:
    """Finished pieces whose line holds every word, newest first.

    The longest word is looked for first: it is in the fewest lines.
    """
    numbers = select(SearchRow.piece_id)
    for word in sorted(set(folded(text).split()), key=len, reverse=True)[:MOST_WORDS]:
        numbers = numbers.where(col(SearchRow.text).contains(word, autoescape=True))
    newest = numbers.order_by(col(SearchRow.piece_id).desc()).limit(most)
    found = session.exec(newest).all()
    rows = session.exec(
        select(PieceRow, PartRow)
        .where(PieceRow.part_id == PartRow.id, col(PieceRow.id).in_(found))
        .order_by(col(PieceRow.id).desc())
    )
    return [(piece, part) for piece, part in rows]
