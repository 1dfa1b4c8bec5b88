"""A fresh PostgreSQL database for each test, where MIDLIMIT_TEST_DATABASE_URL names a server.

Each process of the test run migrates one database and copies it for its tests.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from sqlalchemy import create_engine, make_url, text

from server.records.database import open_database
from server.settings import Settings

VARIABLE = "MIDLIMIT_TEST_DATABASE_URL"


def server_url() -> str:
    """Address of a PostgreSQL that tests may make databases on, "" for none."""
    return os.environ.get(VARIABLE, "")


def on_server(statement: str) -> None:
    engine = create_engine(server_url(), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


def address_of(name: str) -> str:
    return make_url(server_url()).set(database=name).render_as_string(hide_password=False)


def new_name() -> str:
    return f"midlimit_{uuid.uuid4().hex[:12]}"


@cache
def migrated() -> str:
    """A database at the newest schema, for copying only."""
    name = new_name()
    on_server(f"CREATE DATABASE {name}")
    open_database(Settings(data_dir=Path("."), database_url=address_of(name))).close()
    return name


@contextmanager
def fresh_database(*, is_migrated: bool = True) -> Iterator[str]:
    """The address of an empty database, removed afterwards."""
    name = new_name()
    template = f" TEMPLATE {migrated()}" if is_migrated else ""
    on_server(f"CREATE DATABASE {name}{template}")
    try:
        yield address_of(name)
    finally:
        on_server(f"DROP DATABASE {name} WITH (FORCE)")
