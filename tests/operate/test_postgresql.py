"""PostgreSQL: the same schema, a shop moved there and back, two server processes at once."""

from __future__ import annotations

import json
import threading
import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlmodel import SQLModel, select

from server.logbook.answers import answer_json
from server.logbook.book import Logbook
from server.logbook.problems import Refused
from server.logbook.replay import PieceLog
from server.logbook.search import has_index
from server.logbook.typed import ReadingTyped
from server.operate.check import check
from server.operate.move import move_shop
from server.operate.transfer import export_shop
from server.records.database import Database, DatabaseRefused, open_database
from server.records.tables import AuditRow, EntryRow, FeatureRow, PieceRow
from server.settings import Settings
from tests.conftest import is_ours
from tests.postgres import fresh_database, on_server, server_url

pytestmark = pytest.mark.skipif(
    not server_url(), reason="no PostgreSQL server is named for the tests"
)


@pytest.fixture
def there(settings: Settings) -> Iterator[Settings]:
    """An empty database on the server."""
    with fresh_database() as url:
        yield replace(settings, database_url=url)


def in_work(database: Database) -> tuple[int, FeatureRow]:
    """An open piece of the invented workshop, and its first feature."""
    with database.reading() as session:
        piece = session.exec(select(PieceRow).where(PieceRow.closed_as == "")).one()
        features = PieceLog.read(session, piece.id or 0).features
        return piece.id or 0, features[0]


def test_the_models_are_the_schema_after_the_last_migration(there: Settings) -> None:
    database = open_database(there)
    with database.snapshot() as connection:
        opts = {"compare_type": True, "include_name": is_ours}
        context = MigrationContext.configure(connection, opts=opts)
        assert compare_metadata(context, SQLModel.metadata) == []
    database.close()


def test_a_search_can_use_the_index_over_letters(there: Settings) -> None:
    database = open_database(there)
    with database.reading() as session:
        session.connection().exec_driver_sql("SET LOCAL enable_seqscan = off")
        session.connection().exec_driver_sql("SET LOCAL enable_indexscan = off")
        steps = session.connection().exec_driver_sql(
            "EXPLAIN SELECT piece_id FROM search WHERE text LIKE %s", ("%shaft%",)
        )
        assert any("ix_search_text" in row[0] for row in steps)
        assert not has_index(session)
    database.close()


def test_a_shop_goes_there_and_back_unchanged(
    filled: Settings, there: Settings, elsewhere: Path
) -> None:
    back = replace(filled, data_dir=elsewhere)
    list(move_shop(filled.url, there.url))
    list(move_shop(there.url, back.url))
    for settings, name in ((filled, "a"), (there, "b"), (back, "c")):
        export_shop(settings, elsewhere / f"{name}.json")

    first = (elsewhere / "a.json").read_bytes()
    assert (elsewhere / "b.json").read_bytes() == first
    assert (elsewhere / "c.json").read_bytes() == first


def test_a_moved_shop_can_be_logged_on(filled: Settings, there: Settings) -> None:
    list(move_shop(filled.url, there.url))
    database = open_database(there)
    with database.reading() as session:
        highest = max(session.exec(select(EntryRow.id)).all(), key=lambda number: number or 0)
    piece_id, feature = in_work(database)
    typed = ReadingTyped(feature.id or 0, "0.7950", "in", str(uuid.uuid4()), confirm=True)
    answer = Logbook(database, there).log_reading(piece_id, typed)
    database.close()

    assert answer.body["reading"]["id"] == (highest or 0) + 1


def test_the_check_names_the_engine(filled: Settings, there: Settings) -> None:
    list(move_shop(filled.url, there.url))
    found = {line.what: line for line in check(there, there.clock())}

    assert found["engine"].words.startswith("PostgreSQL")
    assert not any(line.is_bad for line in found.values())


def test_two_servers_on_one_piece_never_work_on_a_stale_state(
    filled: Settings, there: Settings
) -> None:
    """Each answer is the one that the log up to its reading gives, whoever was quicker."""
    list(move_shop(filled.url, there.url))
    databases = [open_database(there) for _ in range(2)]
    books = [Logbook(database, there) for database in databases]
    piece_id, feature = in_work(databases[0])
    before = len(logged(books[0], piece_id).rows)
    answered: list[int] = []
    faults: list[BaseException] = []

    def type_away(number: int) -> None:
        try:
            for turn in range(6):
                key = str(uuid.uuid4())
                value = f"0.79{number}{turn}"
                step = "0.0010" if turn % 2 else None
                typed = ReadingTyped(feature.id or 0, value, "in", key, step, confirm=True)
                answer = books[number % 2].log_reading(piece_id, typed)
                answered.append(answer.body["reading"]["id"])
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=type_away, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []

    log = logged(books[0], piece_id)
    assert len(log.rows) == before + 24
    assert len(set(answered)) == 24
    for row in log.rows[before:]:
        known = json.loads(log.answers[row.id or 0].body)
        with databases[1].reading() as session:
            fresh = PieceLog.read(session, piece_id)
            fresh.around.facts.evaluations.clear()
            worked_out = answer_json(fresh.evaluation(feature, upto=row.id), row)
        assert {key: known[key] for key in worked_out} == json.loads(json.dumps(worked_out))
    for database in databases:
        database.close()


def logged(book: Logbook, piece_id: int) -> PieceLog:
    with book.reading() as session:
        return PieceLog.read(session, piece_id)


def test_only_one_of_two_pages_with_the_same_state_may_log(
    filled: Settings, there: Settings
) -> None:
    list(move_shop(filled.url, there.url))
    databases = [open_database(there) for _ in range(2)]
    piece_id, feature = in_work(databases[0])
    with databases[0].reading() as session:
        log = PieceLog.read(session, piece_id)
        last = [row for row in log.rows_of(feature.id or 0) if row.type == "reading"][-1]
    codes: list[str] = []

    def measure_again(number: int) -> None:
        key = str(uuid.uuid4())
        typed = ReadingTyped(feature.id or 0, last.value, "in", key, last_seq=log.newest)
        try:
            Logbook(databases[number], there).log_reading(piece_id, typed)
            codes.append("stored")
        except Refused as refused:
            codes.append(refused.problem.code)

    threads = [threading.Thread(target=measure_again, args=(number,)) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for database in databases:
        database.close()

    assert sorted(codes) == ["stale_page", "stored"]


def test_one_key_from_two_servers_is_one_reading(filled: Settings, there: Settings) -> None:
    list(move_shop(filled.url, there.url))
    databases = [open_database(there) for _ in range(2)]
    piece_id, feature = in_work(databases[0])
    typed = ReadingTyped(feature.id or 0, "0.7950", "in", str(uuid.uuid4()), confirm=True)
    found = []

    def log(number: int) -> None:
        found.append(Logbook(databases[number], there).log_reading(piece_id, typed))

    threads = [threading.Thread(target=log, args=(number,)) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with databases[0].reading() as session:
        rows = session.exec(select(EntryRow).where(EntryRow.entry_key == typed.entry_key)).all()
        about = f"entry {rows[0].id}, piece {piece_id}"
        told = session.exec(select(AuditRow).where(AuditRow.about == about)).all()
    for database in databases:
        database.close()

    assert len(rows) == 1
    assert len(told) == 1
    assert found[0].body == found[1].body
    assert {answer.is_new for answer in found} == {True, False}


def test_a_change_of_the_shop_is_seen_by_the_other_server(
    filled: Settings, there: Settings
) -> None:
    from server.logbook import shop

    list(move_shop(filled.url, there.url))
    databases = [open_database(there) for _ in range(2)]
    books = [Logbook(database, there) for database in databases]
    piece_id, _ = in_work(databases[1])
    with databases[1].reading() as session:
        log = PieceLog.read(session, piece_id)
        assert log.around.setup(log.features[0]).past_chance_bound == 0.005
    with books[0].writing() as (session, now):
        shop.change_shop(session, "in", "u_guard", "2", now)
    with databases[1].reading() as session:
        log = PieceLog.read(session, piece_id)
        assert log.around.setup(log.features[0]).past_chance_bound == 0.02
    for database in databases:
        database.close()


def test_a_server_that_went_away_is_said(filled: Settings, there: Settings) -> None:
    """Its connections are cut; the next request is refused in words, the one after it is served."""
    list(move_shop(filled.url, there.url))
    database = open_database(there)
    book = Logbook(database, there)
    book.check_database()
    name = there.database_url.rsplit("/", 1)[1]
    on_server(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")
    with pytest.raises(Refused) as refused, book.reading() as session:
        session.exec(select(PieceRow)).all()
    with book.reading() as session:
        assert session.exec(select(PieceRow)).all()
    database.close()

    assert (refused.value.status, refused.value.problem.code) == (503, "gone")


def test_no_server_at_the_address_is_one_line(settings: Settings) -> None:
    nowhere = replace(settings, database_url="postgresql+psycopg://midlimit@127.0.0.1:9/none")
    with pytest.raises(DatabaseRefused) as caught:
        open_database(nowhere)

    assert "\n" not in str(caught.value)
