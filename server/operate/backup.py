"""Backups of the embedded database: whole, checked, and under their name only once they are.

A backup is taken with SQLite's backup interface while the server goes on writing; it is the state
of one moment.  It is checked before it gets its name, so a file of that name is a sound one.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from server.records.database import migration_numbers
from server.records.space import megabytes
from server.settings import Refusal, Settings

FOLDER = "backups"
PATTERN = "midlimit-*.db"
PARTIAL = ".partial"


class BackupRefused(Refusal):
    """No backup was made, or nothing was restored; the message says why and what to do."""


@dataclass(frozen=True)
class Backup:
    """A sound backup file.  schema: the migration it was made at."""

    file: Path
    schema: str
    entries: int
    size_bytes: int


def database_file(settings: Settings) -> Path:
    """The embedded database.  BackupRefused where another engine keeps the records."""
    if not settings.url.startswith("sqlite"):
        raise BackupRefused(
            "The records are kept by a database server: back it up with its own tools "
            "(pg_dump), or write the shop to one file with midlimit export."
        )
    return Path(settings.url.removeprefix("sqlite:///"))


def back_up(settings: Settings, target: Path, now: datetime) -> Backup:
    """Write a backup to a new file, or under a dated name into a folder.

    Raises BackupRefused where there is nothing to back up, no room, or a damaged database.
    """
    source = database_file(settings)
    if not source.is_file():
        raise BackupRefused(f"There is no database in {source.parent} yet.")
    file = dated_name(target, now) if target.is_dir() or target.suffix == "" else target
    if file.exists():
        raise BackupRefused(f"{file} exists already; name another file.")
    partial = file.with_name(file.name + PARTIAL)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        check_room(file.parent, source)
        copy_database(source, partial)
        backup = inspected(partial, file)
        os.utime(partial, (now.timestamp(), now.timestamp()))
        sync(partial)
        os.replace(partial, file)
        sync(file.parent)
    except OSError as error:
        raise BackupRefused(f"The backup can't be written to {file}: {error.strerror}.") from error
    finally:
        partial.unlink(missing_ok=True)
    return backup


def dated_name(folder: Path, now: datetime) -> Path:
    stem = f"midlimit-{now.astimezone(UTC):%Y%m%d-%H%M%S}"
    file, count = folder / f"{stem}.db", 2
    while file.exists():
        file, count = folder / f"{stem}-{count}.db", count + 1
    return file


def check_room(folder: Path, source: Path) -> None:
    needed = source.stat().st_size
    free = shutil.disk_usage(folder).free
    if free < needed + needed // 10:
        raise BackupRefused(
            f"There is no room for a backup in {folder}: {megabytes(needed)} are needed, "
            f"{megabytes(free)} are free."
        )


@contextmanager
def read_only(file: Path) -> Iterator[sqlite3.Connection]:
    """A connection that neither writes nor checkpoints, so that a running server stays the only
    one that does."""
    with closing(sqlite3.connect(file, timeout=10, check_same_thread=False)) as connection:
        connection.execute("PRAGMA query_only=ON")
        connection.execute("PRAGMA wal_autocheckpoint=0")
        yield connection


def copy_database(source: Path, target: Path) -> None:
    target.unlink(missing_ok=True)
    try:
        with read_only(source) as reader, closing(sqlite3.connect(target)) as writer:
            reader.backup(writer)
            writer.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it
    except sqlite3.Error as error:
        target.unlink(missing_ok=True)
        raise BackupRefused(f"{source} can't be copied: {error}.") from error


def inspected(file: Path, name: Path) -> Backup:
    """What a backup file holds.  name: what to call it.  BackupRefused where it is not sound."""
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as reader:
            found = [row[0] for row in reader.execute("PRAGMA integrity_check(3)")]
            broken = reader.execute("SELECT count(*) FROM pragma_foreign_key_check").fetchone()[0]
            schema = reader.execute("SELECT version_num FROM alembic_version").fetchone()
            entries = reader.execute("SELECT count(*) FROM entry").fetchone()[0]
    except sqlite3.Error as error:
        raise BackupRefused(f"{name} is not a sound Midlimit database: {error}.") from error
    if found != ["ok"] or broken:
        what = found[0] if found != ["ok"] else f"{broken} broken references"
        raise BackupRefused(f"{name} is damaged: {what}.")
    if schema is None or schema[0] not in migration_numbers():
        raise BackupRefused(
            f"{name} was written by a newer Midlimit (schema {schema and schema[0]}); install that "
            "version to use it."
        )
    return Backup(name, str(schema[0]), entries, file.stat().st_size)


def sync(path: Path) -> None:
    """On the disk, a file's content or a folder's names, before this returns."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def restore(settings: Settings, file: Path, now: datetime) -> tuple[Backup, Path | None]:
    """Put a backup in the database's place: (what was restored, where the old one is kept).

    The caller holds the data folder.  The old database stays whole until the new one is in place.
    Raises BackupRefused; the database in use is then untouched.
    """
    target = database_file(settings)
    if not file.is_file():
        raise BackupRefused(f"There is no file {file}.")
    backup = inspected(file, file)
    partial = target.with_name(target.name + PARTIAL)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        check_room(target.parent, file)
        copy_database(file, partial)
        inspected(partial, file)
        sync(partial)
        kept = set_aside(target, now)
        os.replace(partial, target)
        sync(target.parent)
    except OSError as error:
        raise BackupRefused(f"{file} can't be restored: {error.strerror}.") from error
    finally:
        partial.unlink(missing_ok=True)
    return backup, kept


def set_aside(database: Path, now: datetime) -> Path | None:
    """A second name for the database in use, with its write-ahead log folded in or kept beside."""
    if not database.exists():
        return None
    fold_in_log(database)
    kept = database.with_name(f"replaced-{now.astimezone(UTC):%Y%m%d-%H%M%S}-{database.name}")
    os.link(database, kept)
    log = database.with_name(database.name + "-wal")
    if log.exists() and log.stat().st_size:
        os.link(log, kept.with_name(kept.name + "-wal"))
    sync(database.parent)
    for ending in ("-wal", "-shm"):
        database.with_name(database.name + ending).unlink(missing_ok=True)
    return kept


def fold_in_log(database: Path) -> None:
    try:
        with closing(sqlite3.connect(database, timeout=10)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except sqlite3.Error:
        return  # damaged: kept as it is, log and all


def backups_in(folder: Path) -> list[Path]:
    """Backups under our own names, oldest first."""
    return sorted(folder.glob(PATTERN), key=lambda file: (file.stat().st_mtime, file.name))


def thin_out(folder: Path, keep: int) -> list[Path]:
    """Remove the oldest backups beyond so many; those removed."""
    too_many = backups_in(folder)[: -max(keep, 1)]
    for file in too_many:
        file.unlink(missing_ok=True)
    return too_many
