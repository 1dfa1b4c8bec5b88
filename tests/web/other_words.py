"""A language that no one speaks, to see what can't be translated.

Every message is told in wide letters.  A plain Latin word left on a screen is then a text that
does not go through the catalogue, or a name that somebody typed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from gettext import NullTranslations
from html.parser import HTMLParser

from fastapi import FastAPI
from sqlmodel import func, select

from server.logbook.trail import MOST_LINES
from server.metrology.designation import EXAMPLES
from server.metrology.materials import all_materials
from server.pages import view_render
from server.pages.language import ENGLISH, LANGUAGES
from server.records.database import Database
from server.records.tables import (
    AuditRow,
    ClosingRow,
    DeviceRow,
    EntryRow,
    FeatureRow,
    InstrumentRow,
    LatheRow,
    MaterialRow,
    OperatorRow,
    PartRow,
    PieceRow,
    StrikeRow,
    WireSetRow,
    ZeroCheckRow,
)

KEPT = re.compile(r"\{[^{}]*\}|<[^<>]*>|&\w+;")  # places for values, tags
SHOWN = {"aria-label", "title", "alt", "placeholder", "aria-description", "aria-valuetext"}
SILENT = {"script", "style"}
WORD = re.compile(r"[A-Za-z][A-Za-z]+")
DIGEST = re.compile(r"\b[0-9a-f]{8}\b")
TYPED = (  # the columns that people fill with words of their own, and designations
    *(OperatorRow.initials, OperatorRow.name, MaterialRow.name, MaterialRow.source),
    *(LatheRow.name, InstrumentRow.name, WireSetRow.name, DeviceRow.name, DeviceRow.initials),
    *(PartRow.name, PartRow.number, PartRow.material, PieceRow.serial),
    *(FeatureRow.label, FeatureRow.designation),
    *(EntryRow.operator, EntryRow.note, EntryRow.station, StrikeRow.reason, StrikeRow.operator),
    *(ClosingRow.initials, ClosingRow.reason, ZeroCheckRow.operator, AuditRow.who),
)
SYMBOLS = {
    *("Midlimit", "SQLite", "CSV", "JSON", "XLSX", "SHA"),
    *("mm", "in", "mrad", "in²"),  # units
    *("sin", "cos", "tan", "max", "min", "low", "high", "Student"),  # of formulas
    *("ISO", "TR", "ASME", "ANSI", "ASTM", "BS", "DIN", "GUM", "JCGM", "EA", "USAS"),  # cited
    *("Welch", "Satterthwaite"),
    *("Ti", "Lg", "Hg", "El", "Mb", "Mw", "Ai", "ln", "exp"),
    *("UN", "UNC", "UNF", "UNEF", "UNR", "UNJ", "ACME", "BSW", "BSF", "BA", "Tr", "GO", "NOT"),
}


def wide(message: str) -> str:
    """The message in wide letters, its places and tags as they are."""
    parts, at = [], 0
    for place in KEPT.finditer(message):
        parts += [_widened(message[at : place.start()]), place[0]]
        at = place.end()
    return "".join([*parts, _widened(message[at:])])


def _widened(text: str) -> str:
    return "".join(chr(ord(c) + 0xFEE0) if c.isascii() and c.isalpha() else c for c in text)


class WideWords(NullTranslations):
    """The catalogue of that language."""

    def gettext(self, message: str) -> str:
        return wide(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return wide(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return wide(message)


class _Texts(HTMLParser):
    """What a person reads or hears of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.silent = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in SILENT
        self.found += [value for name, value in attrs if name in SHOWN and value]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in SILENT

    def handle_data(self, data: str) -> None:
        if not self.silent and data.strip():
            self.found.append(" ".join(data.split()))


def left_over(page: str, names: Iterable[str]) -> list[str]:
    """Texts of the page with a Latin word in them that is neither a name nor a symbol."""
    allowed = sorted({name for name in names if name}, key=len, reverse=True)
    found = []
    for text in _Texts(page).found:
        rest = text
        for name in allowed:
            rest = rest.replace(name, " ")
        if set(WORD.findall(DIGEST.sub(" ", rest))) - SYMBOLS:
            found.append(text)
    return found


def names_of(database: Database) -> Iterator[str]:
    """What no language changes: what people typed, the designations that are offered as examples,
    the sources of the materials, the languages by their own names."""
    yield from (*EXAMPLES, *LANGUAGES.values())
    yield from (material.source for material in all_materials())
    with database.reading() as session:
        for column in TYPED:
            for value in session.exec(select(column).distinct()):
                if WORD.search(value):
                    yield " ".join(value.split())


def speak_wide(app: FastAPI) -> None:
    """Puts the wide language in the place of English."""
    view_render.speak(app.state.templates[ENGLISH], WideWords())


def addresses(database: Database) -> list[str]:
    """Every screen of the demo, and some that refuse."""
    with database.reading() as session:
        parts = session.exec(select(PartRow)).all()
        pieces = session.exec(select(PieceRow)).all()
        features = session.exec(select(FeatureRow)).all()
        lines = session.exec(select(func.count()).select_from(AuditRow)).one()
    found = ["/", "/?q=zzz", "/targets", "/crib", "/shop", "/shop/sharing", "/shop/audit"]
    found += ["/help", "/start", "/parts/99999", "/pair"]
    found += [f"/shop/audit?before={line}" for line in range(MOST_LINES, lines, MOST_LINES)]
    for part in parts:
        found += [f"/parts/{part.id}", f"/parts/{part.id}/lot", f"/parts/{part.id}/record"]
    for piece in pieces:
        found += [f"/pieces/{piece.id}/{page}" for page in ("history", "finish", "record")]
        for feature in (each for each in features if each.part_id == piece.part_id):
            found += [
                f"/pieces/{piece.id}/{page}?feature={feature.id}" for page in ("lathe", "working")
            ]
    return found
