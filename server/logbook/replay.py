"""Stored entries read back and evaluated."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlmodel import Session, bindparam, col, func, select

from server.logbook.around import Around, State
from server.logbook.evaluate import Evaluation, evaluate
from server.logbook.problems import not_found, refuse
from server.logbook.setup import Setup, piece_of
from server.logbook.sizes import Logged
from server.records.tables import AnswerRow, EntryRow, FeatureRow, PartRow, PieceRow, StrikeRow
from server.wording import say

ADVISED_CUTS = ("cut", "spring_pass")
SAME_STEP_MM = 1e-4
WHOLE_LOG = (
    select(EntryRow, StrikeRow, AnswerRow)
    .outerjoin(StrikeRow, col(StrikeRow.entry_id) == col(EntryRow.id))
    .outerjoin(AnswerRow, col(AnswerRow.entry_id) == col(EntryRow.id))
    .where(col(EntryRow.piece_id) == bindparam("piece_id"))
    .order_by(col(EntryRow.id))
)
NEWEST = (
    select(EntryRow.id)
    .where(col(EntryRow.piece_id) == bindparam("piece_id"))
    .order_by(col(EntryRow.id).desc())
    .limit(1)
)
STRUCK = (
    select(func.count())
    .select_from(StrikeRow)
    .where(
        col(StrikeRow.entry_id) == col(EntryRow.id),
        col(EntryRow.piece_id) == bindparam("piece_id"),
    )
)
CLOSED_AS = select(PieceRow.closed_as).where(col(PieceRow.id) == bindparam("piece_id"))
CHANGES = select(NEWEST.scalar_subquery(), STRUCK.scalar_subquery(), CLOSED_AS.scalar_subquery())


def piece_states(session: Session, piece_ids: Sequence[int]) -> dict[int, tuple[int, int]]:
    """(newest entry, strikes) of each piece; a piece without an entry is left out."""
    states = (
        select(EntryRow.piece_id, func.max(EntryRow.id), func.count(col(StrikeRow.entry_id)))
        .outerjoin(StrikeRow, col(StrikeRow.entry_id) == col(EntryRow.id))
        .where(col(EntryRow.piece_id).in_(piece_ids))
        .group_by(col(EntryRow.piece_id))
    )
    return {piece_id: (newest or 0, struck) for piece_id, newest, struck in session.exec(states)}


def change_mark(session: Session, piece_id: int) -> str:
    """Differs whenever something was logged, struck or finished on a piece."""
    newest, strikes, closed_as = session.execute(CHANGES, {"piece_id": piece_id}).one()
    return mark_of(newest or 0, strikes, closed_as or "")


def mark_of(newest: int, strikes: int, closed_as: str) -> str:
    return f"{newest}.{strikes}.{closed_as}"


def minutes_between(early: str, late: str) -> float:
    """By the clock; a clock that was set back counts as no time."""
    span = datetime.fromisoformat(late) - datetime.fromisoformat(early)
    return max(0.0, span.total_seconds() / 60)


UNTOUCHED = (0, 0)


class PieceLog:
    """One piece with all that was logged on it, in the order it was logged.

    Read in two queries; what its evaluation needs of the shop comes from `around`.
    """

    def __init__(
        self,
        around: Around,
        piece: PieceRow,
        found: Iterable[tuple[EntryRow, StrikeRow | None, AnswerRow | None]],
    ) -> None:
        self.around = around
        self.piece = piece
        self.piece_id = piece.id or 0
        self.rows: list[EntryRow] = []
        self.strikes: dict[int, StrikeRow] = {}
        self.answers: dict[int, AnswerRow] = {}
        self._bodies: dict[int, dict[str, Any]] = {}
        for row, strike, answer in found:
            number = row.id or 0
            self.rows.append(row)
            if strike is not None:
                self.strikes[number] = strike
            if answer is not None:
                self.answers[number] = answer

    @classmethod
    def read(cls, session: Session, piece_id: int) -> PieceLog:
        """Refused (404) where there is no such piece."""
        return cls.of(session, piece_of(session, piece_id))

    @classmethod
    def of(cls, session: Session, piece: PieceRow) -> PieceLog:
        found = session.exec(WHOLE_LOG, params={"piece_id": piece.id})
        return cls(Around(session), piece, found)

    def seen_by(self, session: Session) -> PieceLog:
        """The same log; what it still has to read, it reads through this session."""
        self.around.session = session
        return self

    @property
    def features(self) -> list[FeatureRow]:
        return self.around.features(self.piece.part_id)

    @property
    def part(self) -> PartRow:
        return self.around.part(self.piece.part_id)

    @property
    def newest(self) -> int:
        return (self.rows[-1].id or 0) if self.rows else 0

    @property
    def mark(self) -> str:
        """What change_mark says of this state."""
        return mark_of(self.newest, len(self.strikes), self.piece.closed_as)

    def feature(self, feature_id: int) -> FeatureRow:
        """Refused where the feature is not one of this piece's part."""
        found = next((each for each in self.features if each.id == feature_id), None)
        if found is None:
            if self.around.session.get(FeatureRow, feature_id) is None:
                raise not_found(say("feature"), feature_id)
            raise refuse(
                422,
                "wrong_part",
                say("Feature {number} belongs to another part than this piece.", number=feature_id),
                "feature_id",
            )
        return found

    def rows_of(self, feature_id: int, upto: int | None = None) -> list[EntryRow]:
        """The feature's own entries and the piece's events."""
        return [
            row
            for row in self.rows
            if row.feature_id in (feature_id, None) and (upto is None or (row.id or 0) <= upto)
        ]

    def add(self, row: EntryRow, answer: AnswerRow | None = None) -> None:
        """An entry just stored, or the answer to it."""
        if not self.rows or self.rows[-1] is not row:
            self.rows.append(row)
        if answer is not None:
            self.answers[row.id or 0] = answer

    def answer_body(self, entry_id: int) -> dict[str, Any]:
        """What was answered to a reading, {} where nothing is stored."""
        if entry_id not in self._bodies:
            answer = self.answers.get(entry_id)
            self._bodies[entry_id] = json.loads(answer.body) if answer else {}
        return self._bodies[entry_id]

    def logged(self, setup: Setup, rows: Sequence[EntryRow]) -> list[Logged]:
        """Rows with what the computation needs beside them."""
        found: list[Logged] = []
        last_cut = ""
        for row in rows:
            if row.dial_step_mm is not None:
                last_cut = row.at
            is_reading = row.type == "reading"
            found.append(
                Logged(
                    row=row,
                    is_struck=(row.id or 0) in self.strikes,
                    instrument=(
                        self.around.instrument(
                            row.instrument_id or setup.instrument_id, row.at, setup.method
                        )
                        if is_reading
                        else None
                    ),
                    shop_c=self.around.shop_c(row.at[:10]) if is_reading else 20.0,
                    minutes=minutes_between(rows[0].at, row.at),
                    minutes_since_cut=minutes_between(last_cut, row.at) if last_cut else None,
                )
            )
        return found

    def evaluation(
        self, feature: FeatureRow, *, upto: int | None = None, wants_advice: bool = True
    ) -> Evaluation:
        """Where the feature stands after its last entry, or after entry `upto`."""
        rows = self.rows_of(feature.id or 0, upto)
        struck = sum((row.id or 0) in self.strikes for row in rows)
        state = State(self.piece_id, feature.id or 0, (rows[-1].id or 0) if rows else 0, struck)
        known = self.around.evaluation(state, wants_advice)
        if known is not None:
            return known
        setup = self.around.setup(feature)
        found = evaluate(
            setup,
            self.logged(setup, rows),
            prior=self.around.prior(setup) if wants_advice else None,
            spent=self.chance_spent(feature, rows) if wants_advice else 0.0,
            wants_advice=wants_advice,
        )
        self.around.keep_evaluation(state, wants_advice, found)
        return found

    def chance_spent(self, feature: FeatureRow, rows: Sequence[EntryRow]) -> float:
        """Chance to go past the limit that advised cuts already taken on this piece carried."""
        spent, reading = 0.0, 0
        for row in rows:
            if row.dial_step_mm is not None:
                spent += self.chance_advised(feature, reading)
                reading = 0
            if row.type == "reading":
                reading = row.id or 0
        return spent

    def chance_advised(self, feature: FeatureRow, entry_id: int) -> float:
        """Of the cut advised after a reading; worked out where the answer is not stored yet.

        Where no cut was advised the chance says how the work stands, and nothing was spent.
        """
        if not entry_id:
            return 0.0
        if entry_id in self.answers:
            advised = self.answer_body(entry_id).get("next_cut") or {}
            is_pass = advised.get("action") in ADVISED_CUTS or bool(advised.get("compound"))
            return float(advised.get("chance_past_limit") or 0.0) if is_pass else 0.0
        advice = self.evaluation(feature, upto=entry_id).advice
        return advice.chance_past_limit if advice and advice.is_pass else 0.0


def evaluations_of(session: Session, piece_ids: Sequence[int]) -> dict[int, list[Evaluation]]:
    """Each feature of each piece; a piece of which nothing changed is not read again."""
    around, states = Around(session), piece_states(session, piece_ids)
    found: dict[int, list[Evaluation]] = {}
    for piece_id in piece_ids:
        kept = around.piece_evaluations(piece_id, states.get(piece_id, UNTOUCHED))
        if kept is None:
            log = PieceLog.read(session, piece_id)
            kept = [log.evaluation(feature) for feature in log.features]
            around.keep_piece_evaluations(piece_id, (log.newest, len(log.strikes)), kept)
        found[piece_id] = kept
    return found
