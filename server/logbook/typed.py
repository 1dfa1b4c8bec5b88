"""What a person typed when logging, and the row it becomes.  Nothing here asks the database."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from datetime import datetime

from server.logbook.problems import (
    exact_text,
    number_typed,
    one_of,
    optional_text,
    positive_typed,
    refuse,
    short_text,
)
from server.logbook.shop import stamp
from server.metrology.thermal import Touch
from server.metrology.units import celsius, to_mm
from server.records.tables import EntryRow
from server.wording import say

LARGEST_MM = 5000.0  # no lathe of this kind takes more
LONGEST_STEP_MM = 100.0


@dataclass(frozen=True)
class TemperatureTyped:
    """A number with its unit, or a touch, or neither."""

    value: str = ""
    unit: str = "C"
    touch: str = ""


@dataclass(frozen=True)
class ReadingTyped:
    feature_id: int
    value: str
    unit: str
    entry_key: str
    dial_step: str | None = None
    dial_step_unit: str = ""  # the reading's where empty
    slide: str = ""
    temperature: TemperatureTyped = field(default_factory=TemperatureTyped)
    instrument_temperature: TemperatureTyped = field(default_factory=TemperatureTyped)
    instrument_id: int | None = None
    wire: str = ""
    station: str = ""
    note: str = ""
    operator: str = ""
    confirm: bool = False
    last_seq: int | None = None
    is_comma_decimal: bool = False  # whoever typed it writes a decimal comma


@dataclass(frozen=True)
class PassTyped:
    feature_id: int
    dial_step: str
    entry_key: str
    unit: str = ""  # the part's where empty
    slide: str = ""
    note: str = ""
    operator: str = ""
    is_comma_decimal: bool = False


@dataclass(frozen=True)
class EventTyped:
    event: str
    entry_key: str
    feature_id: int | None = None
    note: str = ""
    operator: str = ""


@dataclass(frozen=True)
class GaugeTyped:
    """GO or NOT GO tried: whether it enters (a plug) or goes on (a ring or gap)."""

    feature_id: int
    gauge: str
    enters: bool
    entry_key: str
    note: str = ""
    operator: str = ""


def body_of(typed: ReadingTyped | PassTyped | EventTyped | GaugeTyped) -> str:
    """What makes two requests with one key the same: all that was typed but the confirmation."""
    values = asdict(typed)
    for name in ("confirm", "last_seq", "entry_key", "is_comma_decimal"):
        values.pop(name, None)
    if not values.get("dial_step_unit"):
        values.pop("dial_step_unit", None)
    return json.dumps(values, sort_keys=True)


def checked_key(entry_key: str) -> str:
    key = short_text(entry_key, "entry_key", say("The entry key"), 64)
    if not (key.isascii() and key.isprintable() and " " not in key):
        raise refuse(422, "invalid", say("The entry key must be a UUID."), "entry_key")
    return key


def temperature_c_of(
    typed: TemperatureTyped, field_name: str, *, is_comma_decimal: bool = False
) -> float | None:
    if not typed.value.strip():
        return None
    one_of(typed.unit, ("C", "F"), f"{field_name}_unit", say("The temperature unit"))
    number = number_typed(typed.value, field_name, is_comma_decimal=is_comma_decimal)
    degrees = celsius(float(number), typed.unit)
    if not -40 <= degrees <= 300:
        raise refuse(
            422,
            "out_of_range",
            say(
                "{value} °{unit} is no temperature of a part on a lathe; −40 to 300 °C is "
                "accepted.",
                value=typed.value.strip(),
                unit=typed.unit,
            ),
            field_name,
        )
    return degrees


def dial_step_mm_of(text: str, unit: str, *, is_comma_decimal: bool = False) -> float:
    step_mm = to_mm(number_typed(text, "dial_step", is_comma_decimal=is_comma_decimal), unit)
    if abs(step_mm) > LONGEST_STEP_MM:
        raise refuse(
            422,
            "out_of_range",
            say(
                "{step} {unit} in one dial step is not possible; at most {most} mm.",
                step=text.strip(),
                unit=unit,
                most=f"{LONGEST_STEP_MM:g}",
            ),
            "dial_step",
        )
    return step_mm


def reading_row(piece_id: int, typed: ReadingTyped, slide: str, now: datetime) -> EntryRow:
    """The row to store.  Raises Refused; touches no database."""
    unit = one_of(typed.unit, ("in", "mm"), "unit", say("The unit"))
    comma = typed.is_comma_decimal
    value = positive_typed(typed.value, "value", say("The reading"), is_comma_decimal=comma)
    value_mm = to_mm(value, unit)
    if value_mm > LARGEST_MM:
        message = say("{value} {unit} does not fit a lathe.", value=typed.value.strip(), unit=unit)
        raise refuse(422, "out_of_range", message, "value")
    if typed.temperature.value.strip() and typed.temperature.touch:
        message = say("Give a temperature or a touch, not both.")
        raise refuse(422, "two_notes", message, "temperature")
    if typed.temperature.touch:
        one_of(typed.temperature.touch, tuple(Touch), "temperature", say("The touch"))
    has_step = typed.dial_step is not None and typed.dial_step.strip() != ""
    step = typed.dial_step if has_step and typed.dial_step is not None else None
    step_unit = one_of(
        typed.dial_step_unit or unit, ("in", "mm"), "dial_step_unit", say("The unit")
    )
    wire = typed.wire.strip()
    return EntryRow(
        piece_id=piece_id,
        feature_id=typed.feature_id,
        type="reading",
        entry_key=checked_key(typed.entry_key),
        body=body_of(typed),
        at=stamp(now),
        operator=optional_text(typed.operator, "operator", say("The initials"), 20),
        note=exact_text(typed.note, "note", say("The note")),
        value=typed.value,
        unit=unit,
        value_mm=value_mm,
        dial_step=step,
        dial_step_unit=step_unit if step is not None else "",
        dial_step_mm=(
            dial_step_mm_of(step, step_unit, is_comma_decimal=comma) if step is not None else None
        ),
        slide=typed.slide or slide,
        temperature=typed.temperature.value or typed.temperature.touch,
        temperature_unit=typed.temperature.unit if typed.temperature.value.strip() else "",
        temperature_c=temperature_c_of(typed.temperature, "temperature", is_comma_decimal=comma),
        touch=typed.temperature.touch,
        instrument_temperature_c=temperature_c_of(
            typed.instrument_temperature, "instrument_temperature", is_comma_decimal=comma
        ),
        instrument_id=typed.instrument_id,
        wire=wire,
        wire_mm=to_mm(positive_typed(wire, "wire", say("The wire")), unit) if wire else None,
        station=optional_text(typed.station, "station", say("The station"), 40),
    )
