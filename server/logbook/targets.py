"""The numbers of one designation as the HTTP contract asks for them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from server.logbook import measuring
from server.logbook.problems import positive_typed, refuse
from server.logbook.setup import Setup, read_target, setup_of
from server.metrology import balls
from server.metrology import wires as wire_rules
from server.metrology.balls import BallRange, BallUnusable
from server.metrology.infeed import ToolTip
from server.metrology.model import Kind, Limits, OutOfRange, Rule, Target, ThreadTarget
from server.metrology.units import from_mm, to_mm
from server.metrology.wires import WireRange, Wires
from server.records.tables import FeatureRow
from server.wording import say, sentence


def as_number(value_mm: float | None, unit: str) -> float | None:
    """A length for JSON: in the unit asked for, binary noise taken off."""
    return None if value_mm is None else round(from_mm(value_mm, unit), 9)


def limits_json(limits: Limits, unit: str) -> dict[str, float | None]:
    return {"low": as_number(limits.low_mm, unit), "high": as_number(limits.high_mm, unit)}


@dataclass(frozen=True)
class Gauging:
    """What a thread is measured with and what it is cut with; all of it may be unknown.  [mm]"""

    wires: Wires | None = None
    rule: Rule | None = None
    aim_mm: float | None = None
    at_zero_force: bool = False
    part_modulus_mpa: float | None = None
    crest_mm: float | None = None
    crest_is_assumed: bool = True
    tip: ToolTip | None = None

    @property
    def known_crest_mm(self) -> float | None:
        return None if self.crest_is_assumed else self.crest_mm


NOTHING_KNOWN = Gauging()


def wires_json(
    target: ThreadTarget, unit: str, crest_mm: float | None = None
) -> dict[str, float | None]:
    """Usable wires, or balls for an internal thread."""
    usable: WireRange | BallRange
    if target.kind is Kind.INTERNAL_THREAD:
        usable = balls.usable(target)
    else:
        usable = wire_rules.usable(target, crest_mm)
    return {
        "best": as_number(usable.best_mm, unit),
        "smallest": as_number(usable.smallest_mm, unit),
        "largest": as_number(usable.largest_mm, unit),
    }


def measured_json(target: ThreadTarget, gauging: Gauging, unit: str) -> dict[str, Any]:
    """What is read over these wires or balls; Refused (wire_unusable) where they can't measure."""
    nothing: dict[str, Any] = {"over_wires": None, "flattening": None, "seats_at": None}
    if gauging.wires is None:
        return nothing
    try:
        found = measuring.measured_over(
            target,
            gauging.wires,
            gauging.rule,
            gauging.at_zero_force,
            gauging.part_modulus_mpa,
            gauging.known_crest_mm,
        )
        aim_mm = found.reads(gauging.aim_mm or target.pitch_diameter.middle_mm)
    except (wire_rules.WireUnusable, BallUnusable) as error:
        raise refuse(422, "wire_unusable", error.sentence(unit), "wire") from error
    over = {
        "measured": found.measured,
        "wire": as_number(found.wire_mm, unit),
        "rule": found.rule.value,
        "constant": as_number(found.constant_mm, unit),
        "lead_correction": as_number(found.lead_correction_mm, unit),
        "low": as_number(found.low_mm, unit),
        "high": as_number(found.high_mm, unit),
        "aim": as_number(aim_mm, unit),
    }
    return {
        "over_wires": over,
        "flattening": flattening_json(found.squeeze, unit),
        "seats_at": seats_json(target, gauging, found, unit),
    }


def flattening_json(squeeze: measuring.Squeeze | None, unit: str) -> dict[str, Any] | None:
    if squeeze is None:
        return None
    return {
        "flanks": as_number(squeeze.flattening.flanks_mm, unit),
        "anvils": as_number(squeeze.flattening.anvils_mm, unit),
        "total": as_number(squeeze.flattening.total_mm, unit),
        "force_n": round(squeeze.force_n, 3),
        "applied": squeeze.is_applied,
    }


def seats_json(
    target: ThreadTarget, gauging: Gauging, found: measuring.Measured, unit: str
) -> dict[str, Any] | None:
    """Infeed from touching the crest at which the wires seat; None without crest and tip."""
    if gauging.crest_mm is None or gauging.tip is None:
        return None
    seat = measuring.seat(target, found.wires, found.rule, gauging.crest_mm, gauging.tip)
    if seat is None:
        return None
    return {
        "infeed": as_number(seat.infeed_mm, unit),
        "reading": as_number(seat.reading_mm, unit),
        "crest_diameter": as_number(gauging.crest_mm, unit),
        "crest_is_assumed": gauging.crest_is_assumed,
    }


def target_json(
    target: Target,
    unit: str,
    gauging: Gauging = NOTHING_KNOWN,
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
            "aim": as_number(gauging.aim_mm or (low_mm + high_mm) / 2, unit),
            "wires": None,
            "over_wires": None,
        }
    try:
        return body | thread_json(target, unit, gauging)
    except OutOfRange as error:
        message = sentence(error.words(unit))
        raise refuse(422, "not_in_standard", message, "designation") from error


def thread_json(target: ThreadTarget, unit: str, gauging: Gauging) -> dict[str, Any]:
    body = {
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
        "aim": as_number(gauging.aim_mm or target.pitch_diameter.middle_mm, unit),
        "wires": wires_json(target, unit, gauging.known_crest_mm),
    }
    return body | measured_json(target, gauging, unit)


def look_up(
    designation: str, unit: str, wire: str | None, rule: str | None, kind: str | None
) -> dict[str, Any]:
    """Everything the standard says of a designation, and what the micrometer must read."""
    target = read_target(designation, kind, unit)
    wires = None
    if wire is not None and wire.strip():
        wires = Wires.nominal(to_mm(positive_typed(wire, "wire", say("The wire")), unit))
    return target_json(target, unit, Gauging(wires, Rule(rule) if rule else None))


def feature_json(session: Session, feature: FeatureRow) -> dict[str, Any]:
    """The targets of a stored feature, in its own unit."""
    setup = setup_of(session, feature)
    return target_json(setup.target, setup.unit, gauging_of(setup))


def gauging_of(setup: Setup) -> Gauging:
    return Gauging(
        wires=setup.wires if setup.method in measuring.METHODS else None,
        rule=setup.rule,
        aim_mm=setup.aim_mm,
        at_zero_force=setup.wires_at_zero_force,
        part_modulus_mpa=setup.material.elastic_modulus_mpa,
        crest_mm=setup.crest_diameter_mm,
        crest_is_assumed=setup.crest_is_assumed,
        tip=setup.tip,
    )
