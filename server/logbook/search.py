"""Finding finished pieces: one folded line of text for each, written when the piece is closed.

The line holds part name and number, material, serial, designations, feature names, operators and
the day; it is derived from the records and can be made anew at any time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date

from sqlalchemy import Integer, column, or_, table, text
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from server.records.tables import (
    ClosingRow,
    EntryRow,
    FeatureRow,
    PartRow,
    PieceRow,
    SearchRow,
)

MOST_WORDS = 8
SHORTEST_INDEXED = 3
MOST_READ = 1000
INDEX = table("search_words", column("rowid", Integer), column("text"))
IS_INDEXED = text("SELECT 1 FROM sqlite_master WHERE name = 'search_words'")
Ways = tuple[str, ...]  # a word as it was typed, and what it is called in the lines


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


def as_typed(word: str) -> Ways:
    return (word,)


def find_pieces(
    session: Session, wanted: str, most: int, ways: Callable[[str], Ways] = as_typed
) -> list[tuple[PieceRow, PartRow]]:
    """Finished pieces whose line holds every word, newest first.

    ways  all that a word may be called in a line, which is English
    """
    words = sorted(set(folded(wanted.replace("\0", " ")).split()), key=len, reverse=True)
    found = numbers_of(session, [ways(word) for word in words[:MOST_WORDS]], most)
    rows = session.exec(
        select(PieceRow, PartRow)
        .where(PieceRow.part_id == PartRow.id, col(PieceRow.id).in_(found))
        .order_by(col(PieceRow.id).desc())
    )
    return [(piece, part) for piece, part in rows]


def numbers_of(session: Session, words: Sequence[Ways], most: int) -> Sequence[int]:
    """The pieces whose line holds every word, the longest given first; newest first.

    The index knows words of three letters and more.  Shorter ones are looked for in the lines it
    finds, or in all lines, newest first, where those are so many that reading them is no slower;
    the shorter word comes first then, since the longer ones are in many lines.
    """
    long = [ways for ways in words if len(min(ways, key=len)) >= SHORTEST_INDEXED]
    lines = select(SearchRow.piece_id).order_by(col(SearchRow.piece_id).desc())
    if long and has_index(session):
        is_enough = len(long) == len(words)
        found = session.exec(by_index(long).limit(most if is_enough else MOST_READ)).all()
        if is_enough:
            return found
        if len(found) < MOST_READ:
            lines = lines.where(col(SearchRow.piece_id).in_(found))
    for ways in reversed(words) if long else words:
        held = (col(SearchRow.text).contains(way, autoescape=True) for way in ways)
        lines = lines.where(or_(*held))
    return session.exec(lines.limit(most)).all()


def has_index(session: Session) -> bool:
    """Whether the embedded database has the index of migration 0006; a server uses its own."""
    if session.get_bind().dialect.name != "sqlite":
        return False
    return session.connection().execute(IS_INDEXED).first() is not None


def by_index(words: Sequence[Ways]) -> SelectOfScalar[int]:
    phrases = " AND ".join(f"({' OR '.join(map(phrase, ways))})" for ways in words)
    number = INDEX.c.rowid
    return select(number).where(INDEX.c.text.op("MATCH")(phrases)).order_by(number.desc())


def phrase(way: str) -> str:
    return '"' + way.replace('"', '""') + '"'
