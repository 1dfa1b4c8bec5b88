"""A whole shop as one JSON file, written and read row by row.

The file is UTF-8 JSON, one object:

    {"midlimit": "shop", "format": 1, "schema": "0005", "tables": {
    "shop": [
    {"id": 1, "unit": "in", ...}
    ],
    "part": [
    {"id": 1, "name": "Water-pump shaft", ...},
    {"id": 2, ...}
    ],
    ...
    }}

"format" changes when this layout does; "schema" is the migration of the database it came from.
"tables" holds every table of the shop, each after the tables its rows refer to; a table holds its
rows by key, a row its columns by name in the order of the table.  What was typed is text beside the
number of millimetres it was read as, times are ISO 8601 in UTC, ids are kept.  Paired devices and
pairing codes stay behind: they belong to the machine, not to the shop.

Exported, imported into an empty database and exported again, the file is the same byte for byte.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Connection, Table, func, select, text
from sqlalchemy.exc import IntegrityError, StatementError
from sqlmodel import SQLModel

from server.operate.backup import sync
from server.operate.jsonstream import BadJson, JsonReader
from server.records import tables
from server.records.database import migration_numbers, open_database
from server.settings import Refusal, Settings

KIND, FORMAT = "shop", 1
STAYS_BEHIND = {"device", "pairing", "revision"}
BATCH = 2000


class TransferRefused(Refusal):
    """Nothing was exported or imported; the message says why."""


def shop_tables() -> list[Table]:
    """Every table of the shop, each after those it refers to."""
    assert tables.AUDIT is not None  # the tables are registered by importing them
    return [table for table in SQLModel.metadata.sorted_tables if table.name not in STAYS_BEHIND]


def rows_of(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    """All rows by key, a few at a time."""
    ordered = select(table).order_by(*table.primary_key.columns)
    found = connection.execute(ordered, execution_options={"yield_per": BATCH})
    for row in found.mappings():
        yield dict(row)


def export_shop(settings: Settings, file: Path) -> int:
    """Write the shop to a new file, of one moment of the database.  The number of rows."""
    if file.exists():
        raise TransferRefused(f"{file} exists already; name another file.")
    database = open_database(settings)
    partial = file.with_name(file.name + ".partial")
    try:
        with partial.open("w", encoding="utf-8", newline="\n") as out, database.snapshot() as found:
            rows = write_shop(found, out)
        sync(partial)
        os.replace(partial, file)
        sync(file.absolute().parent)
    except OSError as error:
        raise TransferRefused(f"{file} can't be written: {error.strerror}.") from error
    finally:
        partial.unlink(missing_ok=True)
        database.close()
    return rows


def write_shop(connection: Connection, out: IO[str]) -> int:
    schema = migration_numbers()[-1]
    head = {"midlimit": KIND, "format": FORMAT, "schema": schema}
    out.write(json.dumps(head)[:-1] + ', "tables": {')
    count, before_table = 0, "\n"
    for table in shop_tables():
        out.write(f'{before_table}"{table.name}": [')
        before_table, before_row = ",\n", "\n"
        for row in rows_of(connection, table):
            out.write(before_row + json.dumps(row, ensure_ascii=False, allow_nan=False))
            before_row = ",\n"
            count += 1
        out.write("\n]")
    out.write("\n}}\n")
    return count


def import_shop(settings: Settings, file: Path) -> int:
    """Read an exported shop into an empty database, all of it or nothing.  The number of rows.

    Raises TransferRefused for a database with records in it, for a file that is no export, is
    from a newer release, or does not fit together.
    """
    try:
        source = file.open(encoding="utf-8")
    except OSError as error:
        raise TransferRefused(f"{file} can't be read: {error.strerror}.") from error
    database = open_database(settings)
    try:
        with source, database.writing() as session:
            connection = session.connection()
            check_empty(connection)
            count = read_shop(connection, JsonReader(source))
            after_import(connection)
    except (BadJson, UnicodeDecodeError) as error:
        raise TransferRefused(f"{file} is not an exported shop: {error}.") from error
    except (IntegrityError, StatementError) as error:
        raise TransferRefused(f"The rows in {file} don't fit together: {error.orig}.") from error
    finally:
        database.close()
    return count


def check_empty(connection: Connection) -> None:
    for table in shop_tables():
        if connection.execute(select(func.count()).select_from(table)).scalar_one():
            raise TransferRefused(
                f"There are records in this database already ({table.name}). Import into an empty "
                "one: name another folder with --data-dir."
            )


def read_shop(connection: Connection, reader: JsonReader) -> int:
    known = {table.name: table for table in shop_tables()}
    head: dict[str, Any] = {}
    count, has_tables = 0, False
    for key in reader.keys():
        if key != "tables":
            head[key] = reader.value()
            continue
        check_head(head)
        has_tables = True
        for name in reader.keys():
            if name not in known:
                raise TransferRefused(f"The file holds a table {name[:40]} that is unknown here.")
            count += read_table(connection, known[name], reader)
    if not has_tables:
        raise BadJson("it has no tables")
    return count


def check_head(head: dict[str, Any]) -> None:
    if head.get("midlimit") != KIND:
        raise BadJson('it does not begin with {"midlimit": "shop"')
    if head.get("format") != FORMAT:
        raise TransferRefused(f"The file is of format {head.get('format')}; {FORMAT} is read here.")
    schema = head.get("schema")
    if schema not in migration_numbers():
        raise TransferRefused(
            f"The file was written by a newer Midlimit (schema {schema}); install that version."
        )


def read_table(connection: Connection, table: Table, reader: JsonReader) -> int:
    columns = {column.name for column in table.columns}
    count, batch = 0, []
    for row in reader.items():
        if not isinstance(row, dict) or not set(row) <= columns:
            raise BadJson(f"a row of {table.name} has columns that are unknown here")
        batch.append(row)
        if len(batch) >= BATCH:
            connection.execute(table.insert(), batch)
            count, batch = count + len(batch), []
    if batch:
        connection.execute(table.insert(), batch)
    return count + len(batch)


def after_import(connection: Connection) -> None:
    """New ids go on from the highest, and what a server has read before no longer holds."""
    connection.execute(text("UPDATE revision SET number = number + 1"))
    if connection.dialect.name == "postgresql":
        set_sequences(connection)


def set_sequences(connection: Connection) -> None:
    """PostgreSQL: rows copied with their ids leave the sequences behind."""
    for table in SQLModel.metadata.sorted_tables:
        sequence = connection.execute(
            text("SELECT pg_get_serial_sequence(:name, :key)"),
            {"name": f'"{table.name}"', "key": next(iter(table.primary_key.columns)).name},
        ).scalar()
        if sequence is None:
            continue
        key = next(iter(table.primary_key.columns))
        highest = connection.execute(select(func.max(key))).scalar()
        if highest is not None:
            connection.execute(
                text("SELECT setval(:sequence, :highest)"),
                {"sequence": sequence, "highest": highest},
            )
