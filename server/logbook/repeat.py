"""Work that comes back: a part copied, and how the same size went before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from statistics import median

from sqlmodel import Session, col, func, or_, select

from server.logbook.parts import features_of, part_of
from server.logbook.problems import optional_text, short_text
from server.logbook.shop import note_change, stamp
from server.metrology import designation
from server.metrology.model import DesignationError, Kind
from server.records.tables import EntryRow, FeatureRow, LatheRow, PartRow, PieceRow, StrikeRow
from server.wording import joined, say, say_n

MOST_BEFORE = 40  # finished pieces looked back on
MOST_FEATURES = 60  # the newest ones; a common fit is on thousands of parts


def copy_part(session: Session, part_id: int, name: str, number: str, now: datetime) -> PartRow:
    """A new part with the same features and set-up.  What the shop learned carries by itself.

    name  the old one's where empty
    """
    old = part_of(session, part_id)
    part = PartRow(
        name=short_text(name.strip() or old.name, "name", say("The name")),
        number=optional_text(number, "number", say("The number"), 80),
        material=old.material,
        unit=old.unit,
        created_at=stamp(now),
    )
    session.add(part)
    session.flush()
    for feature in features_of(session, part_id):
        values = feature.model_dump(exclude={"id", "part_id", "created_at"})
        session.add(FeatureRow(**values, part_id=part.id or 0, created_at=stamp(now)))
    session.flush()
    note_change(session, now, "", "part copied", f"{old.name} to {part.name}")
    return part


@dataclass(frozen=True)
class Before:
    """How a size went on the finished pieces that had it, newest first.

    passes  cuts a piece took, the median
    """

    pieces: int
    good: int
    scrapped: int
    concessions: int
    passes: float
    last_piece_id: int
    last_at: str
    last_part: str
    lathes: tuple[str, ...]

    @property
    def words(self) -> str:
        pieces = say_n(self.pieces, "{n} piece", "{n} pieces")
        ends = joined(
            (
                say("{n} good", n=self.good) if self.good else "",
                say("{n} scrapped", n=self.scrapped) if self.scrapped else "",
                say("{n} by concession", n=self.concessions) if self.concessions else "",
            )
        )
        count = 2 if self.passes != 1 else 1
        cuts = say_n(count, "{n} cut each", "{n} cuts each", n=f"{self.passes:g}")
        if not self.lathes:
            return say(
                "Cut before on {pieces}: {ends}; usually {cuts}.",
                pieces=pieces,
                ends=ends,
                cuts=cuts,
            )
        return say(
            "Cut before on {pieces} on {lathes}: {ends}; usually {cuts}.",
            pieces=pieces,
            lathes=joined(self.lathes),
            ends=ends,
            cuts=cuts,
        )


def same_before(
    session: Session, text: str, kind: str, unit: str, *, not_part: int | None = None
) -> Before | None:
    """The finished pieces with the same designation; None where there was none.

    kind  as the designation says where empty
    A bare size means another thing in the other unit; a standard designation does not.
    """
    try:
        target = designation.read(text, Kind(kind) if kind else None, unit)
    except (DesignationError, ValueError):
        return None
    spellings = {text.strip(), designation.normalised(text), target.designation}
    wanted = select(FeatureRow).where(
        col(FeatureRow.designation).in_(spellings), FeatureRow.kind == target.kind.value
    )
    if target.family == "stated":
        wanted = wanted.where(FeatureRow.unit == unit)
    newest = wanted.order_by(col(FeatureRow.id).desc()).limit(MOST_FEATURES)
    features = [row for row in session.exec(newest) if row.part_id != not_part]
    if not features:
        return None
    rows = session.exec(
        select(PieceRow, PartRow)
        .where(
            PieceRow.part_id == PartRow.id,
            PieceRow.closed_as != "",
            col(PieceRow.part_id).in_({row.part_id for row in features}),
        )
        .order_by(col(PieceRow.id).desc())
        .limit(MOST_BEFORE)
    ).all()
    return how_it_went(session, [(piece, part) for piece, part in rows], features) if rows else None


def how_it_went(
    session: Session, rows: list[tuple[PieceRow, PartRow]], features: list[FeatureRow]
) -> Before:
    pieces = [piece for piece, _ in rows]
    cuts = cuts_of(session, [piece.id or 0 for piece in pieces], [row.id or 0 for row in features])
    closed = [piece.closed_as for piece in pieces]
    names = session.exec(
        select(LatheRow.name).where(col(LatheRow.id).in_({row.lathe_id for row in features}))
    ).all()
    last, part = rows[0]
    return Before(
        pieces=len(pieces),
        good=closed.count("good"),
        scrapped=closed.count("scrap"),
        concessions=closed.count("concession"),
        passes=median(cuts.get(piece.id or 0, 0) for piece in pieces),
        last_piece_id=last.id or 0,
        last_at=last.opened_at,
        last_part=part.name,
        lathes=tuple(sorted(set(names))),
    )


def cuts_of(session: Session, pieces: list[int], features: list[int]) -> dict[int, int]:
    """Cuts that each piece took on these features; a struck pass is none."""
    rows = session.exec(
        select(EntryRow.piece_id, func.count())
        .outerjoin(StrikeRow, col(StrikeRow.entry_id) == col(EntryRow.id))
        .where(
            col(EntryRow.piece_id).in_(pieces),
            col(EntryRow.feature_id).in_(features),
            col(EntryRow.dial_step_mm).is_not(None),
            or_(EntryRow.type != "pass", col(StrikeRow.entry_id).is_(None)),
        )
        .group_by(col(EntryRow.piece_id))
    ).all()
    return dict(rows)
