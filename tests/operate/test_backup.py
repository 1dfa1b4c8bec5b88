"""Backups: taken while writing goes on, checked before they get their name, put back whole."""

from __future__ import annotations

import os
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlmodel import select

from server.operate.backup import (
    Backup,
    BackupRefused,
    back_up,
    backups_in,
    inspected,
    restore,
    thin_out,
)
from server.operate.check import check
from server.operate.hold import FolderHeld, Hold
from server.operate.schedule import BackupSchedule, schedule_for
from server.records.database import open_database
from server.records.space import low_space
from server.records.tables import EntryRow, OperatorRow
from server.settings import Settings
from tests.operate.conftest import Run

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def entries(file: Path) -> int:
    with closing(sqlite3.connect(file)) as connection:
        found: int = connection.execute("SELECT count(*) FROM entry").fetchone()[0]
        return found


def database_of(settings: Settings) -> Path:
    return settings.data_dir / "midlimit.db"


def add_operator(settings: Settings, initials: str) -> None:
    database = open_database(settings)
    with database.writing() as session:
        session.add(OperatorRow(initials=initials))
    database.close()


def operators(settings: Settings) -> list[str]:
    database = open_database(settings)
    with database.reading() as session:
        found = list(session.exec(select(OperatorRow.initials)))
    database.close()
    return found


def damage(file: Path) -> None:
    with file.open("r+b") as raw:
        raw.seek(8192)
        raw.write(b"\xff" * 4096)


# Taking one.


def test_a_backup_is_a_sound_database_with_everything(filled: Settings, elsewhere: Path) -> None:
    made = back_up(filled, elsewhere, NOW)

    assert made.file == elsewhere / "midlimit-20260302-090000.db"
    assert made.entries == entries(database_of(filled)) > 0
    assert [file.name for file in elsewhere.iterdir()] == [made.file.name]


def test_a_backup_is_one_file_that_needs_no_log_beside_it(
    filled: Settings, elsewhere: Path
) -> None:
    made = back_up(filled, elsewhere / "one.db", NOW)

    with closing(sqlite3.connect(made.file)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "delete"


def test_a_backup_taken_under_writes_is_a_state_that_was(filled: Settings, elsewhere: Path) -> None:
    """Operators are added in order, so any state holds all up to some number and none after it."""
    database = open_database(filled)
    is_enough = threading.Event()

    def write() -> None:
        number = 0
        while not is_enough.is_set():
            with database.writing() as session:
                session.add(OperatorRow(initials=f"W{number}"))
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made = [back_up(filled, elsewhere, NOW) for _ in range(4)]
    finally:
        is_enough.set()
        writer.join()
        database.close()

    for backup in made:
        with closing(sqlite3.connect(backup.file)) as connection:
            rows = connection.execute("SELECT initials FROM operator WHERE initials LIKE 'W%'")
            numbers = sorted(int(row[0][1:]) for row in rows)
        assert numbers == list(range(len(numbers)))
    assert len({backup.file for backup in made}) == 4


def test_a_file_that_is_there_is_never_overwritten(filled: Settings, elsewhere: Path) -> None:
    file = elsewhere / "mine.db"
    file.write_bytes(b"mine")

    with pytest.raises(BackupRefused, match="exists already"):
        back_up(filled, file, NOW)
    assert file.read_bytes() == b"mine"


def test_a_damaged_database_gives_no_backup(filled: Settings, elsewhere: Path) -> None:
    damage(database_of(filled))

    with pytest.raises(BackupRefused, match=r"damaged|malformed"):
        back_up(filled, elsewhere, NOW)
    assert list(elsewhere.iterdir()) == []


def test_no_room_is_said_before_anything_is_written(
    filled: Settings, elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = type("Usage", (), {"free": 1000})
    monkeypatch.setattr("server.operate.backup.shutil.disk_usage", lambda _folder: usage)

    with pytest.raises(BackupRefused, match="no room"):
        back_up(filled, elsewhere, NOW)
    assert list(elsewhere.iterdir()) == []


def test_a_database_server_is_backed_up_by_its_own_tools(
    settings: Settings, tmp_path: Path
) -> None:
    there = replace(settings, database_url="postgresql+psycopg://nobody@127.0.0.1/none")

    with pytest.raises(BackupRefused, match="pg_dump"):
        back_up(there, tmp_path, NOW)


# Putting one back.


def test_a_restore_brings_back_that_state_and_keeps_the_other(
    filled: Settings, elsewhere: Path
) -> None:
    made = back_up(filled, elsewhere, NOW)
    add_operator(filled, "LATE")

    restored, kept = restore(filled, made.file, NOW)

    assert isinstance(restored, Backup)
    assert "LATE" not in operators(filled)
    assert kept is not None
    with closing(sqlite3.connect(kept)) as connection:
        rows = connection.execute("SELECT count(*) FROM operator WHERE initials = 'LATE'")
        assert rows.fetchone()[0] == 1


def test_a_restore_keeps_what_was_only_in_the_log(filled: Settings, elsewhere: Path) -> None:
    made = back_up(filled, elsewhere, NOW)
    database = open_database(filled)
    with database.writing() as session:
        session.add(OperatorRow(initials="WAL"))
    log = database_of(filled).with_name("midlimit.db-wal")
    assert log.stat().st_size > 0
    copies = {file: file.read_bytes() for file in (database_of(filled), log)}
    database.close()
    for file, content in copies.items():  # as a power cut would leave them
        file.write_bytes(content)

    _, kept = restore(filled, made.file, NOW)

    assert kept is not None
    with closing(sqlite3.connect(kept)) as connection:
        rows = connection.execute("SELECT count(*) FROM operator WHERE initials = 'WAL'")
        assert rows.fetchone()[0] == 1


def test_a_damaged_database_is_replaced_and_kept(filled: Settings, elsewhere: Path) -> None:
    made = back_up(filled, elsewhere, NOW)
    damage(database_of(filled))
    before = database_of(filled).read_bytes()

    _, kept = restore(filled, made.file, NOW)

    assert kept is not None
    assert kept.read_bytes() == before
    assert entries(database_of(filled)) == made.entries


@pytest.mark.parametrize("content", [b"", b"not a database", b"SQLite format 3\0" + b"\0" * 4000])
def test_what_is_no_backup_leaves_the_database_alone(
    filled: Settings, elsewhere: Path, content: bytes
) -> None:
    file = elsewhere / "wrong.db"
    file.write_bytes(content)
    before = database_of(filled).read_bytes()

    with pytest.raises(BackupRefused):
        restore(filled, file, NOW)
    assert database_of(filled).read_bytes() == before


def test_a_truncated_backup_is_refused(filled: Settings, elsewhere: Path) -> None:
    made = back_up(filled, elsewhere, NOW)
    with made.file.open("r+b") as raw:
        raw.truncate(made.size_bytes // 2)

    with pytest.raises(BackupRefused):
        restore(filled, made.file, NOW)


def test_a_backup_of_a_newer_release_is_refused(filled: Settings, elsewhere: Path) -> None:
    made = back_up(filled, elsewhere, NOW)
    with closing(sqlite3.connect(made.file)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()

    with pytest.raises(BackupRefused, match="newer Midlimit"):
        inspected(made.file, made.file)


def test_restore_is_refused_while_the_folder_is_held(
    filled: Settings, elsewhere: Path, run: Run
) -> None:
    made = back_up(filled, elsewhere, NOW)
    with Hold(filled.data_dir):
        code, _, said = run("restore", "--data-dir", filled.data_dir, made.file)

    assert code == 1
    assert "running" in said
    assert str(os.getpid()) in said
    assert said.count("\n") == 1


# The hold on the folder.


def test_a_folder_is_held_by_one_at_a_time(tmp_path: Path) -> None:
    with Hold(tmp_path), pytest.raises(FolderHeld):
        Hold(tmp_path)
    Hold(tmp_path).let_go()


def test_a_lock_file_left_by_a_killed_server_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "midlimit.lock").write_text("1")

    Hold(tmp_path).let_go()


# While serving.


def test_a_backup_is_due_after_so_many_hours(filled: Settings) -> None:
    schedule = BackupSchedule(replace(filled, backup_every_hours=6))
    first = schedule.back_up_if_due(datetime.now(UTC))

    assert first is not None
    assert schedule.back_up_if_due(datetime.now(UTC)) is None
    assert schedule.back_up_if_due(datetime.now(UTC) + timedelta(hours=6, minutes=1)) is not None


def test_a_clock_set_back_does_not_stop_the_backups(filled: Settings) -> None:
    schedule = BackupSchedule(filled)
    assert schedule.back_up_if_due(datetime.now(UTC)) is not None

    assert schedule.is_due(datetime.now(UTC) - timedelta(days=400))


def test_only_the_newest_backups_are_kept(filled: Settings) -> None:
    schedule = BackupSchedule(replace(filled, backup_every_hours=1, backup_keep=3))
    start = datetime.now(UTC)
    made = []
    for number in range(5):
        file = schedule.back_up_if_due(start + timedelta(hours=2 * number))
        assert file is not None
        made.append(file)

    assert backups_in(filled.backup_folder) == made[-3:]


def test_thinning_out_touches_no_other_file(tmp_path: Path) -> None:
    mine = tmp_path / "before-the-move.db"
    mine.write_bytes(b"mine")
    for number in range(4):
        (tmp_path / f"midlimit-2026030{number}-090000.db").write_bytes(b"")

    thin_out(tmp_path, 1)

    assert mine.exists()
    assert len(backups_in(tmp_path)) == 1


def test_a_failed_backup_is_said_and_tried_again_later(
    filled: Settings, caplog: pytest.LogCaptureFixture
) -> None:
    damage(database_of(filled))
    schedule = BackupSchedule(filled)
    now = datetime.now(UTC)

    assert schedule.back_up_if_due(now) is None
    assert "no backup was made" in caplog.text
    assert not schedule.is_due(now + timedelta(minutes=1))
    assert schedule.is_due(now + timedelta(minutes=11))


def test_the_schedule_stops_at_once(filled: Settings) -> None:
    schedule = schedule_for(filled)
    assert schedule is not None
    schedule.start()
    schedule.stop()

    assert "backups" not in {thread.name for thread in threading.enumerate()}


def test_backups_can_be_switched_off(filled: Settings) -> None:
    assert schedule_for(replace(filled, backup_every_hours=0)) is None


def test_a_disk_nearly_full_is_warned_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = type("Usage", (), {"free": 150 * 1024 * 1024})
    monkeypatch.setattr("server.records.space.shutil.disk_usage", lambda _folder: usage)

    assert "150 MB" in low_space(tmp_path)


# The check.


def test_a_sound_shop_checks_as_sound(filled: Settings, run: Run) -> None:
    folder = ("--data-dir", filled.data_dir)
    assert run("backup", *folder)[0] == 0
    code, said, _ = run("check", *folder)

    assert code == 0, said
    for words in ("SQLite", "integrity", "schema", "entry", "last backup", "0 min ago"):
        assert words in said


def test_the_check_finds_damage_and_missing_backups(filled: Settings) -> None:
    damage(database_of(filled))
    bad = {line.what for line in check(filled, datetime.now(UTC)) if line.is_bad}

    assert "integrity" in bad
    assert "last backup" in bad


def test_the_check_finds_a_broken_reference(filled: Settings) -> None:
    with closing(sqlite3.connect(database_of(filled))) as connection:
        connection.execute("UPDATE entry SET piece_id = 999 WHERE id = 1")
        connection.commit()
    bad = {line.what: line.words for line in check(filled, datetime.now(UTC)) if line.is_bad}

    assert "broken" in bad["references"]


def test_the_check_changes_nothing(filled: Settings) -> None:
    before = database_of(filled).read_bytes()
    check(filled, datetime.now(UTC))

    assert database_of(filled).read_bytes() == before


def test_the_order_of_a_history_is_the_order_of_logging(filled: Settings) -> None:
    """A clock that jumps back gives later entries earlier times, and changes no order."""
    database = open_database(filled)
    with database.reading() as session:
        last = session.exec(select(EntryRow).order_by(EntryRow.id.desc())).first()  # type: ignore[union-attr]
    assert last is not None
    with database.writing() as session:
        body = last.model_dump(exclude={"id"}) | {"at": "2000-01-01T00:00:00.000000Z"}
        session.add(EntryRow(**body | {"entry_key": "after-the-jump"}))
    from server.logbook.replay import PieceLog

    with database.reading() as session:
        rows = PieceLog.read(session, last.piece_id).rows
        assert [row.id for row in rows] == sorted(row.id or 0 for row in rows)
        assert rows[-1].entry_key == "after-the-jump"
        assert rows[-1].at < rows[0].at
    database.close()
