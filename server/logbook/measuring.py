"""What is read over wires or balls: one answer for the JSON, the card and the lathe."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from server.metrology import ball_groove, balls, flattening, groove
from server.metrology import wires as wire_rules
from server.metrology.flattening import Flattening
from server.metrology.infeed import ToolTip, pitch_diameter_at_mm
from server.metrology.model import Kind, OutOfRange, Rule, ThreadTarget
from server.metrology.wires import Wires

OVER_WIRES, OVER_BALLS = "over_wires", "over_balls"
METHODS = (OVER_WIRES, OVER_BALLS)


@dataclass(frozen=True)
class Squeeze:
    """What the measuring force takes off a size over wires, and whether it counts.  [mm], [N]"""

    flattening: Flattening
    force_n: float
    is_applied: bool

    @property
    def applied_mm(self) -> float:
        return self.flattening.total_mm if self.is_applied else 0.0


@dataclass(frozen=True)
class Measured:
    """Limits of a thread as read over given wires or balls under one rule.  [mm]

    measured      over_wires or over_balls
    constant_mm   reading less pitch diameter by the handbook rule, at the middle of the limits
    low_mm, high_mm  what the micrometer shows: under the exact rule with the lead correction, and
                  less the flattening where that is applied
    reads         the same for any pitch diameter
    squeeze       None for balls
    """

    measured: str
    wires: Wires
    rule: Rule
    constant_mm: float
    lead_correction_mm: float
    low_mm: float
    high_mm: float
    reads: Callable[[float], float]
    squeeze: Squeeze | None

    @property
    def wire_mm(self) -> float:
        return self.wires.effective_mm


@dataclass(frozen=True)
class Seat:
    """Where the wires or balls come to sit on the flanks.  [mm]"""

    infeed_mm: float  # radial, from touching the crest (or the bore)
    reading_mm: float


def method_of(target: ThreadTarget) -> str:
    return OVER_BALLS if target.kind is Kind.INTERNAL_THREAD else OVER_WIRES


def squeeze(
    target: ThreadTarget,
    wires: Wires,
    rule: Rule,
    at_zero_force: bool,
    part_modulus_mpa: float | None = None,
) -> Squeeze:
    """Flattening at the force of ASME B1.2; a part of unknown stiffness counts as steel."""
    force_n = flattening.measuring_force_n(target.pitch_mm)
    return Squeeze(
        flattening.over_wires(
            target.pitch_diameter.middle_mm,
            wires.effective_mm,
            target.half_angle_rad,
            force_n,
            part_modulus_mpa or flattening.STEEL_MODULUS_MPA,
        ),
        force_n,
        flattening.is_applied(rule, at_zero_force),
    )


def measured_over(
    target: ThreadTarget,
    wires: Wires,
    rule: Rule | None = None,
    at_zero_force: bool = False,
    part_modulus_mpa: float | None = None,
    crest_mm: float | None = None,
) -> Measured:
    """Limits over wires, or over balls of that size for an internal thread.

    crest_mm  the major diameter as turned, which decides which wires fit; None: its limits

    Raises WireUnusable, BallUnusable and OutOfRange.
    """
    if target.kind is Kind.INTERNAL_THREAD:
        return _over_balls(target, wires.effective_mm, rule)
    over = wire_rules.over_wires(target, wires, rule, crest_mm)
    squeezed = squeeze(target, wires, over.rule, at_zero_force, part_modulus_mpa)

    def reads(pitch_diameter_mm: float) -> float:
        free_mm = wire_rules.size_mm(pitch_diameter_mm, target, wires, over.rule)
        return free_mm - squeezed.applied_mm

    return Measured(
        measured=OVER_WIRES,
        wires=wires,
        rule=over.rule,
        constant_mm=over.constant_mm,
        lead_correction_mm=over.lead_correction_mm,
        low_mm=over.low_mm - squeezed.applied_mm,
        high_mm=over.high_mm - squeezed.applied_mm,
        reads=reads,
        squeeze=squeezed,
    )


def _over_balls(target: ThreadTarget, ball_mm: float, rule: Rule | None) -> Measured:
    over = balls.over_balls(target, ball_mm, rule)
    middle = target.pitch_diameter.middle_mm
    return Measured(
        measured=OVER_BALLS,
        wires=Wires.nominal(ball_mm),
        rule=over.rule,
        constant_mm=balls.reading_mm(middle, target, ball_mm, Rule.HANDBOOK) - middle,
        lead_correction_mm=over.lead_correction_mm,
        low_mm=over.low_mm,
        high_mm=over.high_mm,
        reads=lambda e: balls.reading_mm(e, target, ball_mm, over.rule),
        squeeze=None,
    )


def seat(
    target: ThreadTarget, wires: Wires, rule: Rule, crest_mm: float, tip: ToolTip
) -> Seat | None:
    """Infeed and reading at which they seat; None where the tip is too wide for them to."""
    depth_mm = groove.seat_depth_mm(wires.effective_mm, target.half_angle_rad, tip)
    if depth_mm is None:
        return None
    try:
        if target.kind is Kind.INTERNAL_THREAD:
            reading_mm = ball_groove.seating_reading_mm(
                crest_mm, target, wires.effective_mm, rule, tip
            )
        else:
            e_mm = pitch_diameter_at_mm(
                depth_mm, crest_mm, target.pitch_mm, target.half_angle_rad, tip
            )
            reading_mm = wire_rules.size_mm(e_mm, target, wires, rule)
    except OutOfRange:
        return None
    return None if reading_mm is None else Seat(depth_mm, reading_mm)
