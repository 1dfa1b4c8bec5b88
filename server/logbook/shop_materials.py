"""The materials of the shop: those it wrote down itself, then the published ones."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, select

from server.logbook.problems import optional_text, positive_typed, refuse, short_text
from server.logbook.shop import note_change
from server.metrology import materials
from server.records.tables import MaterialRow
from server.wording import say, words_of

TYPICAL_DENSITY_KG_M3 = 7850.0  # steel: an upper estimate of how long a part stays warm
TYPICAL_HEAT_CAPACITY_J_KG_K = 470.0


def own_materials(session: Session) -> tuple[materials.Material, ...]:
    return tuple(
        materials.Material(
            name=row.name,
            words=row.name,
            family=row.name,
            grade="",
            expansion_per_c=(row.expansion_low_per_c + row.expansion_high_per_c) / 2,
            low_per_c=row.expansion_low_per_c,
            high_per_c=row.expansion_high_per_c,
            elastic_modulus_mpa=None,
            density_kg_m3=TYPICAL_DENSITY_KG_M3,
            heat_capacity_j_kg_k=TYPICAL_HEAT_CAPACITY_J_KG_K,
            is_metal=row.is_metal,
            source=row.source,
        )
        for row in session.exec(select(MaterialRow).order_by(MaterialRow.name))
    )


def find_material(session: Session, text: str) -> materials.Material:
    try:
        return materials.find(text, own_materials(session))
    except materials.MaterialError as error:
        raise refuse(422, "unknown_material", words_of(error), "material") from error


def add_material(
    session: Session, name: str, low: str, high: str, is_metal: bool, source: str, now: datetime
) -> MaterialRow:
    """low and high are expansion coefficients in micrometres per metre and degree C, as typed."""
    title = short_text(name, "name", say("The name"), 60)
    if session.exec(select(MaterialRow).where(MaterialRow.name == title)).first():
        message = say("There is a material “{name}” already.", name=title)
        raise refuse(422, "taken", message, "name")
    lowest = float(positive_typed(low, "expansion_low", say("The low coefficient")))
    highest = float(positive_typed(high, "expansion_high", say("The high coefficient")))
    if not lowest <= highest <= 400:
        raise refuse(
            422,
            "out_of_range",
            say(
                "The coefficients run from low to high in µm/(m·°C), at most 400; steel is 11 to "
                "12.5."
            ),
            "expansion_high",
        )
    row = MaterialRow(
        name=title,
        expansion_low_per_c=lowest * 1e-6,
        expansion_high_per_c=highest * 1e-6,
        is_metal=is_metal,
        source=optional_text(source, "source", say("The source")),
    )
    session.add(row)
    session.flush()
    note_change(session, now, "", "material added", title)
    return row


def material_names(session: Session) -> tuple[str, ...]:
    """Every material that a part can be made of, the shop's own first."""
    return tuple(each.words for each in (*own_materials(session), *materials.all_materials()))
