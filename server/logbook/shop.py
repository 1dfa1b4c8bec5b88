"""The tool crib and the shop: lathes, instruments, wires, units, temperature."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
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
from server.metrology import instruments
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
    ZeroCheckRow,
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
                "number "
                "or drawer, as “{name}, no. 2”.",
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
    one_of(new.kind, tuple(instruments.InstrumentKind), "kind", say("The kind of instrument"))
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


def kind_of(row: InstrumentRow) -> instruments.InstrumentKind:
    return instruments.InstrumentKind(row.kind)


@dataclass(frozen=True)
class NewWireSet:
    name: str
    unit: str
    nominal: str
    measured: tuple[str, ...] = ()
    sized: str = "under_load"


def add_wire_set(session: Session, new: NewWireSet, now: datetime) -> WireSetRow:
    name = short_text(new.name, "name", say("The name"))
    one_of(new.unit, ("in", "mm"), "unit", say("The unit"))
    one_of(new.sized, ("under_load", "zero_force"), "sized", say("How the wires were sized"))
    nominal_mm = to_mm(positive_typed(new.nominal, "nominal", say("The wire size")), new.unit)
    if nominal_mm > 40:
        message = say("A wire is at most 40 mm (1.5 in).")
        raise refuse(422, "implausible", message, "nominal")
    measured = tuple(text.strip() for text in new.measured if text.strip())
    if len(measured) not in (0, 1, 3):
        raise refuse(
            422,
            "wrong_count",
            say(
                "{count} measured sizes; give the mean of the three, or all three with the single "
                "one first.",
                count=len(measured),
            ),
            "measured",
        )
    for text in measured:
        size_mm = to_mm(positive_typed(text, "measured", say("The measured size")), new.unit)
        if abs(size_mm - nominal_mm) > max(0.05 * nominal_mm, 0.01):
            raise refuse(
                422,
                "implausible",
                say(
                    "{size} is more than 5 % away from the nominal {nominal}.",
                    size=text,
                    nominal=new.nominal,
                ),
                "measured",
            )
    row = WireSetRow(
        name=name,
        unit=new.unit,
        nominal=new.nominal.strip(),
        measured=" ".join(measured),
        sized=new.sized,
    )
    session.add(row)
    session.flush()
    note_change(session, now, "", "wires added", name)
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
