"""The wire sets of the tool crib."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from server.logbook.problems import one_of, positive_typed, refuse, short_text
from server.logbook.shop import note_change
from server.metrology.units import to_mm
from server.records.tables import WireSetRow
from server.wording import say


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
