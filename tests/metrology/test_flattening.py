"""Measuring force against a table of Hertz values and an elastic oracle of its own."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology import flattening
from server.metrology.model import OutOfRange, Rule
from tests.metrology.wire_targets import DEG_14_5, DEG_30
from tests.reference_rows import rows

POUND = 4.4482216152605
# Pitch diameters of the table's threads: basic, from the standards' formulas
PITCH_DIAMETERS = {
    "M3x0.5": 2.675240,
    "#4-40": 2.432355,
    "M6x1": 5.350481,
    "1/4-20": 5.525111,
    "5/8-18": 14.958456,
    "M10x1.5": 9.025721,
    "1/2-13": 11.430939,
    "3/4-10": 17.400222,
    "1-8": 23.337778,
    "M36x4": 33.401924,
    "1-5 Acme": 22.86,
    "Tr20x4": 18.0,
    "1/2-12 BSW": 11.344641,
}
FORCES = {"1lb": POUND, "2.5lb": 2.5 * POUND, "5N": 5.0, "10N": 10.0}


@pytest.mark.parametrize("force", FORCES)
@pytest.mark.parametrize("row", rows("hertz_wires"), ids=lambda row: row["thread"])
def test_tabled_flattening(row: dict[str, str], force: str) -> None:
    """Computed rows, printed to 0.01 um; a total is the sum of two printed parts."""
    a, w = math.radians(float(row["incl_deg"]) / 2), float(row["w_best_mm"])

    got = flattening.over_wires(PITCH_DIAMETERS[row["thread"]], w, a, FORCES[force])

    assert got.flanks_mm * 1000 == pytest.approx(float(row[f"flank_{force}_um"]), abs=0.0065)
    assert got.anvils_mm * 1000 == pytest.approx(float(row[f"anvil_{force}_um"]), abs=0.0065)
    assert got.total_mm * 1000 == pytest.approx(float(row[f"total_{force}_um"]), abs=0.0105)


@pytest.mark.parametrize("row", rows("hertz_wires"), ids=lambda row: row["thread"])
def test_tabled_squeeze_of_a_wire_when_it_is_sized(row: dict[str, str]) -> None:
    squeeze = flattening.squeeze_when_sized_mm(float(row["w_best_mm"]), 2.5 * POUND)
    printed = float(row["wire_on_0.75in_cyl_2.5lb_um"])

    assert squeeze * 1000 == pytest.approx(printed, abs=0.0065)


def elliptic(m: float) -> tuple[float, float]:
    """K and E from their integrals; equal steps over a period of a smooth integrand."""
    angles = np.linspace(0, math.pi, 4_000, endpoint=False)
    root = np.sqrt(1 - m * np.sin(angles) ** 2)
    return float(np.mean(1 / root)) * math.pi / 2, float(np.mean(root)) * math.pi / 2


def approach_by_pressure_mm(force: float, radius_1: float, radius_2: float, joint: float) -> float:
    """Approach from the pressure ellipse itself.

    Semi-axes a >= b of a half-ellipsoid pressure p0: the surfaces' curvatures at the middle give
    two equations; the approach is the mutual sinking there.  (Johnson, eqs 3.38-3.41, recalled)
    """
    soft, stiff = sorted((1 / (2 * radius_1), 1 / (2 * radius_2)))
    low, high = 1e-6, 1 - 1e-6
    for _ in range(45):
        m = (low + high) / 2
        k, e = elliptic(m)
        is_flat_enough = (e / (1 - m) - k) / (k - e) >= stiff / soft
        low, high = (low, m) if is_flat_enough else (m, high)
    # soft = (p0 b / (joint m a^2)) (K - E) with p0 = 3 F / (2 pi a b)
    a = math.cbrt(3 * force * (k - e) / (2 * math.pi * joint * m * soft))
    b = a * math.sqrt(1 - m)
    p0 = 3 * force / (2 * math.pi * a * b)
    return p0 * b * k / joint


@settings(max_examples=40)
@given(st.floats(1, 50), st.floats(2, 100), st.floats(0.2, 6), st.floats(60e3, 210e3))
def test_crossed_cylinders_agree_with_the_pressure_ellipse(
    force: float, pitch_diameter: float, wire: float, modulus: float
) -> None:
    joint = 1 / ((1 - 0.29**2) * (1 / modulus + 1 / 206_000))
    along = pitch_diameter / (2 * math.sin(DEG_30))
    oracle = sum(
        approach_by_pressure_mm(share, along, wire / 2, joint) / math.sin(DEG_30)
        for share in (force, force / 2)
    )

    got = flattening.over_wires(pitch_diameter, wire, DEG_30, force, modulus).flanks_mm

    assert got == pytest.approx(oracle, rel=1e-4)


def test_aluminium_gives_about_one_and_a_half_times_as_much_as_steel() -> None:
    """70 GPa under steel wires: about 1.6 times, from the two-thirds power of the stiffness."""
    steel = flattening.over_wires(14.96, 0.8147, DEG_30, 11.12)
    aluminium = flattening.over_wires(14.96, 0.8147, DEG_30, 11.12, 70_000)

    assert aluminium.flanks_mm / steel.flanks_mm == pytest.approx(1.57, abs=0.02)
    assert aluminium.anvils_mm == steel.anvils_mm


def test_wires_sized_under_load_nearly_cancel_it_at_60_degrees() -> None:
    on_thread = flattening.over_wires(14.958456, 0.8147, DEG_30, 2.5 * POUND).total_mm
    in_wires = 3 * flattening.squeeze_when_sized_mm(0.8147, 2.5 * POUND)

    assert abs(on_thread - in_wires) < 0.0005


@pytest.mark.parametrize(
    ("pitch_mm", "pounds"),
    [
        (25.4 / 5, 2.5),
        (25.4 / 20, 2.5),
        (1.25, 2.5),
        (25.4 / 24, 1.0),
        (1.0, 1.0),
        (25.4 / 40, 1.0),
        (25.4 / 44, 0.5),
        (25.4 / 80, 0.5),
        (0.25, 0.25),
        (0.15, 0.125),
    ],
)
def test_force_by_pitch(pitch_mm: float, pounds: float) -> None:
    """ASME B1.2 and NBS H28, recalled."""
    assert flattening.measuring_force_n(pitch_mm) == pytest.approx(pounds * POUND)


def test_only_zero_force_wires_under_the_exact_rule_are_corrected() -> None:
    assert flattening.is_applied(Rule.EXACT, True)
    assert not flattening.is_applied(Rule.EXACT, False)
    assert not flattening.is_applied(Rule.HANDBOOK, True)
    assert not flattening.is_applied(Rule.HANDBOOK, False)


def test_no_force_flattens_nothing() -> None:
    assert flattening.over_wires(10, 0.8, DEG_14_5, 0.0).total_mm == 0


def test_values_that_make_no_sense_are_refused() -> None:
    with pytest.raises(OutOfRange, match="measuring force"):
        flattening.over_wires(10, 0.8, DEG_30, -1)
    with pytest.raises(OutOfRange, match="elastic modulus"):
        flattening.over_wires(10, 0.8, DEG_30, 10, 0)
    with pytest.raises(OutOfRange, match="wire diameter"):
        flattening.squeeze_when_sized_mm(0, 10)
    with pytest.raises(OutOfRange, match="pitch"):
        flattening.measuring_force_n(0)
