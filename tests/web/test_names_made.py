"""Features that are named for a person are named in the language of that person."""

from __future__ import annotations

from dataclasses import replace

from sqlmodel import Session, select

from server.logbook.first_use import FirstPart, open_first_part
from server.logbook.parts import NewFeature, part_of
from server.logbook.shop import NewLathe
from server.logbook.shop_instruments import NewInstrument
from server.logbook.thread_sets import add_thread_set
from server.pages.language import ENGLISH, teller
from server.records.database import Database
from server.records.tables import FeatureRow
from server.settings import Settings
from server.wording import told
from tests.web.other_words import WideWords

FIRST = FirstPart(
    lathe=NewLathe("Lathe", "mm", "diameter", "0.02", "travel", "0.02", 29.5, "cross_slide"),
    instrument=NewInstrument("Micrometer", "micrometer", "mm", "0.001"),
    name="Shaft",
    material="Aluminium 6061",
    unit="mm",
    designation="25 h6",
)


def tell_wide(text: str) -> str:
    return str(told(text, WideWords()))


def labels(session: Session) -> list[str]:
    return list(session.exec(select(FeatureRow.label).order_by(FeatureRow.id)))  # type: ignore[arg-type]


def test_the_first_feature_is_named_in_english_unless_told_otherwise(
    database: Database, settings: Settings
) -> None:
    with database.writing() as session:
        open_first_part(session, replace(FIRST, tell=teller(ENGLISH)), settings.clock())
        assert labels(session) == ["Outside diameter"]


def test_the_first_feature_and_a_thread_set_are_named_as_told(
    database: Database, settings: Settings
) -> None:
    with database.writing() as session:
        piece = open_first_part(session, replace(FIRST, tell=tell_wide), settings.clock())
        part = part_of(session, piece.part_id)
        new = NewFeature("M20", "M20x2.5-6g", "thread_micrometer", "cross_slide", 1, 1)
        add_thread_set(session, part, new, settings.clock(), tell_wide)

        first, blank, relief, chamfer, thread = labels(session)
    assert first == "Ｏｕｔｓｉｄｅ ｄｉａｍｅｔｅｒ"
    assert blank == "Ｍａｊｏｒ ｄｉａｍｅｔｅｒ"
    assert relief.startswith("Ｒｅｌｉｅｆ ｇｒｏｏｖｅ, ")
    assert chamfer.startswith("Ｅｎｄ ｃｈａｍｆｅｒ ")
    assert thread == "M20"
