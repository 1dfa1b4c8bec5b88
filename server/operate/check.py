"""midlimit check: is everything there and sound, and how old is the last backup."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Connection, create_engine, text
from sqlalchemy.exc import SQLAlchemyError

from server import __version__
from server.operate.backup import backups_in, read_only
from server.records.database import migration_numbers
from server.records.space import low_space, megabytes
from server.settings import Settings

COUNTED = ("part", "feature", "piece", "entry", "strike", "closing", "audit")
WAL_FIX = (3, 51, 3)  # SQLite before it can corrupt a log that two connections write at once


@dataclass(frozen=True)
class Finding:
    """One line of the report; is_bad where something must be done about it."""

    what: str
    words: str
    is_bad: bool = False


def check(settings: Settings, now: datetime) -> list[Finding]:
    """Everything that can be told without changing anything; works while a server runs."""
    found = [Finding("Midlimit", __version__)]
    if settings.url.startswith("sqlite"):
        found += embedded(Path(settings.url.removeprefix("sqlite:///")))
        found.append(last_backup(settings, now))
        warning = low_space(settings.data_dir) if settings.data_dir.exists() else ""
        if warning:
            found.append(Finding("disk", warning, True))
        return found
    return found + on_a_server(settings)


def embedded(file: Path) -> list[Finding]:
    engine = Finding("engine", engine_words())
    if not file.is_file():
        return [engine, Finding("database", f"there is no file {file}", True)]
    size = Finding("database", f"{file}, {megabytes(file.stat().st_size)}")
    try:
        with read_only(file) as reader:
            return [engine, size, *soundness(reader), *counts_of(reader)]
    except sqlite3.Error as error:
        return [engine, size, Finding("integrity", f"it can't be read: {error}", True)]


def engine_words() -> str:
    version = f"SQLite {sqlite3.sqlite_version}"
    if sqlite3.sqlite_version_info >= WAL_FIX:
        return version
    return f"{version}; one connection writes, as releases before 3.51.3 need"


def soundness(reader: sqlite3.Connection) -> list[Finding]:
    found = [row[0] for row in reader.execute("PRAGMA integrity_check(5)")]
    broken = reader.execute("SELECT count(*) FROM pragma_foreign_key_check").fetchone()[0]
    version = reader.execute("SELECT version_num FROM alembic_version").fetchone()
    return [
        Finding("integrity", "; ".join(found), found != ["ok"]),
        Finding("references", f"{broken} broken" if broken else "ok", bool(broken)),
        schema(version[0] if version else ""),
    ]


def schema(version: str) -> Finding:
    newest = migration_numbers()[-1]
    if version == newest:
        return Finding("schema", version)
    if version in migration_numbers():
        return Finding("schema", f"{version}; the next start brings it to {newest}")
    return Finding("schema", f"{version or 'none'}, unknown here (up to {newest})", True)


def counts_of(reader: sqlite3.Connection) -> list[Finding]:
    return [
        Finding(table, str(reader.execute(f"SELECT count(*) FROM {table}").fetchone()[0]))
        for table in COUNTED
    ]


def last_backup(settings: Settings, now: datetime) -> Finding:
    made = backups_in(settings.backup_folder)
    if not made:
        return Finding("last backup", f"none in {settings.backup_folder}", True)
    age = now - datetime.fromtimestamp(made[-1].stat().st_mtime, UTC)
    allowed = timedelta(hours=max(settings.backup_every_hours, 24.0)) * 2
    words = f"{made[-1].name}, {age_words(age)} ago; {len(made)} kept"
    return Finding("last backup", words, age > allowed)


def age_words(age: timedelta) -> str:
    hours = age.total_seconds() / 3600
    if hours < 1:
        return f"{max(hours, 0) * 60:.0f} min"
    return f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} days"


def on_a_server(settings: Settings) -> list[Finding]:
    try:
        engine = create_engine(settings.url)
        with engine.connect() as connection:
            found = server_findings(connection)
        engine.dispose()
    except (SQLAlchemyError, ImportError) as error:
        words = str(error).split("\n", maxsplit=1)[0]
        return [Finding("database", f"it does not answer: {words}", True)]
    return found


def server_findings(connection: Connection) -> list[Finding]:
    version = connection.execute(text("SHOW server_version")).scalar_one()
    number = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
    return [
        Finding("engine", f"PostgreSQL {version}"),
        schema(str(number)),
        *(
            Finding(table, str(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar()))
            for table in COUNTED
        ),
        Finding("last backup", "made with the database server's own tools"),
    ]
