"""What record.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.view_base import Page, Verdict


@dataclass(frozen=True, kw_only=True)
class RecordFeature:
    label: str
    designation: str
    source: str
    low: str
    high: str
    unit: str
    size: str = ""
    size_low: str = ""  # where warmth makes the size a range
    size_high: str = ""
    doubt: str = ""
    verdict: Verdict
    how: str  # "over 0.0320 in wires, handbook rule; 0–1 in micrometer"
    checks: tuple[str, ...] = ()  # one line an instrument: checked, due, zero
    temperature: str = ""
    measured: str = ""  # "2 May 2026 14:31, RT, mean of 2 readings"
    rule: str = ""  # where it differs from the record's
    evidence: str = ""


@dataclass(frozen=True, kw_only=True)
class RecordPiece:
    """One printed page."""

    name: str  # "Piece 3"
    serial: str = ""
    url: str  # its history
    state: str
    state_words: str
    reason: str = ""
    rule: str
    features: tuple[RecordFeature, ...]
    readings_words: str  # "14 readings, 1 of them struck"
    digest: str


@dataclass(frozen=True, kw_only=True)
class RecordPage(Page):
    """record.html at /pieces/{id}/record and /parts/{id}/record; prints one page a piece."""

    help: str = "record"
    part_name: str
    part_number: str = ""
    part_url: str
    material: str
    pieces: tuple[RecordPiece, ...] = ()
    lot_words: str = ""  # for a lot: "12 pieces"
    lot_digest: str = ""
    over: str
    csv_url: str
    json_url: str
    xlsx_url: str
    made_with: str
    printed_on: str
