"""Published and supporting check values, one CSV a source table in tests/reference/.

Every row says in its source column where it comes from and, where the file has an `obtained`
column, how it was had: published, memory or computed.
"""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """Every row of tests/reference/<name>.csv, in order; FileNotFoundError for an unknown name."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def published(name: str) -> list[dict[str, str]]:
    """The rows that were read in a published source; the others only support."""
    return [row for row in rows(name) if row["obtained"] == "published"]
