"""Transcribed tables, one CSV a printed table, each row with its source.

The only place in the pure packages that reads a file: the tables are part of the code.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of tables/<name>.csv, in order; FileNotFoundError for an unknown table."""
    text = files(__name__).joinpath(f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
