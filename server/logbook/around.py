"""The shop around a piece: set-ups, instruments, temperatures and priors, read once a revision.

Every change of the shop raises its revision in the same transaction, so what was read under one
revision holds until the next, for every thread and for several server processes on one database.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Hashable, Iterable
from dataclasses import replace
from typing import Any, NamedTuple, TypeVar

from sqlmodel import Session, SQLModel, col, select
from sqlmodel.sql.expression import SelectOfScalar

from server.advice import learned
from server.advice.model import Prior
from server.logbook.evaluate import Evaluation
from server.logbook.setup import Setup, instrument_of, setup_of
from server.logbook.shop import instrument_rows, operator_rows, shop_temperature_c
from server.logbook.shop_instruments import instrument_label
from server.metrology.instruments import Instrument
from server.metrology.scatter import NO_REPEATS, Repeats
from server.records.tables import (
    FeatureRow,
    InstrumentRow,
    LearnedRow,
    OperatorRow,
    PartRow,
    RevisionRow,
    ScatterRow,
    ZeroCheckRow,
)

Found = TypeVar("Found")
Row = TypeVar("Row", bound=SQLModel)
MOST_KEPT = 3000  # things; a busy shop needs some hundreds
MOST_EVALUATIONS = 400
MOST_PIECES = 100
RECENT_CHECKS = 12
MOST_RECORDED = 30  # features looked back on for how an instrument repeats
NO_FACTS = -1
REVISION = select(RevisionRow.number).where(RevisionRow.id == 1)


def loose(row: Row) -> Row:
    """A copy that belongs to no session, so that one session's rollback can't empty it."""
    return type(row)(**row.model_dump())


def pooled(rows: Iterable[ScatterRow]) -> Repeats:
    found = NO_REPEATS
    for row in rows:
        found = found.with_other(Repeats(row.squares_mm2, row.dof))
    return found


class State(NamedTuple):
    """What a feature's evaluation depends on besides the shop: its log only ever grows."""

    piece_id: int
    feature_id: int
    last_entry: int  # 0 before the first
    struck: int


class Facts:
    """What was read of the shop under one revision."""

    def __init__(self, revision: int) -> None:
        self.revision = revision
        self.known: dict[Hashable, Any] = {}
        self.evaluations: dict[tuple[State, bool], Evaluation] = {}
        self.pieces: dict[int, tuple[tuple[int, int], list[Evaluation]]] = {}


def facts_of(session: Session) -> Facts:
    """Shared with other sessions, unless this one is changing the shop itself."""
    mine: Facts | None = session.info.get("facts")
    if session.info.get("changed"):
        if mine is None or mine.revision != NO_FACTS:
            mine = session.info["facts"] = Facts(NO_FACTS)
        return mine
    if mine is not None:
        return mine
    revision = session.exec(REVISION).first() or 0
    memory: dict[str, Any] = session.info.get("memory", {})
    shared: Facts | None = memory.get("facts")
    if shared is None or shared.revision < revision:
        shared = memory["facts"] = Facts(revision)
    mine = shared if shared.revision == revision else Facts(revision)
    session.info["facts"] = mine
    return mine


class Around:
    """What the computation needs besides a piece's own log.  Good for one session."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.facts = facts_of(session)

    def once(self, key: Hashable, read: Callable[[], Found]) -> Found:
        known = self.facts.known
        if key in known:
            kept: Found = known[key]
            return kept
        if len(known) >= MOST_KEPT:
            known.clear()
        found = known[key] = read()
        return found

    def part(self, part_id: int) -> PartRow:
        return self.once(("part", part_id), lambda: loose(self.session.get_one(PartRow, part_id)))

    def features(self, part_id: int) -> list[FeatureRow]:
        def read() -> list[FeatureRow]:
            mine = select(FeatureRow).where(FeatureRow.part_id == part_id)
            return self.rows(mine.order_by(col(FeatureRow.id)))

        return self.once(("features", part_id), read)

    def setup(self, feature: FeatureRow) -> Setup:
        return self.once(("setup", feature.id), lambda: setup_of(self.session, feature))

    def instrument(self, instrument_id: int, at: str, method: str) -> Instrument:
        """The instrument as it was then: its last zero check, and how it had repeated in jobs
        finished by that time, measured by that method."""
        checked = self.checked_instrument(instrument_id, at)
        record = self.record(instrument_id, at, method)
        return replace(checked, record=record) if record.dof else checked

    def record(self, instrument_id: int, at: str, method: str) -> Repeats:
        key = (instrument_id, method)
        recent = self.once(("scatter", *key), lambda: self.recorded(instrument_id, method))
        known = next((i for i, each in enumerate(recent) if each.at <= at), len(recent))
        if known and len(recent) == MOST_RECORDED:
            return pooled(self.recorded(instrument_id, method, at))
        return self.once(("record", *key, known), lambda: pooled(recent[known:]))

    def recorded(self, instrument_id: int, method: str, by: str = "9") -> list[ScatterRow]:
        """How it repeated on features finished by that time, newest first."""
        newest_first = (
            select(ScatterRow)
            .where(
                ScatterRow.instrument_id == instrument_id,
                ScatterRow.method == method,
                ScatterRow.at <= by,
            )
            .order_by(col(ScatterRow.id).desc())
            .limit(MOST_RECORDED)
        )
        return self.rows(newest_first)

    def methods(self, instrument_id: int) -> list[str]:
        """The ways of measuring that an instrument's repeats are known for."""
        known = select(ScatterRow.method).where(ScatterRow.instrument_id == instrument_id)
        return sorted(self.session.exec(known.distinct()))

    def checked_instrument(self, instrument_id: int, at: str) -> Instrument:
        """The instrument with its last zero check made by that time."""
        recent = self.once(("checks", instrument_id), lambda: self.recent_checks(instrument_id))
        check = next((each for each in recent if each.at <= at), None)
        if check is None and len(recent) == RECENT_CHECKS:
            return instrument_of(self.session, instrument_id, at)
        return self.once(
            ("instrument", instrument_id, check.id if check else 0),
            lambda: instrument_of(self.session, instrument_id, at),
        )

    def rows(self, query: SelectOfScalar[Row]) -> list[Row]:
        return [loose(row) for row in self.session.exec(query)]

    def instrument_row(self, instrument_id: int) -> InstrumentRow | None:
        def read() -> InstrumentRow | None:
            row = self.session.get(InstrumentRow, instrument_id)
            return loose(row) if row else None

        return self.once(("instrument row", instrument_id), read)

    def recent_checks(self, instrument_id: int) -> list[ZeroCheckRow]:
        newest_first = (
            select(ZeroCheckRow)
            .where(ZeroCheckRow.instrument_id == instrument_id)
            .order_by(col(ZeroCheckRow.id).desc())
            .limit(RECENT_CHECKS)
        )
        return self.rows(newest_first)

    def shop_c(self, day: str) -> float:
        return self.once(("shop_c", day), lambda: shop_temperature_c(self.session, day))

    def prior(self, setup: Setup) -> Prior | None:
        """What this shop's finished pieces taught of this lathe, material and kind of cut."""
        key = ("prior", setup.lathe_id, setup.material.name, setup.cut_kind)
        return self.once(key, lambda: self.prior_stored(setup))

    def prior_stored(self, setup: Setup) -> Prior | None:
        row = self.session.exec(
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

    def evaluation(self, state: State, wants_advice: bool) -> Evaluation | None:
        """The evaluation of that state where it was worked out before."""
        kept = self.facts.evaluations
        return kept.get((state, True)) or (None if wants_advice else kept.get((state, False)))

    def keep_evaluation(self, state: State, has_advice: bool, found: Evaluation) -> None:
        kept = self.facts.evaluations
        if not state.last_entry:
            return
        if len(kept) >= MOST_EVALUATIONS:
            kept.clear()
        kept[(state, has_advice)] = found

    def piece_evaluations(self, piece_id: int, state: tuple[int, int]) -> list[Evaluation] | None:
        """All features of a piece in that state (newest entry, strikes) where they are known."""
        kept = self.facts.pieces.get(piece_id)
        return kept[1] if kept is not None and kept[0] == state else None

    def keep_piece_evaluations(
        self, piece_id: int, state: tuple[int, int], found: list[Evaluation]
    ) -> None:
        if len(self.facts.pieces) >= MOST_PIECES:
            self.facts.pieces.clear()
        self.facts.pieces[piece_id] = (state, found)

    def instruments_in_use(self) -> list[InstrumentRow]:
        return self.once(
            "instruments", lambda: [loose(row) for row in instrument_rows(self.session)]
        )

    def instrument_label(self, row: InstrumentRow) -> str:
        return instrument_label(row, self.instruments_in_use())

    def operators(self) -> list[OperatorRow]:
        return self.once("operators", lambda: [loose(row) for row in operator_rows(self.session)])
