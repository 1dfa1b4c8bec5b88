"""The shop: what is in its tool crib, lathes, units, temperature, operators."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlmodel import Session, col, select, update

from server.logbook.actor import actor
from server.logbook.problems import (
    number_typed,
    one_of,
    optional_text,
    positive_typed,
    refuse,
    short_text,
)
from server.metrology.decision import GuardRule
from server.metrology.units import celsius, to_mm
from server.records.tables import (
    AUDIT,
    InstrumentRow,
    LatheRow,
    OperatorRow,
    RevisionRow,
    ShopRow,
    ShopTemperatureRow,
    WireSetRow,
)
from server.wording import say

REFERENCE_TEMPERATURE_C = 20.0  # ISO 1
RAISE_REVISION = update(RevisionRow).values(number=RevisionRow.number + 1)
FINEST_STEP_MM, COARSEST_STEP_MM = 0.0001, 5.08  # of a dial or a display; common practice


def stamp(now: datetime) -> str:
    """ISO 8601 in UTC, to the microsecond, so that text sorts as time does."""
    return now.strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def note_change(
    session: Session,
    now: datetime,
    who: str,
    action: str,
    about: str,
    *,
    changes_shop: bool = True,
) -> None:
    """A line of the audit trail.  who: initials typed; else those of whoever is acting.

    changes_shop: what was read of the shop before no longer holds, so its revision is raised;
    False for what touches one piece only.
    """
    if changes_shop:
        session.execute(RAISE_REVISION)
        session.info["changed"] = True
    acting = actor()
    session.connection().execute(
        AUDIT.insert(),
        {
            "at": stamp(now),
            "who": who or acting.initials,
            "device": acting.device,
            "action": action,
            "about": about[:200],
        },
    )


def shop_row(session: Session) -> ShopRow:
    return session.get(ShopRow, 1) or ShopRow()


def instrument_rows(session: Session) -> list[InstrumentRow]:
    """Instruments in use."""
    in_use = select(InstrumentRow).where(col(InstrumentRow.retired_at).is_(None))
    return list(session.exec(in_use.order_by(col(InstrumentRow.id))))


def lathe_rows(session: Session) -> list[LatheRow]:
    in_use = select(LatheRow).where(col(LatheRow.retired_at).is_(None))
    return list(session.exec(in_use.order_by(col(LatheRow.id))))


def wire_rows(session: Session) -> list[WireSetRow]:
    in_use = select(WireSetRow).where(col(WireSetRow.retired_at).is_(None))
    return list(session.exec(in_use.order_by(col(WireSetRow.id))))


def operator_rows(session: Session) -> list[OperatorRow]:
    return list(session.exec(select(OperatorRow).order_by(OperatorRow.initials)))


def check_step(step: Decimal, unit: str, what: str, field: str) -> None:
    """Refused where nothing in a shop is graduated that fine or that coarse.

    what  "A graduation"
    """
    if not FINEST_STEP_MM <= to_mm(step, unit) <= COARSEST_STEP_MM:
        raise refuse(
            422,
            "implausible",
            say("{what} is 0.0001 mm (0.000004 in) to 5 mm (0.2 in).", what=what),
            field,
        )


@dataclass(frozen=True)
class NewLathe:
    name: str
    unit: str
    cross_slide_counts: str
    cross_slide_graduation: str
    compound_counts: str
    compound_graduation: str
    compound_angle_deg: float
    compound_angle_from: str
    carriage_graduation: str = ""


def add_lathe(session: Session, new: NewLathe, now: datetime) -> LatheRow:
    name = short_text(new.name, "name", say("The name"))
    one_of(new.unit, ("in", "mm"), "unit", say("The unit"))
    for field in ("cross_slide_counts", "compound_counts"):
        one_of(getattr(new, field), ("diameter", "travel"), field, say("What the dial counts"))
    scales = ("cross_slide", "axis")
    one_of(new.compound_angle_from, scales, "compound_angle_from", say("The scale"))
    for field in ("cross_slide_graduation", "compound_graduation", "carriage_graduation"):
        text = getattr(new, field)
        if text or field != "carriage_graduation":
            step = positive_typed(text, field, say("The graduation"))
            check_step(step, new.unit, say("A graduation"), field)
    if not 0 <= new.compound_angle_deg <= 90:
        raise refuse(
            422,
            "out_of_range",
            say(
                "The compound angle is {angle}°; it must be 0° to 90°.",
                angle=new.compound_angle_deg,
            ),
            "compound_angle_deg",
        )
    row = LatheRow(**{**new.__dict__, "name": name})
    session.add(row)
    session.flush()
    note_change(session, now, "", "lathe added", name)
    return row


def shop_temperature_c(session: Session, day: str) -> float:
    """The last temperature noted on that day or before; 20 until one is."""
    row = session.exec(
        select(ShopTemperatureRow)
        .where(ShopTemperatureRow.day <= day)
        .order_by(col(ShopTemperatureRow.day).desc(), col(ShopTemperatureRow.id).desc())
        .limit(1)
    ).first()
    return row.celsius if row else REFERENCE_TEMPERATURE_C


def temperature_unit(session: Session) -> str:
    """As the shop temperature was last noted, else by the shop's unit of length."""
    row = session.exec(
        select(ShopTemperatureRow).order_by(col(ShopTemperatureRow.id).desc()).limit(1)
    ).first()
    if row is not None:
        return row.unit
    return "F" if shop_row(session).unit == "in" else "C"


def note_shop_temperature(
    session: Session, value: str, unit: str, now: datetime
) -> ShopTemperatureRow:
    one_of(unit, ("C", "F"), "temperature_unit", say("The temperature unit"))
    degrees = celsius(float(number_typed(value, "temperature_value")), unit)
    if not -30 <= degrees <= 60:
        raise refuse(
            422,
            "out_of_range",
            say(
                "{value} °{unit} is no shop temperature; −30 to 60 °C is accepted.",
                value=value.strip(),
                unit=unit,
            ),
            "temperature_value",
        )
    row = ShopTemperatureRow(
        day=now.date().isoformat(), value=value.strip(), unit=unit, celsius=degrees, at=stamp(now)
    )
    session.add(row)
    session.flush()
    note_change(session, now, "", "shop temperature", f"{row.value} °{unit}")
    return row


def change_shop(
    session: Session, unit: str, decision_rule: str, past_chance_percent: str, now: datetime
) -> ShopRow:
    one_of(unit, ("in", "mm"), "unit", say("The unit"))
    rules = tuple(rule.value for rule in GuardRule)
    one_of(decision_rule, rules, "decision_rule", say("The rule"))
    percent = positive_typed(past_chance_percent, "past_chance_percent", say("The chance"))
    chance = float(percent) / 100
    if not 0.0001 <= chance <= 0.2:
        raise refuse(
            422,
            "out_of_range",
            say("The accepted chance to go past a limit is 0.01 % to 20 % per piece."),
            "past_chance_percent",
        )
    row = session.get(ShopRow, 1)
    if row is None:
        row = ShopRow(id=1)
    row.unit, row.decision_rule, row.past_chance_bound = unit, decision_rule, chance
    session.add(row)
    note_change(session, now, "", "shop settings", f"{unit}, {decision_rule}, {chance:.4f}")
    return row


def add_operator(session: Session, initials: str, name: str, now: datetime) -> OperatorRow:
    letters = short_text(initials, "initials", say("The initials"), 8)
    if session.exec(select(OperatorRow).where(OperatorRow.initials == letters)).first():
        message = say("The initials “{initials}” are in use.", initials=letters)
        raise refuse(422, "taken", message, "initials")
    row = OperatorRow(initials=letters, name=optional_text(name, "name", say("The name"), 60))
    session.add(row)
    session.flush()
    note_change(session, now, "", "operator added", letters)
    return row
