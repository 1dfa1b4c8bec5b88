"""The database: opened, brought up to date, written by one connection at a time.

SQLite runs in WAL with full synchronous commits. All writes go through one connection behind a
lock, and only that connection checkpoints: SQLite before 3.51.3 can corrupt a WAL file when two
connections write or checkpoint at once. Readers have connections of their own.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError
from sqlmodel import Session

from server.settings import Refusal, Settings, resource_dir

CHECKED_AT_START = 32 * 1024 * 1024  # bytes; reading more would hold up the start


class DatabaseRefused(Refusal):
    """The database can't be used as it is; the message says why and what to do."""


def sqlite_engine(url: str, *, writes: bool) -> Engine:
    engine = create_engine(
        url,
        pool_size=1 if writes else 8,
        max_overflow=0,
        connect_args={"check_same_thread": False, "timeout": 5.0},
    )

    @event.listens_for(engine, "connect")
    def on_connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # BEGIN is ours, see on_begin
        connection.execute("PRAGMA foreign_keys=ON")
        connection.execute("PRAGMA busy_timeout=5000")
        if writes:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("PRAGMA synchronous=FULL")
        else:
            connection.execute("PRAGMA query_only=ON")
            connection.execute("PRAGMA wal_autocheckpoint=0")

    @event.listens_for(engine, "begin")
    def on_begin(connection: Any) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


class Database:
    """Sessions for reading and for writing on one database."""

    def __init__(self, settings: Settings) -> None:
        self.url = settings.url
        self.is_sqlite = self.url.startswith("sqlite")
        self.memory: dict[str, Any] = {}  # kept between sessions, found as session.info["memory"]
        self._lock: Any = threading.Lock()
        if self.is_sqlite:
            self._writer = sqlite_engine(self.url, writes=True)
            self._reader = sqlite_engine(self.url, writes=False)
        else:
            self._writer = self._reader = create_engine(self.url, pool_size=12, max_overflow=8)

    @property
    def engine_version(self) -> str:
        if self.is_sqlite:
            return f"SQLite {sqlite3.sqlite_version}"
        with self._reader.connect() as connection:
            return f"PostgreSQL {connection.execute(text('SHOW server_version')).scalar_one()}"

    @contextmanager
    def reading(self) -> Iterator[Session]:
        with self._session(self._reader) as session:
            yield session

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """A connection that sees one moment of the database, however long it reads."""
        with self._reader.connect() as connection:
            if not self.is_sqlite:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    def _session(self, engine: Engine) -> Session:
        return Session(engine, expire_on_commit=False, info={"memory": self.memory})

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction; committed, on disk, when the block ends without an error."""
        if not self.is_sqlite:
            with self._session(self._writer) as session, session.begin():
                yield session
            return
        with (
            self._lock,
            self._session(self._writer) as session,
            session.begin(),
        ):
            yield session

    def close(self) -> None:
        if self._reader is not self._writer:
            self._reader.dispose()
        self._writer.dispose()


def migration_numbers() -> list[str]:
    folder = resource_dir("migrations") / "versions"
    return sorted(path.stem.split("_")[0] for path in folder.glob("[0-9]*.py"))


def stored_version(engine: Engine) -> str | None:
    with engine.connect() as connection:
        if not inspect(connection).has_table("alembic_version"):
            return None
        return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def update_awaits(settings: Settings) -> bool:
    """Whether opening the embedded database will change the schema of records already in it."""
    file = sqlite_file(settings.url)
    if not file.is_file():
        return False
    engine = sqlite_engine(settings.url, writes=False)
    try:
        version = stored_version(engine)
    except DatabaseError:
        return False  # open_database says why
    finally:
        engine.dispose()
    return version in migration_numbers()[:-1]


def migrate(engine: Engine) -> None:
    """Bring the schema to the newest version; foreign keys are checked after, not during."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(resource_dir("migrations")))
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        try:
            with connection.begin():
                config.attributes["connection"] = connection
                command.upgrade(config, "head")
                if engine.dialect.name == "sqlite":
                    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
                    if broken:
                        raise DatabaseRefused(f"The update left {len(broken)} broken references.")
        finally:
            if engine.dialect.name == "sqlite":
                connection.connection.driver_connection.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]


def open_database(settings: Settings) -> Database:
    """Create or open, check and update the database.  Raises DatabaseRefused with a clear line."""
    if settings.url.startswith("sqlite"):
        prepare_folder(sqlite_file(settings.url))
    try:
        database = Database(settings)
    except (ArgumentError, ImportError) as error:
        raise DatabaseRefused(
            f"The database address can't be used ({error}). Leave it out for the embedded "
            "database, or write postgresql+psycopg://user@host/name."
        ) from error
    try:
        bring_up_to_date(database)
    except DatabaseError as error:
        database.close()
        why = " ".join(str(error.orig).split())
        raise DatabaseRefused(
            f"The database can't be opened: {why}. Nothing was changed. If the file is "
            "damaged, restore the last backup; if another program holds it, close that first."
        ) from error
    except DatabaseRefused:
        database.close()
        raise
    return database


def bring_up_to_date(database: Database) -> None:
    """Everything is looked at before the first write, so that a refusal leaves the file alone."""
    known = migration_numbers()
    version = stored_version(database._reader)
    if version is not None and version not in known:
        raise DatabaseRefused(
            f"This database was written by a newer Midlimit (schema {version}); this one knows "
            f"up to {known[-1]}. Nothing was changed. Install the newer version to open it."
        )
    if database.is_sqlite:
        if version is None:
            check_empty(database._reader)
        else:
            check_sound(database._reader)
    if version != known[-1]:
        migrate(database._writer)
        database._reader.dispose()  # its connections have seen the old schema


def check_empty(engine: Engine) -> None:
    with engine.connect() as connection:
        others = inspect(connection).get_table_names()
    if others:
        raise DatabaseRefused(
            f"This file is another program's database (it holds {', '.join(others[:3])}). Nothing "
            "was changed. Choose another folder with --data-dir."
        )


def check_sound(engine: Engine) -> None:
    """All of a small file; of a large one what SQLite looks at when it opens it, the length with
    it.  Every backup is checked in full.

    The file is never opened here: closing it again would drop this process's locks on it.
    Source: SQLite, How To Corrupt An SQLite Database File, section 2.2.
    """
    with engine.connect() as connection:
        if sqlite_file(str(engine.url)).stat().st_size > CHECKED_AT_START:
            return
        verdict = str(connection.exec_driver_sql("PRAGMA quick_check(1)").scalar())
    if verdict != "ok":
        what = " ".join(verdict.split())
        raise DatabaseRefused(
            f"The database file is damaged ({what}). Nothing was changed: restore the last "
            "backup, and keep this file for a repair."
        )


def sqlite_file(url: str) -> Path:
    file = make_url(url).database
    if not file or file == ":memory:":
        raise DatabaseRefused("Readings are kept in a file: name one, as sqlite:////data/shop.db.")
    return Path(file)


def prepare_folder(file: Path) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        probe = file.parent / ".midlimit-write-check"
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        raise DatabaseRefused(
            f"The data folder can't be written ({error.strerror}). Choose another with --data-dir."
        ) from error
