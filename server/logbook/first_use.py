"""The first part of a new shop: lathe, instrument, part, feature and piece in one go."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeVar

from sqlmodel import Session

from server.logbook import parts, shop, shop_instruments
from server.logbook.problems import Problem, Refused, no_such, refuse
from server.logbook.setup import read_target
from server.metrology.instruments import InstrumentKind
from server.metrology.model import Target
from server.records.tables import InstrumentRow, LatheRow, PieceRow
from server.wording import say

LATHE_FIELDS = {"name": "lathe_name", "unit": "lathe_unit", "compound_angle_from": "angle_from"}
INSTRUMENT_FIELDS = {
    "name": "instrument_name",
    "unit": "instrument_unit",
    "kind": "instrument_kind",
}
PART_FIELDS = {"name": "part_name"}
Made = TypeVar("Made")


@dataclass(frozen=True)
class FirstPart:
    """As typed.  The lathe and the instrument are rows that exist, or new ones.

    tell  puts the feature's name into the language of whoever made it
    """

    lathe: shop.NewLathe | int
    instrument: shop_instruments.NewInstrument | int
    name: str
    material: str
    unit: str
    designation: str
    kind: str = ""  # "" for what the designation says
    wire: str = ""
    slide: str = "cross_slide"
    tell: Callable[[str], str] = str


class Steps:
    """Does step after step, keeping what each was refused for."""

    def __init__(self) -> None:
        self.faults: list[Problem] = []

    def do(self, names: Mapping[str, str], work: Callable[[], Made]) -> Made | None:
        """What work made, or None; names: the guide's name of each field that differs."""
        try:
            return work()
        except Refused as refused:
            self.faults.extend(
                replace(each, field=names.get(each.field, each.field)) for each in refused.problems
            )
            return None


def open_first_part(session: Session, new: FirstPart, now: datetime) -> PieceRow:
    """Everything needed to stand at the lathe, with piece 1 of the part.

    Refused with every step's problem at once, its field named as the guide's form names it.
    """
    steps = Steps()
    lathe = steps.do(LATHE_FIELDS, lambda: lathe_of(session, new.lathe, now))
    instrument = steps.do(INSTRUMENT_FIELDS, lambda: instrument_of(session, new.instrument, now))
    part = steps.do(
        PART_FIELDS, lambda: parts.add_part(session, new.name, "", new.material, new.unit, now)
    )
    target = steps.do({}, lambda: read_target(new.designation, new.kind, new.unit))
    if target and lathe and instrument and part:
        feature = feature_typed(new, target, lathe, instrument)
        steps.do({}, lambda: parts.add_feature(session, part, feature, now))
    if steps.faults or part is None:
        raise Refused(422, *steps.faults)
    return parts.add_piece(session, part, "", now)


def lathe_of(session: Session, lathe: shop.NewLathe | int, now: datetime) -> LatheRow:
    if isinstance(lathe, shop.NewLathe):
        return shop.add_lathe(session, lathe, now)
    found = session.get(LatheRow, lathe)
    if found is None:
        raise refuse(422, "not_found", no_such(say("lathe"), lathe), "lathe_id")
    return found


def instrument_of(
    session: Session, instrument: shop_instruments.NewInstrument | int, now: datetime
) -> InstrumentRow:
    if isinstance(instrument, shop_instruments.NewInstrument):
        shop_instruments.check_new_name(session, instrument.name)
        return shop_instruments.add_instrument(session, instrument, now)
    found = session.get(InstrumentRow, instrument)
    if found is None:
        message = no_such(say("instrument"), instrument)
        raise refuse(422, "not_found", message, "instrument_id")
    return found


def feature_typed(
    new: FirstPart, target: Target, lathe: LatheRow, instrument: InstrumentRow
) -> parts.NewFeature:
    method = method_with(shop_instruments.kind_of(instrument), target)
    return parts.NewFeature(
        label=new.tell(parts.KIND_WORDS[target.kind]),
        designation=new.designation,
        method=method,
        slide=new.slide,
        lathe_id=lathe.id or 0,
        instrument_id=instrument.id or 0,
        kind=new.kind,
        wire=new.wire if method in ("over_wires", "over_balls") else "",
    )


def method_with(instrument: InstrumentKind, target: Target) -> str:
    """How a feature is measured with such an instrument (common practice)."""
    if instrument is InstrumentKind.LIMIT_GAUGE:
        return "gauges"
    if instrument is InstrumentKind.THREAD_MICROMETER and target.kind.is_thread:
        return "thread_micrometer"
    return parts.usual_method(target)
