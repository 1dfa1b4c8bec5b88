"""The logbook: one object that the pages and the API hold."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import Session, bindparam, col, select

from server import __version__
from server.logbook import closing, entries
from server.logbook.answers import answer_json, entry_json, shown_advice, state_json
from server.logbook.cautions import answer_cautions
from server.logbook.evaluate import Evaluation
from server.logbook.history import struck_json
from server.logbook.problems import refuse
from server.logbook.replay import NEWEST, PieceLog
from server.logbook.typed import EventTyped, GaugeTyped, PassTyped, ReadingTyped
from server.logbook.unsaved import unread, unsaved
from server.records.database import Database
from server.records.space import low_space
from server.records.tables import ANSWER, AnswerRow, EntryRow
from server.settings import Settings
from server.wording import say

log = logging.getLogger("midlimit")
NEWEST_AND_ANSWER = select(
    NEWEST.scalar_subquery(),
    select(AnswerRow.body)
    .where(col(AnswerRow.entry_id) == bindparam("entry_id"))
    .scalar_subquery(),
)


@dataclass(frozen=True)
class Answer:
    """What to answer to a logged entry; is_new is False where the key had been used before."""

    body: dict[str, Any]
    is_new: bool
    log: PieceLog | None = None  # with this entry, where nothing has come after it


class Logbook:
    def __init__(self, database: Database, settings: Settings) -> None:
        self.database = database
        self.settings = settings

    def now(self) -> datetime:
        return self.settings.clock()

    def space_warning(self) -> str:
        """What to say where the disk of the embedded database is nearly full, else ""."""
        folder = self.settings.data_dir
        is_embedded = self.settings.url.startswith("sqlite")
        return low_space(folder) if is_embedded and folder.is_dir() else ""

    @contextmanager
    def writing(self) -> Iterator[tuple[Session, datetime]]:
        """A session whose changes are on disk when the block ends, and the time.

        Refused (507, 503) where the database could not write them; nothing is stored then.
        """
        try:
            with self.database.writing() as session:
                yield session, self.now()
        except DBAPIError as error:
            refusal = unsaved(error)
            if refusal is None:
                raise
            log.error("not saved: %s", error.orig)
            raise refusal from error

    @contextmanager
    def reading(self) -> Iterator[Session]:
        try:
            with self.database.reading() as session:
                yield session
        except DBAPIError as error:
            refusal = unread(error)
            if refusal is None:
                raise
            log.error("not read: %s", error.orig)
            raise refusal from error

    def check_database(self) -> None:
        """Refused (503) where the database does not answer."""
        try:
            with self.reading() as session:
                session.connection().execute(text("SELECT 1")).one()
        except Exception as error:
            raise refuse(503, "database", say("The database does not answer.")) from error

    def log_reading(self, piece_id: int, typed: ReadingTyped) -> Answer:
        """Store first, then work out; a fault in the second part still answers "saved"."""
        with self.writing() as (session, now):
            stored = entries.store_reading(session, piece_id, typed, now)
        row, is_new = stored.row, stored.is_new
        try:
            body, log_after = self.work_out(stored)
        except Exception:
            log.exception("reading %s is saved, its answer failed", row.id)
            body = {
                "reading": entry_json(row),
                "saved": True,
                "problem": say("Saved, but the next cut could not be worked out from it."),
            } | dict.fromkeys(("size", "verdict", "warm", "stock_left", "next_cut"))
            return Answer(body, is_new)
        return Answer(body, is_new, log_after)

    def work_out(self, stored: entries.Stored) -> tuple[dict[str, Any], PieceLog | None]:
        """The answer to a stored reading, kept with it; the log if nothing came since."""
        row = stored.row
        with self.reading() as session:
            known = None if stored.is_new else session.get(AnswerRow, row.id)
            if known is not None:
                return json.loads(known.body), None
            log = stored.log or PieceLog.read(session, row.piece_id)
            feature = log.seen_by(session).feature(row.feature_id or 0)
            found = log.evaluation(feature, upto=row.id)
            body = answer_json(found, row) | answer_cautions(log.around, found, row)
        answer = answer_row(row, found, body)
        try:
            earlier, is_newest = self.keep_answer(row, answer)
        except IntegrityError:  # stored meanwhile by another server process
            with self.reading() as session:
                earlier, is_newest = session.get_one(AnswerRow, row.id).body, False
        if earlier is not None:  # the same request twice at once: the first answer stands
            return json.loads(earlier), None
        if stored.log is None or not is_newest:
            return body, None
        log.add(row, answer)
        return body, log

    def keep_answer(self, row: EntryRow, answer: AnswerRow) -> tuple[str | None, bool]:
        """(the answer stored already, if one is; whether nothing was logged after the reading)."""
        with self.writing() as (session, _now):
            state = {"piece_id": row.piece_id, "entry_id": row.id}
            newest, earlier = session.execute(NEWEST_AND_ANSWER, state).one()
            if earlier is None:
                session.connection().execute(ANSWER.insert(), answer.model_dump())
            return earlier, newest == row.id

    def log_pass(self, piece_id: int, typed: PassTyped) -> Answer:
        with self.writing() as (session, now):
            row, is_new = entries.store_pass(session, piece_id, typed, now)
        return Answer({"pass": entry_json(row)}, is_new)

    def log_event(self, piece_id: int, typed: EventTyped) -> Answer:
        with self.writing() as (session, now):
            row, is_new = entries.store_event(session, piece_id, typed, now)
        return Answer({"event": entry_json(row)}, is_new)

    def log_gauge(self, piece_id: int, typed: GaugeTyped) -> Answer:
        with self.writing() as (session, now):
            row, is_new = entries.store_gauge(session, piece_id, typed, now)
        return Answer({"gauge": entry_json(row)} | self.state_of(row), is_new)

    def strike(
        self, entry_id: int, reason: str, operator: str, kinds: tuple[str, ...] = ("reading",)
    ) -> dict[str, Any]:
        with self.writing() as (session, now):
            row, strike = entries.strike(session, entry_id, reason, operator, now, kinds)
        return {row.type: entry_json(row) | {"struck": struck_json(strike)}} | self.state_of(row)

    def state_of(self, row: EntryRow) -> dict[str, Any]:
        if row.feature_id is None:
            return {}
        with self.reading() as session:
            log = PieceLog.read(session, row.piece_id)
            feature = log.feature(row.feature_id)
            found = log.evaluation(feature)
        return state_json(found, feature.unit)

    def finish(self, piece_id: int, asked: closing.Finish) -> dict[str, Any]:
        with self.writing() as (session, now):
            return closing.finish(session, piece_id, asked, now)


def answer_row(row: EntryRow, found: Evaluation, body: dict[str, Any]) -> AnswerRow:
    now, advice = found.current, shown_advice(found)
    landing = advice.landing if advice else None
    ends = (
        sorted(found.size_at(end) for end in (landing.low_mm, landing.high_mm)) if landing else []
    )
    return AnswerRow(
        entry_id=row.id or 0,
        core_version=__version__,
        size_mm=now.size_mm if now else None,
        doubt_mm=now.doubt_mm if now else None,
        size_low_mm=now.low_mm if now else None,
        size_high_mm=now.high_mm if now else None,
        verdict=now.verdict.value if now else "",
        warm_state=now.warm_state.value if now else "",
        landing_expected_mm=found.size_at(landing.expected_mm) if landing else None,
        landing_low_mm=ends[0] if ends else None,
        landing_high_mm=ends[1] if ends else None,
        body=json.dumps(body),
    )
