"""What one run of Midlimit is told at start, read once."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

LOOPBACK_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})
PACKAGE = Path(__file__).resolve().parent


class Refusal(RuntimeError):
    """What was asked of the command line can't be done; the message is one clear line."""


def utc_now() -> datetime:
    return datetime.now(UTC)


def resource_dir(name: str) -> Path:
    """templates, static or migrations: inside the package in a wheel, beside it in a checkout."""
    inside = PACKAGE / name
    return inside if inside.is_dir() else PACKAGE.parent / name


def default_data_dir() -> Path:
    return Path(os.environ.get("XDG_DATA_HOME", Path.home() / ".local" / "share")) / "midlimit"


@dataclass(frozen=True)
class Settings:
    """data_dir holds the embedded database unless database_url names another one."""

    data_dir: Path
    database_url: str = ""
    host: str = "127.0.0.1"
    port: int = 8020
    share: bool = False
    allowed_hosts: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    self_signed: bool = False
    backup_every_hours: float = 24.0
    backup_keep: int = 14
    backup_dir: Path | None = None
    log: str = "info"
    clock: Callable[[], datetime] = utc_now

    @property
    def url(self) -> str:
        return self.database_url or f"sqlite:///{self.data_dir / 'midlimit.db'}"

    @property
    def backup_folder(self) -> Path:
        return self.backup_dir or self.data_dir / "backups"

    @property
    def is_shared(self) -> bool:
        """Whether other machines are meant to come in."""
        return self.share or bool(self.allowed_hosts) or self.host not in LOOPBACK_NAMES

    @property
    def scheme(self) -> str:
        return "https" if self.certificate or self.self_signed else "http"


def settings_from(
    environment: dict[str, str],
    *,
    data_dir: str | None = None,
    database_url: str | None = None,
    host: str = "127.0.0.1",
    port: int = 8020,
    share: bool = False,
    allowed_hosts: Sequence[str] = (),
    certificate: str | None = None,
    key: str | None = None,
    self_signed: bool = False,
    backup_every_hours: float = 24.0,
    backup_keep: int = 14,
    backup_dir: str | None = None,
    log: str = "info",
) -> Settings:
    """Flags beat the environment, the environment beats the defaults.  Sharing on loopback
    would reach nobody, so it listens on every address unless one was named."""
    folder = data_dir or environment.get("MIDLIMIT_DATA_DIR") or str(default_data_dir())
    url = database_url or environment.get("MIDLIMIT_DATABASE_URL") or ""
    return Settings(
        data_dir=Path(folder).expanduser().resolve(),
        database_url=url,
        host="0.0.0.0" if share and host in LOOPBACK_NAMES else host,
        port=port,
        share=share,
        allowed_hosts=tuple(allowed_hosts),
        certificate=Path(certificate).expanduser().resolve() if certificate else None,
        key=Path(key).expanduser().resolve() if key else None,
        self_signed=self_signed,
        backup_every_hours=backup_every_hours,
        backup_keep=backup_keep,
        backup_dir=Path(backup_dir).expanduser().resolve() if backup_dir else None,
        log=log,
    )
