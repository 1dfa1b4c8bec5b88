"""What one run of Midlimit is told at start, read once."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


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
    allowed_hosts: tuple[str, ...] = ()
    clock: Callable[[], datetime] = utc_now

    @property
    def url(self) -> str:
        return self.database_url or f"sqlite:///{self.data_dir / 'midlimit.db'}"


def settings_from(
    environment: dict[str, str],
    *,
    data_dir: str | None = None,
    database_url: str | None = None,
    host: str = "127.0.0.1",
    port: int = 8020,
) -> Settings:
    """Flags beat the environment, the environment beats the defaults."""
    folder = data_dir or environment.get("MIDLIMIT_DATA_DIR") or str(default_data_dir())
    url = database_url or environment.get("MIDLIMIT_DATABASE_URL") or ""
    return Settings(
        data_dir=Path(folder).expanduser().resolve(), database_url=url, host=host, port=port
    )
