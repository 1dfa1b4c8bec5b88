"""A shop copied from one database into another, and compared row by row afterwards."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from sqlalchemy import Connection, Table
from sqlmodel import SQLModel

from server.operate.transfer import TransferRefused, rows_of, set_sequences
from server.operate.transfer import check_empty as check_shop_empty
from server.records.database import open_database
from server.settings import Settings

BATCH = 2000


def move_shop(source_url: str, target_url: str) -> Iterator[str]:
    """Copies everything, compares counts and contents, and says so a line a table.

    The source is read, never changed but for an update of an older schema.  The target must be
    empty; it is left empty where anything fails.  Raises TransferRefused and DatabaseRefused.
    """
    if source_url == target_url:
        raise TransferRefused("Source and target are the same database.")
    source = open_database(Settings(data_dir=Path("."), database_url=source_url))
    target = open_database(Settings(data_dir=Path("."), database_url=target_url))
    told = []
    try:
        with source.snapshot() as from_there, target.writing() as session:
            into = session.connection()
            check_shop_empty(into)
            for table in SQLModel.metadata.sorted_tables:
                told.append(copied(table, from_there, into))
            if into.dialect.name == "postgresql":
                set_sequences(into)
    finally:
        source.close()
        target.close()
    yield from told


def copied(table: Table, source: Connection, target: Connection) -> str:
    """Copies one table and compares it.  TransferRefused where it differs afterwards."""
    target.execute(table.delete())
    rows = rows_of(source, table)
    while batch := list(islice(rows, BATCH)):
        target.execute(table.insert(), batch)
    there, here = digest(source, table), digest(target, table)
    if there != here:
        raise TransferRefused(f"The table {table.name} differs after copying; nothing was kept.")
    return f"{table.name:<18} {here[0]:>9} rows, same content"


def digest(connection: Connection, table: Table) -> tuple[int, str]:
    """(count, a hash over every row by key); equal for equal contents on any engine."""
    count, found = 0, hashlib.sha256()
    for row in rows_of(connection, table):
        found.update(json.dumps(row, ensure_ascii=False).encode() + b"\n")
        count += 1
    return count, found.hexdigest()
