"""Whether wires or balls can measure the thread of a feature."""

from __future__ import annotations

from sqlmodel import Session

from server.logbook import measuring
from server.logbook.crib_wires import owned_wires, sort_wires
from server.logbook.problems import Refused, positive_typed, reason_of, refuse
from server.logbook.setup import wires_of
from server.metrology import balls
from server.metrology import wires as wire_rules
from server.metrology.model import Kind, Target, ThreadTarget
from server.metrology.units import read_number, shown, to_mm
from server.records.tables import FeatureRow, WireSetRow
from server.wording import say, sentence


def check_wires(session: Session, feature: FeatureRow, target: Target) -> None:
    """Wires or balls that can measure the thread; the crib's nearest set where none is named."""
    if feature.method not in measuring.METHODS or not isinstance(target, ThreadTarget):
        return
    if feature.wire:
        positive_typed(feature.wire, "wire", say("The wire size"))
    owned = session.get(WireSetRow, feature.wire_set_id) if feature.wire_set_id else None
    wires = wires_of(feature.wire, feature.unit, owned)
    crest_mm = None
    if feature.crest_diameter:
        crest_mm = to_mm(read_number(feature.crest_diameter), feature.unit)
    if wires is not None:
        check_usable(target, wires, feature.unit, crest_mm)
    elif target.kind is Kind.INTERNAL_THREAD:
        size = shown(usable_range(target, feature.unit).best_mm, feature.unit)
        raise no_wire(
            say(
                "Say which balls: the best for this thread is {size} {unit}.",
                size=size,
                unit=feature.unit,
            )
        )
    else:
        wire_range = wire_rules.usable(target, crest_mm)
        nearest = sort_wires(target, owned_wires(session), wire_range).nearest
        if nearest is None:
            size = shown(wire_range.best_mm, feature.unit)
            raise no_wire(
                say(
                    "Say which wires: the best for this thread is {size} {unit}.",
                    size=size,
                    unit=feature.unit,
                )
            )
        feature.wire_set_id = nearest.set_id


def usable_range(
    target: ThreadTarget, unit: str, crest_mm: float | None = None
) -> wire_rules.WireRange | balls.BallRange:
    """Wires that measure the thread, or balls for an internal one; Refused where none can."""
    try:
        if target.kind is Kind.INTERNAL_THREAD:
            return balls.usable(target)
        return wire_rules.usable(target, crest_mm)
    except ValueError as error:
        message = sentence(reason_of(error, unit))
        raise refuse(422, "not_in_standard", message, "designation") from error


def check_usable(
    target: ThreadTarget,
    wires: wire_rules.Wires,
    unit: str = "",
    crest_mm: float | None = None,
) -> None:
    """Refused (wire_unusable) for a wire or ball that can't measure the thread."""
    unit = unit or target.unit
    fits = usable_range(target, unit, crest_mm)
    for size_mm in wires.each_mm:
        if not fits.holds(size_mm):
            fault = (
                balls.BallUnusable(size_mm, fits, target.unit)
                if isinstance(fits, balls.BallRange)
                else wire_rules.WireUnusable(size_mm, fits, target.unit)
            )
            raise refuse(422, "wire_unusable", fault.sentence(unit), "wire")


def no_wire(message: str) -> Refused:
    return refuse(422, "wire_missing", message, "wire")
