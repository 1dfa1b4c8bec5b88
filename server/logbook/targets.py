"""The numbers of one designation as the HTTP contract asks for them."""

from __future__ import annotations

import math
from typing import Any

from sqlmodel import Session

from server.logbook.problems import positive_typed, refuse
from server.logbook.setup import read_target, setup_of
from server.metrology import wires as wire_rules
from server.metrology.model import Kind, Limits, OutOfRange, Rule, Target, ThreadTarget
from server.metrology.units import from_mm, to_mm
from server.records.tables import FeatureRow


def as_number(value_mm: float | None, unit: str) -> float | None:
    """A length for JSON: in the unit asked for, binary noise taken off."""
    return None if value_mm is None else round(from_mm(value_mm, unit), 9)


def limits_json(limits: Limits, unit: str) -> dict[str, float | None]:
    return {"low": as_number(limits.low_mm, unit), "high": as_number(limits.high_mm, unit)}


def wires_json(target: ThreadTarget, unit: str) -> dict[str, float | None] | None:
    if target.kind is not Kind.EXTERNAL_THREAD:
        return None
    usable = wire_rules.usable(target)
    return {
        "best": as_number(usable.best_mm, unit),
        "smallest": as_number(usable.smallest_mm, unit),
        "largest": as_number(usable.largest_mm, unit),
    }


def over_wires_json(
    target: ThreadTarget,
    wires: wire_rules.Wires | None,
    rule: Rule | None,
    unit: str,
    aim_mm: float | None = None,
) -> dict[str, Any] | None:
    """Limits over these wires; Refused (422, wire_unusable) where they can't measure it."""
    if wires is None or target.kind is not Kind.EXTERNAL_THREAD:
        return None
    try:
        over = wire_rules.over_wires(target, wires, rule)
        aim = wire_rules.size_mm(
            aim_mm or target.pitch_diameter.middle_mm, target, wires, over.rule
        )
    except wire_rules.WireUnusable as error:
        raise refuse(422, "wire_unusable", error.sentence(unit), "wire") from error
    return {
        "wire": as_number(over.wire_mm, unit),
        "rule": over.rule.value,
        "constant": as_number(over.constant_mm, unit),
        "lead_correction": as_number(over.lead_correction_mm, unit),
        "low": as_number(over.low_mm, unit),
        "high": as_number(over.high_mm, unit),
        "aim": as_number(aim, unit),
    }


def target_json(
    target: Target,
    unit: str,
    wires: wire_rules.Wires | None = None,
    rule: Rule | None = None,
    aim_mm: float | None = None,
) -> dict[str, Any]:
    """The targets of one designation, lengths in the unit asked for."""
    body: dict[str, Any] = {
        "designation": target.designation,
        "kind": target.kind.value,
        "unit": unit,
        "nominal": as_number(target.nominal_mm, unit),
        "tolerance_class": target.tolerance_class,
        "source": target.source,
        "notes": list(target.notes),
    }
    if not isinstance(target, ThreadTarget):
        low_mm, high_mm = target.size.both()
        return body | {
            "limits": {"size": limits_json(target.size, unit)},
            "aim": as_number(aim_mm or (low_mm + high_mm) / 2, unit),
            "wires": None,
            "over_wires": None,
        }
    try:
        return body | thread_json(target, unit, wires, rule, aim_mm)
    except OutOfRange as error:
        raise refuse(422, "not_in_standard", f"{error}.", "designation") from error


def thread_json(
    target: ThreadTarget,
    unit: str,
    wires: wire_rules.Wires | None,
    rule: Rule | None,
    aim_mm: float | None,
) -> dict[str, Any]:
    return {
        "pitch": as_number(target.pitch_mm, unit),
        "lead": as_number(target.lead_mm, unit),
        "starts": target.starts,
        "hand": target.hand,
        "half_angle_deg": round(math.degrees(target.half_angle_rad), 9),
        "allowance": as_number(target.allowance_mm, unit),
        "limits": {
            "major_diameter": limits_json(target.major_diameter, unit),
            "pitch_diameter": limits_json(target.pitch_diameter, unit),
            "minor_diameter": limits_json(target.minor_diameter, unit),
        },
        "aim": as_number(aim_mm or target.pitch_diameter.middle_mm, unit),
        "wires": wires_json(target, unit),
        "over_wires": over_wires_json(target, wires, rule, unit, aim_mm),
    }


def look_up(
    designation: str, unit: str, wire: str | None, rule: str | None, kind: str | None
) -> dict[str, Any]:
    """Everything the standard says of a designation, and what the micrometer must read."""
    target = read_target(designation, kind, unit)
    wires = None
    if wire is not None and wire.strip():
        wires = wire_rules.Wires.nominal(to_mm(positive_typed(wire, "wire", "The wire"), unit))
    return target_json(target, unit, wires, Rule(rule) if rule else None)


def feature_json(session: Session, feature: FeatureRow) -> dict[str, Any]:
    """The targets of a stored feature, in its own unit."""
    setup = setup_of(session, feature)
    return target_json(setup.target, setup.unit, setup.wires, setup.rule, setup.aim_mm)
