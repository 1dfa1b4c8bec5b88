"""What lot.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.lot_drawing import RunDrawing
from server.pages.view_base import NO_VERDICT, Page, Verdict


@dataclass(frozen=True, kw_only=True)
class LotCell:
    size: str = ""
    doubt: str = ""
    verdict: Verdict = NO_VERDICT


@dataclass(frozen=True, kw_only=True)
class LotPiece:
    """A row of the table: one piece, a cell for each feature."""

    name: str  # "Piece 3, A-17"
    url: str
    state: str  # open, good, scrap, concession
    state_word: str
    cells: tuple[LotCell, ...]


@dataclass(frozen=True, kw_only=True)
class LotFeature:
    feature_id: int
    label: str
    unit: str
    low: str
    high: str
    aim: str
    runs: tuple[tuple[str, RunDrawing], ...] = ()  # wide and narrow
    first: str = ""
    last: str = ""
    drift: str = ""
    centring: str = ""
    capability: str = ""


@dataclass(frozen=True, kw_only=True)
class LotPage(Page):
    """lot.html at /parts/{id}/lot; prints."""

    help: str = "lot"
    part_name: str
    part_number: str = ""
    part_url: str
    material: str
    count_words: str  # "12 pieces, 10 of them finished, 1 scrapped"
    features: tuple[LotFeature, ...] = ()
    pieces: tuple[LotPiece, ...] = ()  # oldest first
    piece_action: str
    record_url: str
    json_url: str
