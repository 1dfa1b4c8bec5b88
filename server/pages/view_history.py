"""What history.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.drawings import Plot
from server.pages.view_base import Entry, Fact, Finish, Page, Verdict


@dataclass(frozen=True, kw_only=True)
class FeatureHistory:
    feature_id: int
    label: str
    designation: str
    unit: str
    low: str
    high: str
    aim: str
    measured: str  # "Measured over 0.0320 wires, 0–1 in micrometer."
    final_size: str = ""
    final_doubt: str = ""
    final_low: str = ""  # where warmth makes the size a range
    final_high: str = ""
    verdict: Verdict
    rule: str  # "guard band U (ISO 14253-1)"
    limits_from: str  # "Limits from ASME B1.1."
    plot: Plot | None = None
    entries: tuple[Entry, ...] = ()  # oldest first
    facts: tuple[Fact, ...] = ()  # passes, took off in all, largest miss, chance in limits
    lathe_url: str


@dataclass(frozen=True, kw_only=True)
class HistoryPage(Page):
    """history.html at /pieces/{id}/history; prints to one page for each piece."""

    help: str = "history"
    piece_id: int
    part_name: str
    part_number: str = ""
    part_url: str
    piece_name: str
    serial: str = ""
    material: str
    state: str  # open, good, scrap or concession
    state_words: str  # "In work", "Finished good 2 May 2026 by JK"
    state_reason: str = ""
    closings: tuple[str, ...] = ()  # earlier ends and reworks, one sentence each
    rework_action: str = ""  # "/pieces/3/rework"; "" while it is in work
    features: tuple[FeatureHistory, ...]
    crowd: str = (
        ""  # how it prints: "" or few in one column, many in two, sheets in two and numbered
    )
    csv_url: str
    json_url: str
    finish: Finish | None = None  # None once finished
    again_action: str = ""  # "/parts/2/pieces": another piece
    made_with: str  # "Midlimit 0.1.0"
    printed_on: str  # "2 May 2026 14:31"
