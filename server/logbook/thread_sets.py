"""The whole set a thread needs, put on a part as features in the order they are cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from decimal import ROUND_CEILING, ROUND_FLOOR

from sqlmodel import Session

from server.logbook.parts import NewFeature, add_feature, checked_tool
from server.logbook.problems import reason_of, refuse
from server.logbook.setup import read_target, tip_of
from server.logbook.shop import instrument_rows
from server.metrology.instruments import InstrumentKind
from server.metrology.model import Kind, OutOfRange, ThreadTarget
from server.metrology.thread_set import ThreadSet, thread_set
from server.metrology.units import from_mm, rounded, shown, usual_decimals
from server.records.tables import FeatureRow, PartRow
from server.wording import say

# Tolerance of what only has to clear the thread, in pitches: near h13 of ISO 4755; common practice
CLEARING_TOLERANCE_PER_PITCH = 0.2
OUTSIDE = (InstrumentKind.MICROMETER, InstrumentKind.CALLIPER)
IN_GROOVE = (InstrumentKind.CALLIPER, InstrumentKind.MICROMETER)  # a micrometer's anvils are wider
INSIDE = (
    InstrumentKind.BORE_GAUGE,
    InstrumentKind.INSIDE_MICROMETER,
    InstrumentKind.CALLIPER_INSIDE,
)
IN_BORE = (InstrumentKind.CALLIPER_INSIDE, InstrumentKind.INSIDE_MICROMETER)


def add_thread_set(
    session: Session,
    part: PartRow,
    new: NewFeature,
    now: datetime,
    tell: Callable[[str], str] = str,
) -> tuple[FeatureRow, ...]:
    """Turned major diameter (or bore), relief groove, end chamfer and the thread itself.

    The chamfer is told by its diameter at the face: that shrinks as it is cut (and grows in a
    bore), as every diameter does, where its length would grow from nothing.
    tell puts the names of the features into the language of whoever made them.
    Refused as `add_feature`, and where the designation is no thread or too small for a relief.
    """
    unit = new.unit or part.unit
    target = read_target(new.designation, new.kind or None, unit)
    if not isinstance(target, ThreadTarget):
        raise refuse(422, "not_a_thread", say("Only a thread has a whole set to make."), "make")
    shape, size = checked_tool(new, target, unit)
    try:
        found = thread_set(target, tip_of(shape, size, unit))
        own = (
            _blank(found, new, unit),
            _relief(found, target, new, unit),
            _chamfer(found, target, new, unit),
        )
    except ValueError as error:
        reason = reason_of(error, unit)
        message = say("No set can be made for this thread: {reason}.", reason=reason)
        raise refuse(422, "out_of_range", message, "make") from error
    return tuple(
        add_feature(session, part, feature, now)
        for feature in (*(_named(_with_instrument(session, *each), tell) for each in own), new)
    )


def relief_words(found: ThreadSet, target: ThreadTarget, unit: str) -> str:
    """The relief groove as the set makes it.  OutOfRange where the thread is too small for one."""
    low, high = _clearing(found.relief.diameter_mm, target, unit)
    width = shown(found.relief.usual_width_mm, unit)
    return say("Relief groove {low} to {high}, {width} wide", low=low, high=high, width=width)


_Planned = tuple[NewFeature, tuple[InstrumentKind, ...]]


def _blank(found: ThreadSet, new: NewFeature, unit: str) -> _Planned:
    low_mm, high_mm = found.blank.both()
    internal = found.blank_kind is Kind.BORE
    low, high = _inward(low_mm, high_mm, unit)
    label = say("Bore before threading") if internal else say("Major diameter")
    feature = _plain(new, label, f"{low}/{high}", found.blank_kind, unit)
    return feature, INSIDE if internal else OUTSIDE


def _relief(found: ThreadSet, target: ThreadTarget, new: NewFeature, unit: str) -> _Planned:
    low, high = _clearing(found.relief.diameter_mm, target, unit)
    internal = target.kind.is_internal
    kind = Kind.BORE if internal else Kind.GROOVE_DIAMETER
    width = shown(found.relief.usual_width_mm, unit)
    label = say("Relief groove, {width} {unit} wide", width=width, unit=unit)
    return _plain(new, label, f"{low}/{high}", kind, unit), IN_BORE if internal else IN_GROOVE


def _chamfer(found: ThreadSet, target: ThreadTarget, new: NewFeature, unit: str) -> _Planned:
    low, high = _clearing(found.chamfer.end_diameter_mm, target, unit)
    internal = target.kind.is_internal
    kind = Kind.BORE if internal else Kind.OUTSIDE_DIAMETER
    angle_deg = round(math.degrees(found.chamfer.angle_rad))
    label = say("End chamfer {angle}°, diameter at the face", angle=angle_deg)
    return _plain(new, label, f"{low}/{high}", kind, unit), IN_BORE if internal else IN_GROOVE


def _clearing(diameter_mm: float, target: ThreadTarget, unit: str) -> tuple[str, str]:
    """(low, high): from the diameter away from the thread."""
    width_mm = CLEARING_TOLERANCE_PER_PITCH * target.pitch_mm
    if target.kind.is_internal:
        return _inward(diameter_mm, diameter_mm + width_mm, unit)
    if not diameter_mm > 2 * width_mm:
        raise OutOfRange(say("relief diameter"), diameter_mm, 2 * width_mm, None, "mm")
    return _inward(diameter_mm - width_mm, diameter_mm, unit)


def _inward(low_mm: float, high_mm: float, unit: str) -> tuple[str, str]:
    """Two limits as written, rounded into the room between them."""
    places = usual_decimals(unit)
    return (
        f"{rounded(from_mm(low_mm, unit), places, ROUND_CEILING):f}",
        f"{rounded(from_mm(high_mm, unit), places, ROUND_FLOOR):f}",
    )


def _plain(new: NewFeature, label: str, limits: str, kind: Kind, unit: str) -> NewFeature:
    """A feature on the same lathe, plunged with the cross-slide and measured direct."""
    return NewFeature(
        label=label,
        designation=limits,
        method="direct",
        slide="cross_slide",
        lathe_id=new.lathe_id,
        instrument_id=new.instrument_id,
        kind=kind.value,
        unit=unit,
    )


def _with_instrument(
    session: Session, feature: NewFeature, wanted: tuple[InstrumentKind, ...]
) -> NewFeature:
    """The first instrument of the kinds that reach there; the thread's own where there is none."""
    rows = instrument_rows(session)
    for kind in wanted:
        for row in rows:
            if row.kind == kind.value:
                return replace(feature, instrument_id=row.id or feature.instrument_id)
    return feature


def _named(feature: NewFeature, tell: Callable[[str], str]) -> NewFeature:
    return replace(feature, label=tell(feature.label))
