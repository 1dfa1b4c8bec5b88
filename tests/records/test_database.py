"""The database file: durable, brought up to date at start, refused in words when it can't be."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlmodel import Session, SQLModel, select

from server.records.database import (
    Database,
    DatabaseRefused,
    migration_numbers,
    open_database,
    stored_version,
)
from server.records.tables import EntryRow, OperatorRow
from server.settings import Settings
from tests.conftest import is_ours


def pragma(session: Session, name: str) -> object:
    return session.connection().exec_driver_sql(f"PRAGMA {name}").scalar()


def file_of(settings: Settings) -> Path:
    return settings.data_dir / "midlimit.db"


def refused(settings: Settings) -> str:
    with pytest.raises(DatabaseRefused) as caught:
        open_database(settings)
    message = str(caught.value)
    assert message.strip()
    assert "\n" not in message
    return message


def made_older_or_newer(settings: Settings, version: str) -> None:
    open_database(settings).close()
    connection = sqlite3.connect(file_of(settings))
    connection.execute("UPDATE alembic_version SET version_num = ?", (version,))
    connection.execute("PRAGMA journal_mode=DELETE")
    connection.commit()
    connection.close()


# Durability.


def test_the_writer_commits_to_disk_in_wal(database: Database) -> None:
    with database.writing() as session:
        assert pragma(session, "journal_mode") == "wal"
        assert pragma(session, "synchronous") == 2  # FULL: the log is flushed at each commit
        assert pragma(session, "foreign_keys") == 1


def test_readers_see_what_was_committed_and_cannot_write(database: Database) -> None:
    with database.writing() as session:
        session.add(OperatorRow(initials="AB"))
    with database.reading() as session:
        assert session.exec(select(OperatorRow.initials)).all() == ["AB"]
        session.add(OperatorRow(initials="CD"))
        with pytest.raises(OperationalError, match="readonly"):
            session.commit()


def test_a_block_that_fails_leaves_nothing(database: Database) -> None:
    def add_and_fail() -> None:
        with database.writing() as session:
            session.add(OperatorRow(initials="AB"))
            session.flush()
            raise RuntimeError("planted by the test")

    with pytest.raises(RuntimeError, match="planted"):
        add_and_fail()
    with database.reading() as session:
        assert session.exec(select(OperatorRow)).all() == []


def test_foreign_keys_hold(database: Database) -> None:
    def add_orphan() -> None:
        with database.writing() as session:
            session.add(EntryRow(piece_id=99, type="pass", entry_key="k", body="{}", at="now"))

    with pytest.raises(IntegrityError, match="FOREIGN KEY"):
        add_orphan()


def test_one_entry_key_is_one_row_whatever_the_code_does(database: Database) -> None:
    with database.reading() as session:
        keys = session.connection().exec_driver_sql("PRAGMA index_list('entry')").all()
    unique = [row for row in keys if row[2] == 1]

    assert unique


# Migrations.


def test_a_fresh_folder_is_made_and_migrated(settings: Settings) -> None:
    assert not settings.data_dir.exists()
    database = open_database(settings)

    assert stored_version(database._reader) == migration_numbers()[-1]
    assert file_of(settings).exists()
    database.close()


def test_the_models_are_the_schema_after_the_last_migration(database: Database) -> None:
    with database._reader.connect() as connection:
        opts = {"compare_type": True, "include_name": is_ours}
        context = MigrationContext.configure(connection, opts=opts)
        assert compare_metadata(context, SQLModel.metadata) == []


def test_opening_again_keeps_what_is_there(settings: Settings) -> None:
    first = open_database(settings)
    with first.writing() as session:
        session.add(OperatorRow(initials="AB"))
    first.close()
    second = open_database(settings)
    with second.reading() as session:
        assert session.exec(select(OperatorRow.initials)).all() == ["AB"]
    second.close()


def test_every_migration_brings_an_earlier_database_up(settings: Settings) -> None:
    from alembic import command
    from alembic.config import Config

    from server.settings import resource_dir

    numbers = migration_numbers()
    for index, number in enumerate(numbers):
        here = replace(settings, data_dir=settings.data_dir / number)
        here.data_dir.mkdir(parents=True)
        database = Database(here)
        config = Config()
        config.set_main_option("script_location", str(resource_dir("migrations")))
        with database._writer.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, number)
            connection.exec_driver_sql("INSERT INTO operator (initials, name) VALUES ('AB', '')")
        assert stored_version(database._reader) == numbers[index]
        database.close()
        opened = open_database(here)
        assert stored_version(opened._reader) == numbers[-1]
        with opened.reading() as session:
            assert session.exec(select(OperatorRow.initials)).all() == ["AB"]
        opened.close()


# Refusals.


def test_a_newer_database_is_refused_and_left_alone(settings: Settings) -> None:
    made_older_or_newer(settings, "9999")
    before = file_of(settings).read_bytes()

    message = refused(settings)
    assert "newer" in message
    assert "9999" in message
    assert file_of(settings).read_bytes() == before


def test_a_file_that_is_no_database_is_refused_and_left_alone(settings: Settings) -> None:
    settings.data_dir.mkdir(parents=True)
    file_of(settings).write_bytes(b"shopping list: oil, rags\n" * 400)
    before = file_of(settings).read_bytes()

    assert "can't be opened" in refused(settings)
    assert file_of(settings).read_bytes() == before


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.9])
def test_a_truncated_database_is_refused_and_left_alone(settings: Settings, kept: float) -> None:
    open_database(settings).close()
    whole = file_of(settings).read_bytes()
    file_of(settings).write_bytes(whole[: int(len(whole) * kept)])
    before = file_of(settings).read_bytes()

    message = refused(settings)
    assert "damaged" in message
    assert file_of(settings).read_bytes() == before


def test_a_damaged_page_is_refused(settings: Settings) -> None:
    open_database(settings).close()
    whole = bytearray(file_of(settings).read_bytes())
    middle = len(whole) // 2 // 4096 * 4096
    whole[middle : middle + 4096] = b"\xa5" * 4096
    file_of(settings).write_bytes(bytes(whole))

    assert "damaged" in refused(settings)


def test_another_program_s_database_is_refused_and_left_alone(settings: Settings) -> None:
    settings.data_dir.mkdir(parents=True)
    connection = sqlite3.connect(file_of(settings))
    connection.execute("CREATE TABLE recipe (name TEXT)")
    connection.commit()
    connection.close()
    before = file_of(settings).read_bytes()

    assert "another program" in refused(settings)
    assert file_of(settings).read_bytes() == before


def test_a_folder_that_cannot_be_written_is_refused(settings: Settings, tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")

    assert "--data-dir" in refused(replace(settings, data_dir=in_the_way / "data"))
    assert in_the_way.read_text() == "not a folder"


@pytest.mark.parametrize(
    "url", ["nonsense", "sqlite://", "sqlite:///:memory:", "unknowndatabase://host/name"]
)
def test_an_address_that_is_no_database_is_refused(settings: Settings, url: str) -> None:
    refused(replace(settings, database_url=url))


def test_an_unreachable_server_is_refused(settings: Settings) -> None:
    pytest.importorskip("psycopg")
    url = "postgresql+psycopg://127.0.0.1:1/midlimit"

    assert "can't be opened" in refused(replace(settings, database_url=url))
