"""The instruments of the tool crib, what they are called, and their zero checks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from sqlmodel import Session, col, select

from server.logbook.actor import actor
from server.logbook.problems import (
    number_typed,
    one_of,
    optional_text,
    positive_typed,
    refuse,
    short_text,
)
from server.logbook.shop import check_step, instrument_rows, note_change, stamp
from server.metrology.instruments import InstrumentKind
from server.metrology.units import to_mm
from server.records.tables import InstrumentRow, ZeroCheckRow
from server.wording import say


@dataclass(frozen=True)
class NewInstrument:
    name: str
    kind: str
    unit: str
    resolution: str
    max_error: str = ""
    last_checked: str | None = None
    due: str | None = None


def day_typed(text: str | None, field: str) -> str | None:
    if not text or not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError as error:
        message = say("“{text}” is not a date; type 2026-01-31.", text=text.strip()[:40])
        raise refuse(422, "not_a_date", message, field) from error


def check_new_name(session: Session, name: str) -> None:
    """Refused where an instrument in use is called that: two could not be told apart."""
    if any(is_called(row, name) for row in instrument_rows(session)):
        raise refuse(
            422,
            "taken",
            say(
                "“{name}” is in the crib already. Add what marks this one, its range, serial "
                "number or drawer, as “{name}, no. 2”.",
                name=name.strip()[:60],
            ),
            "name",
        )


def is_called(row: InstrumentRow, name: str) -> bool:
    return row.name.casefold() == name.strip().casefold()


def instrument_label(row: InstrumentRow, others: Iterable[InstrumentRow]) -> str:
    """Its name, with what tells it apart where another one is called the same."""
    if any(is_called(other, row.name) for other in others if other.id != row.id):
        return say(
            "{name} ({resolution} {unit}, number {number})",
            name=row.name,
            resolution=row.resolution,
            unit=row.unit,
            number=row.id,
        )
    return row.name


def add_instrument(session: Session, new: NewInstrument, now: datetime) -> InstrumentRow:
    name = short_text(new.name, "name", say("The name"))
    one_of(new.kind, tuple(InstrumentKind), "kind", say("The kind of instrument"))
    one_of(new.unit, ("in", "mm"), "unit", say("The unit"))
    resolution = positive_typed(new.resolution, "resolution", say("The resolution"))
    check_step(resolution, new.unit, say("A resolution"), "resolution")
    if new.max_error.strip():
        error = number_typed(new.max_error, "max_error")
        if error < 0 or to_mm(error, new.unit) > 5:
            raise refuse(
                422,
                "out_of_range",
                say("The maximum permissible error is 0 or more, at most 5 mm (0.2 in)."),
                "max_error",
            )
    row = InstrumentRow(
        name=name,
        kind=new.kind,
        unit=new.unit,
        resolution=new.resolution.strip(),
        max_error=new.max_error.strip(),
        last_checked=day_typed(new.last_checked, "last_checked"),
        due=day_typed(new.due, "due"),
    )
    session.add(row)
    session.flush()
    note_change(session, now, "", "instrument added", name)
    return row


def add_zero_check(
    session: Session,
    instrument: InstrumentRow,
    value: str,
    unit: str,
    operator: str,
    now: datetime,
    standard: str = "",
) -> ZeroCheckRow:
    """value: what it shows on the standard, or closed where no standard is given."""
    one_of(unit, ("in", "mm"), "unit", say("The unit"))
    true_size = number_typed(standard, "standard") if standard.strip() else Decimal(0)
    off = number_typed(value, "value") - true_size
    shown_mm = to_mm(off, unit)
    if abs(shown_mm) > 1:
        raise refuse(
            422,
            "implausible",
            say("A zero error above 1 mm (0.04 in) is a fault: set the instrument first."),
            "value",
        )
    row = ZeroCheckRow(
        instrument_id=instrument.id or 0,
        value=f"{off:+f}",
        unit=unit,
        value_mm=shown_mm,
        operator=optional_text(operator, "operator", say("The initials"), 20) or actor().initials,
        at=stamp(now),
    )
    session.add(row)
    session.flush()
    note_change(session, now, row.operator, "zero checked", f"{instrument.name}: {row.value}")
    return row


def last_zero_check(session: Session, instrument_id: int, by: str = "9") -> ZeroCheckRow | None:
    """The last zero check of an instrument made by a time; by default the last there is."""
    return session.exec(
        select(ZeroCheckRow)
        .where(ZeroCheckRow.instrument_id == instrument_id, ZeroCheckRow.at <= by)
        .order_by(col(ZeroCheckRow.id).desc())
        .limit(1)
    ).first()


def kind_of(row: InstrumentRow) -> InstrumentKind:
    return InstrumentKind(row.kind)
