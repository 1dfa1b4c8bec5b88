"""External threads over three wires: what the micrometer reads and what that means.

Symbols: E simple pitch diameter, P pitch, L lead, a half angle, w wire, D crest diameter,
M size over wires.  The handbook rule is

    M = E + w (1 + 1/sin a) - (P/2) / tan a

and leaves the helix out; the exact contact is in `contact`.  Lengths [mm], angles [rad], all at
20 degrees C; nothing is rounded here.
Which wires fit is `wire_range`'s business, offered here too.
Source: NBS Handbook H28, ASME B1.2, Machinery's Handbook (formulas recalled, factors as published).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology import contact
from server.metrology.model import Rule, ThreadTarget
from server.metrology.units import MM_PER_INCH
from server.metrology.wire_range import (
    Bound,
    WireRange,
    WireUnusable,
    best_wire_mm,
    chart_range,
    practical_range_mm,
    usable,
)

__all__ = [
    "Bound",
    "OverWires",
    "WireRange",
    "WireUnusable",
    "Wires",
    "best_wire_mm",
    "chart_range",
    "constant_mm",
    "default_rule",
    "lead_correction_mm",
    "lead_term_mm",
    "over_wires",
    "pitch_diameter_mm",
    "practical_range_mm",
    "size_mm",
    "usable",
]

LEAD_TERM_LIMIT_MM = 0.00015 * MM_PER_INCH  # the convention of the wire tables
_REFINEMENTS = 3  # each gains a factor of twenty or more


@dataclass(frozen=True)
class Wires:
    """Three wires as measured: one on one side, two on the other.  [mm]"""

    single_mm: float
    pair_mm: tuple[float, float]

    @classmethod
    def nominal(cls, wire_mm: float) -> Wires:
        """A set whose three wires are taken as equal."""
        return cls(wire_mm, (wire_mm, wire_mm))

    @property
    def each_mm(self) -> tuple[float, float, float]:
        return (self.single_mm, *self.pair_mm)

    @property
    def effective_mm(self) -> float:
        """The equal wires that would read the same: half the single plus a quarter of each other.

        So M - E takes (1 + 1/sin a)/2 of the single wire and half that of each of the pair.
        """
        return self.single_mm / 2 + sum(self.pair_mm) / 4


@dataclass(frozen=True)
class OverWires:
    """Limits of a thread over given wires under one rule.  [mm]

    constant_mm         M - E by the handbook rule
    lead_correction_mm  exact minus handbook, at the middle of the limits; part of low, high and
                        middle only under the exact rule
    """

    wires: Wires
    rule: Rule
    constant_mm: float
    lead_correction_mm: float
    low_mm: float
    high_mm: float
    middle_mm: float

    @property
    def wire_mm(self) -> float:
        return self.wires.effective_mm


def constant_mm(wire_mm: float, pitch_mm: float, half_angle_rad: float) -> float:
    """M - E by the handbook rule.  [mm]

    Example (published in the 60 degree table: 18 threads per inch, wire 0.032 in, 0.04789 in):
    >>> round(constant_mm(0.032, 1 / 18, math.radians(30)), 5)
    0.04789
    """
    csc_a, cot_a = 1 / math.sin(half_angle_rad), 1 / math.tan(half_angle_rad)
    return wire_mm * (1 + csc_a) - pitch_mm / 2 * cot_a


def lead_term_mm(
    wire_mm: float, pitch_diameter_mm: float, lead_mm: float, half_angle_rad: float
) -> float:
    """c = w tan^2(lead angle) cos a cot a / 2, what the handbook rule leaves out.  [mm]

    Source: NBS H28, ASME B1.2 (recalled).  Decides the rule; the correction itself is
    `lead_correction_mm`, from which it errs by 0.2 um on 1/4-20 and 29 um on a four-start Acme.
    """
    tan_lead = lead_mm / (math.pi * pitch_diameter_mm)
    return wire_mm * tan_lead**2 * math.cos(half_angle_rad) / math.tan(half_angle_rad) / 2


def lead_correction_mm(pitch_diameter_mm: float, target: ThreadTarget, wires: Wires) -> float:
    """Exact minus handbook at one pitch diameter.  [mm]"""
    exact = size_mm(pitch_diameter_mm, target, wires, Rule.EXACT)
    return exact - size_mm(pitch_diameter_mm, target, wires, Rule.HANDBOOK)


def default_rule(target: ThreadTarget, wire_mm: float) -> Rule:
    """Handbook while the lead term stays below 0.00015 in over the limits, else exact.

    Source: the convention of the wire tables.
    """
    lowest, _ = target.pitch_diameter.both()
    left_out = lead_term_mm(wire_mm, lowest, target.lead_mm, target.half_angle_rad)
    return Rule.HANDBOOK if left_out < LEAD_TERM_LIMIT_MM else Rule.EXACT


def size_mm(pitch_diameter_mm: float, target: ThreadTarget, wires: Wires, rule: Rule) -> float:
    """Size over wires at a pitch diameter.  [mm]

    Wires that differ each count as in `Wires.effective_mm`, under both rules.
    Raises model.OutOfRange under the exact rule as `contact.touch` does.
    """
    p, a = target.pitch_mm, target.half_angle_rad
    if rule is Rule.HANDBOOK:
        return pitch_diameter_mm + constant_mm(wires.effective_mm, p, a)
    if wires.pair_mm == (wires.single_mm, wires.single_mm):
        return contact.over_wires_mm(pitch_diameter_mm, wires.single_mm, p, target.lead_mm, a)
    single, *pair = (
        contact.over_wires_mm(pitch_diameter_mm, wire, p, target.lead_mm, a)
        for wire in wires.each_mm
    )
    return single / 2 + sum(pair) / 4


def pitch_diameter_mm(
    over_wires_mm: float,
    target: ThreadTarget,
    wires: Wires,
    rule: Rule,
    flattening_mm: float = 0.0,
) -> float:
    """Pitch diameter that a size over seated wires means; inverse of `size_mm`.  [mm]

    over_wires_mm  micrometer reading at 20 degrees C  [mm]
    flattening_mm  what the measuring force took off the reading  [mm], >= 0; see `flattening`

    Holds for wires on the flanks: `groove.contact_case` tells.
    Raises model.OutOfRange where no thread reads that.
    """
    free_mm = over_wires_mm + flattening_mm
    p, a = target.pitch_mm, target.half_angle_rad
    if rule is Rule.HANDBOOK:
        return free_mm - constant_mm(wires.effective_mm, p, a)
    e = contact.pitch_diameter_mm(free_mm, wires.effective_mm, p, target.lead_mm, a)
    if wires.pair_mm != (wires.single_mm, wires.single_mm):
        for _ in range(_REFINEMENTS):
            e += free_mm - size_mm(e, target, wires, rule)
    return e


def over_wires(
    target: ThreadTarget,
    wires: Wires,
    rule: Rule | None = None,
    crest_diameter_mm: float | None = None,
) -> OverWires:
    """Limits over wires.

    wires  as measured, or `Wires.nominal`; where none are given take `usable`'s recommended size
    rule   None: `default_rule`

    Raises WireUnusable for the first wire outside `usable`; ValueError for an internal thread.
    """
    wire_range = usable(target, crest_diameter_mm)
    for wire_mm in wires.each_mm:
        if not wire_range.holds(wire_mm):
            raise WireUnusable(wire_mm, wire_range, target.unit)
    in_force = rule or default_rule(target, wires.effective_mm)
    low, high = target.pitch_diameter.both()
    middle = target.pitch_diameter.middle_mm
    return OverWires(
        wires=wires,
        rule=in_force,
        constant_mm=constant_mm(wires.effective_mm, target.pitch_mm, target.half_angle_rad),
        lead_correction_mm=lead_correction_mm(middle, target, wires),
        low_mm=size_mm(low, target, wires, in_force),
        high_mm=size_mm(high, target, wires, in_force),
        middle_mm=size_mm(middle, target, wires, in_force),
    )
