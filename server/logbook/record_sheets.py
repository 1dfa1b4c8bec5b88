"""The record as tables: CSV, and a spreadsheet with one sheet of features and one of readings."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from server.logbook.digest import Digest
from server.logbook.history import safe_cell
from server.logbook.record import FeatureRecord, PieceRecord, ReadingLine
from server.metrology.units import from_mm

FEATURE_COLUMNS = (
    "part",
    "part number",
    "material",
    "piece",
    "serial",
    "finished as",
    "finished at",
    "by",
    "reason",
    "feature",
    "designation",
    "unit",
    "low",
    "high",
    "size",
    "doubt",
    "verdict",
    "decision rule",
    "instrument",
    "last checked",
    "due",
    "wires",
    "temperature",
    "measured at",
    "operator",
    "digest",
    "size low",
    "size high",
)
READING_COLUMNS = (
    "piece",
    "number",
    "feature",
    "value",
    "unit",
    "at",
    "operator",
    "temperature",
    "station",
    "note",
    "struck at",
    "struck reason",
)
Cell = str | int | float | None


def feature_cells(record: PieceRecord, found: FeatureRecord) -> tuple[Cell, ...]:
    part, piece, closing, setup = record.part, record.piece, record.closing, found.setup
    low_mm, high_mm = setup.limits.both()

    def length(value_mm: float | None) -> float | None:
        return None if value_mm is None else round(from_mm(value_mm, setup.unit), 7)

    return (
        part.name,
        part.number,
        part.material,
        piece.number,
        piece.serial,
        piece.closed_as or "open",
        closing.at if closing else "",
        closing.initials if closing else "",
        closing.reason if closing else "",
        setup.label,
        found.designation,
        setup.unit,
        length(low_mm),
        length(high_mm),
        length(found.size_mm),
        length(found.doubt_mm),
        found.verdict,
        found.rule.words,
        "; ".join(each.name for each in found.instruments),
        "; ".join(each.last_checked for each in found.instruments),
        "; ".join(each.due for each in found.instruments),
        found.wires,
        "; ".join(found.temperatures),
        found.measured_at,
        " ".join(found.operators),
        record.digest.value,
        length(found.low_mm),
        length(found.high_mm),
    )


def reading_cells(record: PieceRecord, line: ReadingLine) -> tuple[Cell, ...]:
    row = line.row
    noted = (
        f"{row.temperature} °{row.temperature_unit}" if row.temperature_unit else row.temperature
    )
    return (
        record.piece.number,
        line.number,
        line.feature,
        row.value,
        row.unit,
        row.at,
        row.operator,
        noted,
        row.station,
        row.note,
        line.struck_at,
        line.struck_reason,
    )


def record_csv(records: Sequence[PieceRecord]) -> str:
    """One line a feature of each piece."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(FEATURE_COLUMNS)
    for record in records:
        for found in record.features:
            writer.writerow([safe_cell(cell) for cell in feature_cells(record, found)])
    return out.getvalue()


def record_xlsx(records: Sequence[PieceRecord], digest: Digest) -> bytes:
    """A workbook: Features, Readings as typed, and what the digest is taken over."""
    from openpyxl import Workbook  # type: ignore[import-untyped]

    book = Workbook()
    features = book.active
    features.title = "Features"
    fill(
        features,
        FEATURE_COLUMNS,
        [feature_cells(record, found) for record in records for found in record.features],
    )
    fill(
        book.create_sheet("Readings"),
        READING_COLUMNS,
        [reading_cells(record, line) for record in records for line in record.readings],
    )
    about: list[tuple[Cell, ...]] = [
        ("digest", digest.value),
        ("readings", digest.readings),
        ("over", digest.over),
    ]
    fill(book.create_sheet("Digest"), ("what", "value"), about)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def fill(sheet: Any, columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    """Text stays text: a cell that begins with = is no formula."""
    for place, name in enumerate(columns, start=1):
        sheet.cell(1, place, name)
    for line, row in enumerate(rows, start=2):
        for place, value in enumerate(row, start=1):
            cell = sheet.cell(line, place, printable(value))
            if cell.data_type == "f":
                cell.data_type = "s"
    sheet.freeze_panes = "A2"


def printable(value: Cell) -> Cell:
    """Without the control characters that a spreadsheet can't hold."""
    if not isinstance(value, str):
        return value
    return "".join(letter for letter in value if letter >= " " or letter in "\n\t")
