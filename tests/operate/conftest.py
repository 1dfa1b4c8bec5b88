"""A shop with the invented workshop in it, and the command line called as a person calls it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from server.cli import main
from server.demo import fill_if_empty
from server.records.database import open_database
from server.settings import Settings

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def filled(settings: Settings) -> Settings:
    """The settings of an embedded database that has records."""
    database = open_database(settings)
    fill_if_empty(database, settings)
    database.close()
    return settings


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """(exit code, standard output, standard error) of `midlimit …`."""

    def call(*words: object) -> tuple[int, str, str]:
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    return folder
