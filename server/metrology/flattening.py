"""What the measuring force takes off a size over wires.

Each wire is pressed into its two flanks and against the flat anvil; the micrometer then reads low.
Flank and wire meet as crossed cylinders: the wire's radius across, R = E / (2 sin a) along it.
Source: Hertz contact as in Johnson, Contact Mechanics, ch. 4; line contact as in Puttock and
Thwaite, National Standards Laboratory technical paper 25 (both recalled).  Elastic only: soft or
rough flanks also take a dent.  Lengths [mm], angles [rad], force [N], modulus [MPa].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology.model import OutOfRange, Rule
from server.metrology.units import MM_PER_INCH
from server.wording import say

STEEL_MODULUS_MPA = 206_000.0
POISSON_RATIO = 0.29  # metals lie between 0.25 and 0.35; the effect on the result is below 3 %
ANVIL_MM = 6.35  # diameter of a micrometer's anvil, the length of the line contact
NEWTON_PER_POUND = 4.4482216152605  # exact
SIZING_ROLL_MM = 0.75 * MM_PER_INCH  # wires for 20 threads per inch and coarser are sized on it

# Threads per inch up to, force in pounds.  ASME B1.2 and NBS H28, recalled.
_FORCES_LB = ((20, 2.5), (40, 1.0), (80, 0.5), (140, 0.25), (math.inf, 0.125))
_METRIC_COARSE_MM = 1.25  # counts as 20 threads per inch
_HALVINGS = 40


@dataclass(frozen=True)
class Flattening:
    """How much lower a size over wires reads under force than without.  [mm]"""

    flanks_mm: float
    anvils_mm: float

    @property
    def total_mm(self) -> float:
        return self.flanks_mm + self.anvils_mm


def measuring_force_n(pitch_mm: float) -> float:
    """The force at which threads of that pitch are measured over wires.  [N]

    2.5 lb at 20 threads per inch or 1.25 mm and coarser, 1 lb to 40, 8 oz to 80, 4 oz to 140,
    2 oz beyond.  Source: ASME B1.2, NBS H28 (recalled).

    >>> round(measuring_force_n(1.5), 1)
    11.1
    """
    if not pitch_mm > 0:
        raise OutOfRange(say("pitch"), pitch_mm, 0, None, "mm")
    tpi = 20 if pitch_mm >= _METRIC_COARSE_MM else MM_PER_INCH / pitch_mm
    pounds = next(lb for finest, lb in _FORCES_LB if tpi <= finest * (1 + 1e-9))
    return pounds * NEWTON_PER_POUND


def over_wires(
    pitch_diameter_mm: float,
    wire_mm: float,
    half_angle_rad: float,
    force_n: float,
    part_modulus_mpa: float = STEEL_MODULUS_MPA,
    wire_modulus_mpa: float = STEEL_MODULUS_MPA,
) -> Flattening:
    """Flattening of three wires on a thread, the single one under the whole force.

    pitch_diameter_mm  [mm], > 0
    wire_mm            [mm], > 0
    force_n            of the micrometer  [N], >= 0
    part_modulus_mpa   elastic modulus of the part  [MPa], > 0; anvils are steel

    Raises OutOfRange outside those.
    Example (5/8-18, best wire, 2.5 lb, steel: computed table, 3.77 um):
    >>> round(over_wires(14.958456, 0.8147, math.radians(30), 11.12).total_mm * 1000, 2)
    3.77
    """
    _check(pitch_diameter_mm, wire_mm, force_n, part_modulus_mpa, wire_modulus_mpa)
    sin_a = math.sin(half_angle_rad)
    along = pitch_diameter_mm / (2 * sin_a)
    stiffness = _joint_modulus_mpa(part_modulus_mpa, wire_modulus_mpa)
    on_flank = _crossed_cylinders_mm(force_n / (2 * sin_a), along, wire_mm / 2, stiffness) / sin_a
    half_force = math.cbrt(1 / 4)  # approach goes with force to the power 2/3
    anvils = sum(_on_flat_mm(f, wire_mm, wire_modulus_mpa) for f in (force_n, force_n / 2))
    return Flattening(on_flank * (1 + half_force), anvils)


def squeeze_when_sized_mm(wire_mm: float, force_n: float, roll_mm: float = SIZING_ROLL_MM) -> float:
    """What a steel wire loses when it is sized under load between a roll and a flat.  [mm]

    Times 1 + 1/sin a this is nearly the flattening on the thread, which is why tables used with
    such wires add no correction.  Raises OutOfRange as `over_wires`.
    """
    _check(roll_mm, wire_mm, force_n, STEEL_MODULUS_MPA, STEEL_MODULUS_MPA)
    stiffness = _joint_modulus_mpa(STEEL_MODULUS_MPA, STEEL_MODULUS_MPA)
    on_roll = _crossed_cylinders_mm(force_n, roll_mm / 2, wire_mm / 2, stiffness)
    return on_roll + _on_flat_mm(force_n, wire_mm, STEEL_MODULUS_MPA)


def is_applied(rule: Rule, certified_to_zero_force: bool) -> bool:
    """Whether the correction is added to a reading, or only shown.

    Under the handbook rule never, since wires sized under load nearly cancel it; under the exact
    rule only for wires whose certificate corrects to zero force.
    """
    return rule is Rule.EXACT and certified_to_zero_force


def _check(diameter: float, wire: float, force: float, part: float, wires: float) -> None:
    for what, value, unit in (
        (say("diameter"), diameter, "mm"),
        (say("wire diameter"), wire, "mm"),
        (say("elastic modulus"), part, "MPa"),
        (say("elastic modulus"), wires, "MPa"),
    ):
        if not value > 0:
            raise OutOfRange(what, value, 0, None, unit)
    if not force >= 0:
        raise OutOfRange(say("measuring force"), force, 0, None, "N")


def _joint_modulus_mpa(first_mpa: float, second_mpa: float) -> float:
    """1/E* = (1 - nu^2)/E1 + (1 - nu^2)/E2."""
    return 1 / ((1 - POISSON_RATIO**2) * (1 / first_mpa + 1 / second_mpa))


def _on_flat_mm(force: float, wire: float, wire_modulus: float) -> float:
    """A cylinder pressed on a steel flat along the anvil's diameter."""
    if not force:
        return 0.0
    per_mm = force / ANVIL_MM
    soft = (1 - POISSON_RATIO**2) / math.pi * (1 / wire_modulus + 1 / STEEL_MODULUS_MPA)
    return per_mm * soft * (1 + math.log(2 * ANVIL_MM**2 / (soft * per_mm * wire)))


def _crossed_cylinders_mm(force: float, radius_1: float, radius_2: float, joint: float) -> float:
    """Approach of two cylinders whose axes cross at right angles."""
    larger, smaller = max(radius_1, radius_2), min(radius_1, radius_2)
    mean = math.sqrt(larger * smaller)
    m = _parameter(larger / smaller)
    k, e = _elliptic(m)
    flat = math.sqrt(1 - m)  # short over long axis of the contact ellipse
    f1 = math.cbrt(4 / (math.pi * m)) * math.sqrt(flat)
    f1 *= math.cbrt(math.sqrt((e / (flat * flat) - k) * (k - e)))
    f2 = 2 / math.pi * math.sqrt(flat) / f1 * k
    return f2 * math.cbrt(9 * force * force / (16 * joint * joint * mean))


def _parameter(ratio: float) -> float:
    """m = 1 - (b/a)^2 of the contact ellipse for a ratio of curvatures, by halving."""
    low, high = 1e-9, 1 - 1e-12
    for _ in range(_HALVINGS):
        m = (low + high) / 2
        k, e = _elliptic(m)
        if (e / (1 - m) - k) / (k - e) < ratio:
            low = m
        else:
            high = m
    return (low + high) / 2


def _elliptic(m: float) -> tuple[float, float]:
    """Complete elliptic integrals K and E by the arithmetic-geometric mean."""
    a, b, c = 1.0, math.sqrt(1 - m), math.sqrt(m)
    total, weight = c * c / 2, 1.0
    while c > 1e-15:
        a, b, c = (a + b) / 2, math.sqrt(a * b), (a - b) / 2
        total += weight * c * c
        weight *= 2
    k = math.pi / (2 * a)
    return k, k * (1 - total)
