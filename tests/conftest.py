"""What the tests that need a database share: a clock to turn, and a fresh file each."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from server.records.database import Database, open_database
from server.settings import Settings


class Clock:
    """A clock that moves only when told."""

    def __init__(self) -> None:
        self.time = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.time

    def forward(self, minutes: float) -> None:
        self.time += timedelta(minutes=minutes)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def settings(tmp_path: Path, clock: Clock) -> Settings:
    return Settings(data_dir=tmp_path / "data", clock=clock)


@pytest.fixture
def database(settings: Settings) -> Iterator[Database]:
    opened = open_database(settings)
    yield opened
    opened.close()


def is_ours(name: str | None, kind: str, _parents: object) -> bool:
    """Whether a table or an index belongs to the models: the search index is the engine's own."""
    return kind == "schema" or not str(name).startswith(("search_", "ix_search_"))
