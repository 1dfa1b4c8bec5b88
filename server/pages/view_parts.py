"""What parts.html and part.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.view_base import NO_VERDICT, Choice, Page, Verdict


@dataclass(frozen=True, kw_only=True)
class FeatureChip:
    """What one feature of an open piece still needs."""

    label: str
    url: str  # lathe page with this feature
    verdict: Verdict = NO_VERDICT
    stock_left: str = ""  # "0.0153 in"
    next_cut: str = ""  # "dial 0.012"
    is_waiting: bool = False  # warm: last reading is in state Wait


@dataclass(frozen=True, kw_only=True)
class PieceRow:
    piece_id: int
    part_name: str
    part_number: str = ""
    part_url: str
    piece_name: str
    url: str  # lathe page
    history_url: str
    state: str = "open"  # open, good, scrap, concession
    state_words: str = ""  # "Finished good 2 May 2026"
    last_words: str = ""  # "last reading 10:42", "no reading yet"
    features: tuple[FeatureChip, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PartRow:
    part_id: int
    name: str
    number: str = ""
    url: str
    words: str = ""  # "3 features, 2 pieces"


@dataclass(frozen=True, kw_only=True)
class PartsPage(Page):
    """parts.html at / (GET /?q=text searches); POST /parts: name, number, material, unit."""

    open_pieces: tuple[PieceRow, ...] = ()
    parts: tuple[PartRow, ...] = ()  # drawings without an open piece, to start one from
    search: str = ""
    found: tuple[PieceRow, ...] = ()  # finished pieces
    found_words: str = ""  # "12 finished pieces", "nothing found for “shaft”"
    materials: tuple[str, ...]
    units: tuple[Choice, ...]
    unit: str = "in"


@dataclass(frozen=True, kw_only=True)
class FeatureRow:
    feature_id: int
    label: str
    kind_word: str
    designation: str
    low: str
    high: str
    aim: str
    unit: str
    how: str  # "over 0.0320 wires, cross-slide of the bench lathe, 0–1 in micrometer"
    card_url: str  # "/targets?designation=..."
    before: str = ""  # how the same size went on other parts
    before_url: str = ""


@dataclass(frozen=True, kw_only=True)
class PartPage(Page):
    """part.html at /parts/{id}.

    POST feature_action  designation, label, kind, method, wire, aim, slide, lathe_id,
                         instrument_id, rule, nose_radius, flat, crest_diameter,
                         compound_angle_deg, angle_from
    POST piece_action    serial
    POST copy_action     name, number
    """

    help: str = "part"
    part_id: int
    name: str
    number: str = ""
    material: str
    unit: str
    features: tuple[FeatureRow, ...] = ()
    pieces: tuple[PieceRow, ...] = ()
    feature_action: str  # "/parts/2/features"
    piece_action: str  # "/parts/2/pieces"
    copy_action: str = ""  # "/parts/2/copy"
    kinds: tuple[Choice, ...]
    methods: tuple[Choice, ...]
    slides: tuple[Choice, ...]
    lathes: tuple[Choice, ...]
    instruments: tuple[Choice, ...]
    rules: tuple[Choice, ...]
    angle_conventions: tuple[Choice, ...]
