"""The shop, its materials and its instruments through the JSON."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session

from server.logbook import shop, shop_materials
from server.logbook.around import Around
from server.logbook.problems import not_found, refuse
from server.logbook.shop import stamp
from server.logbook.shop_instruments import add_zero_check
from server.logbook.targets import as_number
from server.metrology import materials
from server.metrology.decision import GuardRule
from server.metrology.units import from_celsius
from server.records.tables import InstrumentRow, ShopRow, ZeroCheckRow
from server.wording import say


def shop_json(session: Session, now: datetime) -> dict[str, Any]:
    row = shop.shop_row(session)
    unit = shop.temperature_unit(session)
    degrees = shop.shop_temperature_c(session, now.date().isoformat())
    return {
        "unit": row.unit,
        "decision_rule": row.decision_rule,
        "decision_rule_words": GuardRule(row.decision_rule).words,
        "past_chance_bound": row.past_chance_bound,
        "temperature": {"value": round(from_celsius(degrees, unit), 3), "unit": unit},
    }


def materials_json(session: Session) -> list[dict[str, Any]]:
    """The shop's own first; coefficients in µm/(m·°C)."""
    own = shop_materials.own_materials(session)
    return [
        {
            "name": each.name,
            "expansion": round(each.expansion_per_c * 1e6, 4),
            "expansion_low": round(each.low_per_c * 1e6, 4),
            "expansion_high": round(each.high_per_c * 1e6, 4),
            "is_metal": each.is_metal,
            "source": each.source,
            "is_own": number < len(own),
        }
        for number, each in enumerate((*own, *materials.all_materials()))
    ]


def instruments_json(session: Session, now: datetime) -> list[dict[str, Any]]:
    around = Around(session)
    return [instrument_json(around, row, stamp(now)) for row in shop.instrument_rows(session)]


def instrument_json(around: Around, row: InstrumentRow, at: str) -> dict[str, Any]:
    """zero, and what one reading repeats to by method, in the instrument's own unit."""
    number = row.id or 0
    checked = around.checked_instrument(number, at)
    found = {method: around.record(number, at, method) for method in around.methods(number)}
    return {
        "id": row.id,
        "name": row.name,
        "kind": row.kind,
        "unit": row.unit,
        "resolution": row.resolution,
        "max_error": row.max_error or None,
        "last_checked": row.last_checked,
        "due": row.due,
        "is_overdue": bool(row.due) and (row.due or "") <= at[:10],
        "zero": as_number(checked.zero_offset_mm, row.unit) if checked.is_zero_checked else None,
        "repeats": [
            {
                "method": method,
                "standard_deviation": as_number(repeats.s_mm, row.unit),
                "degrees_of_freedom": repeats.dof,
            }
            for method, repeats in found.items()
        ],
    }


def check_zero(
    session: Session,
    instrument_id: int,
    value: str,
    unit: str,
    operator: str,
    now: datetime,
    standard: str = "",
) -> ZeroCheckRow:
    """Log what an instrument shows wrong.  Refused (404) where no such instrument is in use."""
    instrument = session.get(InstrumentRow, instrument_id)
    if instrument is None or instrument.retired_at is not None:
        raise not_found(say("instrument"), instrument_id)
    return add_zero_check(session, instrument, value, unit, operator, now, standard)


def set_shop(
    session: Session,
    now: datetime,
    unit: str | None,
    decision_rule: str | None,
    past_chance_bound: float | None,
) -> ShopRow:
    """Change what is given; the bound is a fraction.  Refused (422) where it can't be."""
    row = shop.shop_row(session)
    bound = row.past_chance_bound if past_chance_bound is None else past_chance_bound
    if not 0.0001 <= bound <= 0.2:
        raise refuse(
            422,
            "out_of_range",
            "The accepted chance to go past a limit is a fraction of 0.0001 to 0.2 per piece.",
            "past_chance_bound",
        )
    return shop.change_shop(
        session, unit or row.unit, decision_rule or row.decision_rule, f"{bound * 100:.10f}", now
    )
