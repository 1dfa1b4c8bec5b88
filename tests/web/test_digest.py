"""The digest changes if any reading's text, time or strike changes, and only then."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import settings as trying
from hypothesis import strategies as st
from sqlalchemy import Boolean, Column, Float, Integer, Table, func, not_
from sqlmodel import Session, SQLModel

from server.demo import fill_if_empty
from server.logbook.digest import piece_digest
from server.logbook.replay import PieceLog
from server.records.database import Database
from server.records.tables import EntryRow, StrikeRow
from server.settings import Settings

KINDS = ("reading", "reading", "reading", "pass", "event", "gauge")
TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=12)
STAMPS = st.datetimes().map(lambda when: when.strftime("%Y-%m-%dT%H:%M:%S.%fZ"))
COVERED = {"value", "unit", "at", "type"}  # of an entry; whether it is a reading at all is its type
OTHERS = sorted(set(EntryRow.model_fields) - COVERED - {"id"})


@st.composite
def logs(draw: st.DrawFn) -> tuple[list[EntryRow], dict[int, StrikeRow]]:
    count = draw(st.integers(1, 6))
    rows = [
        EntryRow(
            id=7 + number,
            piece_id=1,
            feature_id=draw(st.integers(1, 3)),
            type=draw(st.sampled_from(KINDS)),
            entry_key=f"key-{number}",
            body="{}",
            at=draw(STAMPS),
            value=draw(TEXT),
            unit=draw(st.sampled_from(("in", "mm"))),
            note=draw(TEXT),
        )
        for number in range(count)
    ]
    assume(any(row.type == "reading" for row in rows))
    struck = [row for row in rows if draw(st.booleans())]
    strikes = {
        row.id or 0: StrikeRow(entry_id=row.id or 0, reason=draw(TEXT), at=draw(STAMPS))
        for row in struck
    }
    return rows, strikes


def changed(row: EntryRow, **values: Any) -> EntryRow:
    return EntryRow(**(row.model_dump() | values))


def changed_strike(row: StrikeRow, **values: Any) -> StrikeRow:
    return StrikeRow(**(row.model_dump() | values))


CHANGES = (
    "value",
    "unit",
    "at",
    "gone",
    "no longer a reading",
    "twice",
    "strike",
    "reason",
    "struck at",
)


@given(log=logs(), data=st.data())
@trying(max_examples=200, deadline=None)
def test_the_digest_changes_with_any_text_time_or_strike(
    log: tuple[list[EntryRow], dict[int, StrikeRow]], data: st.DataObject
) -> None:
    rows, strikes = log
    before = piece_digest(rows, strikes)
    place = data.draw(st.sampled_from([i for i, row in enumerate(rows) if row.type == "reading"]))
    row, number = rows[place], rows[place].id or 0
    what = data.draw(st.sampled_from(CHANGES))
    altered, struck = list(rows), dict(strikes)
    if what == "value":
        altered[place] = changed(row, value=row.value + data.draw(st.sampled_from('0 ,1"')))
    elif what == "unit":
        altered[place] = changed(row, unit={"in": "mm", "mm": "in"}[row.unit])
    elif what == "at":
        other = data.draw(STAMPS)
        assume(other != row.at)
        altered[place] = changed(row, at=other)
    elif what == "gone":
        del altered[place]
    elif what == "no longer a reading":
        altered[place] = changed(row, type="pass")
    elif what == "twice":
        altered.insert(place, row)
    elif number not in struck:
        struck[number] = StrikeRow(entry_id=number, reason=data.draw(TEXT), at=data.draw(STAMPS))
    elif what == "strike":
        del struck[number]
    elif what == "reason":
        struck[number] = changed_strike(struck[number], reason=struck[number].reason + ".")
    else:
        other = data.draw(STAMPS)
        assume(other != struck[number].at)
        struck[number] = changed_strike(struck[number], at=other)
    assert piece_digest(altered, struck).value != before.value


@given(log=logs(), data=st.data())
@trying(max_examples=80, deadline=None)
def test_two_readings_that_change_places_show(
    log: tuple[list[EntryRow], dict[int, StrikeRow]], data: st.DataObject
) -> None:
    rows, _ = log
    readings = [place for place, row in enumerate(rows) if row.type == "reading"]
    one, two = data.draw(st.sampled_from(readings)), data.draw(st.sampled_from(readings))
    swapped = list(rows)
    swapped[one], swapped[two] = rows[two], rows[one]
    alike = all(
        (rows[one].value, rows[one].unit, rows[one].at)[n]
        == (rows[two].value, rows[two].unit, rows[two].at)[n]
        for n in range(3)
    )
    assert (piece_digest(swapped, {}) == piece_digest(rows, {})) == alike


@pytest.mark.parametrize("name", OTHERS)
@given(log=logs(), data=st.data())
@trying(max_examples=12, deadline=None)
def test_no_other_column_of_an_entry_changes_it(
    name: str, log: tuple[list[EntryRow], dict[int, StrikeRow]], data: st.DataObject
) -> None:
    rows, strikes = log
    place = data.draw(st.integers(0, len(rows) - 1))
    other = data.draw(st.one_of(TEXT, st.floats(allow_nan=False), st.integers(0, 99)))
    altered = list(rows)
    altered[place] = changed(rows[place], **{name: other})
    assert piece_digest(altered, strikes) == piece_digest(rows, strikes)


@given(log=logs(), data=st.data())
@trying(max_examples=60, deadline=None)
def test_what_is_no_reading_and_who_struck_change_nothing(
    log: tuple[list[EntryRow], dict[int, StrikeRow]], data: st.DataObject
) -> None:
    rows, strikes = log
    altered = [
        row
        if row.type == "reading"
        else changed(row, value=data.draw(TEXT), at=data.draw(STAMPS), unit=data.draw(TEXT))
        for row in rows
    ]
    struck = {number: changed_strike(each, operator="ZZ") for number, each in strikes.items()}
    assert piece_digest(altered, struck) == piece_digest(rows, strikes)
    later = [changed(row, id=(row.id or 0) + 100) for row in rows]
    moved = {number + 100: each for number, each in strikes.items()}
    assert piece_digest(later, moved) == piece_digest(rows, strikes), "numbers are no readings"


# The stored record: every column of every table.

SHOWS = {
    ("entry", "value"),
    ("entry", "unit"),
    ("entry", "at"),
    ("entry", "type"),
    ("strike", "at"),
    ("strike", "reason"),
}


def digest_of(session: Session) -> str:
    session.expire_all()
    log = PieceLog.read(session, 1)
    return piece_digest(log.rows, log.strikes).value


def facts() -> list[tuple[Table, Column[Any]]]:
    """The columns that say something, not those that tie rows together."""
    return [
        (table, column)
        for table in SQLModel.metadata.sorted_tables
        for column in table.columns
        if not column.primary_key and not column.foreign_keys
    ]


def other_value(column: Column[Any]) -> Any:
    if isinstance(column.type, Boolean):
        return not_(column)
    if isinstance(column.type, Integer | Float):
        return func.coalesce(column, 0) + 1
    return func.coalesce(column, "") + "7"


def test_the_stored_digest_depends_on_these_columns_and_no_other(
    database: Database, settings: Settings
) -> None:
    fill_if_empty(database, settings)
    with database.writing() as session:
        before = digest_of(session)
        assert PieceLog.read(session, 1).strikes, "a piece with a struck reading"
        found = set()
        for table, column in facts():
            with session.begin_nested() as tried:
                session.execute(table.update().values({column.name: other_value(column)}))
                if digest_of(session) != before:
                    found.add((table.name, column.name))
                tried.rollback()
        assert digest_of(session) == before

    assert found == SHOWS
    assert len(facts()) > 100
