"""What crib.html and shop.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.view_base import Choice, Page


@dataclass(frozen=True, kw_only=True)
class SlideLine:
    name: str  # "Cross-slide"
    words: str  # "dial counts diameter, 0.001 in a line"
    angle: str = ""  # "29.5° from the cross-slide"


@dataclass(frozen=True, kw_only=True)
class LatheRow:
    lathe_id: int
    name: str
    slides: tuple[SlideLine, ...]


@dataclass(frozen=True, kw_only=True)
class InstrumentRow:
    instrument_id: int
    name: str
    kind_word: str
    resolution: str
    max_error: str
    unit: str
    zero: str = ""  # "+0.0001"; "" for never checked
    checked: str = ""  # "2 May 2026, 25.000 mm standard"
    due: str = ""  # "due 2 June 2026"
    is_due: bool = False
    repeats: str = ""  # "0.00006 in direct, by 12 repeats"; "" where none is on record


@dataclass(frozen=True, kw_only=True)
class WireRow:
    wire_id: int
    name: str
    nominal: str
    measured: str
    unit: str
    words: str = ""  # "best for 18 TPI", "certified to zero force"
    due: str = ""
    is_due: bool = False


@dataclass(frozen=True, kw_only=True)
class CribPage(Page):
    """crib.html at /crib.

    POST /crib/lathes       name, unit, cross_slide_counts, cross_slide_graduation,
                            compound_counts, compound_graduation, compound_angle_deg, angle_from
    POST /crib/instruments  name, kind, unit, resolution, max_error, due
    POST /crib/wires        name, unit, nominal, measured, zero_force (checkbox "true"), due
    POST /crib/checks       instrument_id, unit, standard, value
    """

    help: str = "crib"
    lathes: tuple[LatheRow, ...] = ()
    instruments: tuple[InstrumentRow, ...] = ()
    wires: tuple[WireRow, ...] = ()
    due_words: str = ""  # "1 instrument is due for a check"
    units: tuple[Choice, ...]
    unit: str = "in"
    counts: tuple[Choice, ...]  # diameter, travel
    angle_conventions: tuple[Choice, ...]  # cross_slide, axis
    instrument_kinds: tuple[Choice, ...]


@dataclass(frozen=True, kw_only=True)
class MaterialRow:
    name: str
    expansion: str  # "11.5" in µm/m per °C
    basis: str = ""  # of what is built in: published, or recalled
    source: str = ""  # of what is built in a citation, in English
    is_own: bool = False


@dataclass(frozen=True, kw_only=True)
class OperatorRow:
    initials: str
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class ScrapLine:
    """One thing that scraps parts here."""

    reason: str
    count: str  # "3 pieces"
    words: str = ""  # "last on 2 May 2026; Bearing seat past its limit"


@dataclass(frozen=True, kw_only=True)
class ShopPage(Page):
    """shop.html at /shop.

    POST /shop            unit, temperature_unit, shop_temperature, rule, past_limit_percent
    POST /shop/operators  initials
    POST /shop/materials  name, expansion
    POST /language        language: one of the languages there are
    """

    help: str = "shop"
    unit: str
    units: tuple[Choice, ...]
    temperature_unit: str
    temperature_units: tuple[Choice, ...]
    shop_temperature: str
    rule: str
    rules: tuple[Choice, ...]
    rule_words: str = ""  # what the rule in force means, one sentence
    past_limit_percent: str = "0.5"
    materials: tuple[MaterialRow, ...] = ()
    operators: tuple[OperatorRow, ...] = ()
    scrap: tuple[ScrapLine, ...] = ()
    about: str = ""  # "Midlimit 0.1.0, data in this computer only"
