"""Backups while the server runs: made when due, thinned out, and said aloud when they fail."""

from __future__ import annotations

import logging
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

from server.operate.backup import (
    PARTIAL,
    BackupRefused,
    back_up,
    backups_in,
    thin_out,
)
from server.records.space import low_space
from server.settings import Settings

log = logging.getLogger("midlimit.operate")
LOOK_EVERY_S = 60.0
AFTER_FAULT = timedelta(minutes=10)


class BackupSchedule:
    """A thread that backs up the embedded database every so many hours and keeps the last ones."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.folder = settings.backup_folder
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="backups", daemon=True)
        self._not_before = datetime.min.replace(tzinfo=UTC)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Returns within two seconds; a backup half made then leaves only its partial file."""
        self._stopping.set()
        self._thread.join(timeout=2)

    def is_due(self, now: datetime) -> bool:
        if now < self._not_before:
            return False
        made = backups_in(self.folder)
        if not made:
            return True
        age = now - datetime.fromtimestamp(made[-1].stat().st_mtime, UTC)
        return not timedelta(0) <= age < timedelta(hours=self.settings.backup_every_hours)

    def back_up_if_due(self, now: datetime) -> Path | None:
        """The backup made, None where none was due or none could be made."""
        if not self.is_due(now):
            return None
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            for left_over in self.folder.glob(f"*{PARTIAL}"):
                left_over.unlink()
            made = back_up(self.settings, self.folder, now)
        except (BackupRefused, OSError) as fault:
            self._not_before = now + AFTER_FAULT
            log.error("no backup was made: %s", fault)
            return None
        gone = thin_out(self.folder, self.settings.backup_keep)
        log.info("backed up to %s, %d old ones removed", made.file, len(gone))
        return made.file

    def _run(self) -> None:
        warned_on = ""
        while not self._stopping.wait(LOOK_EVERY_S):
            now = datetime.now(UTC)
            self.back_up_if_due(now)
            warning = low_space(self.settings.data_dir)
            if warning and warned_on != f"{now:%Y%m%d%H}":
                warned_on = f"{now:%Y%m%d%H}"
                log.warning(warning)


def schedule_for(settings: Settings) -> BackupSchedule | None:
    """None where backups are switched off, or a database server keeps the records."""
    is_embedded = settings.url.startswith("sqlite")
    return BackupSchedule(settings) if is_embedded and settings.backup_every_hours > 0 else None
