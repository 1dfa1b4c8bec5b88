"""Exact contact against a brute-force search, tabled cases and its own inverse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology import contact
from server.metrology.model import OutOfRange
from tests.reference_rows import rows


def stands_off(tilt: float, e: float, w: float, p: float, lead: float, a: float) -> float:
    """Height of the wire's axis above the thread axis when held at one tilt.

    Every point of the flank's surface pushes the wire out until it lies on the wire's surface;
    the point that pushes furthest holds it.  Found on a grid that is narrowed again and again.
    The other flank is this one turned half a turn about the measuring line, so it pushes alike.
    """
    q, k, tan_a = w / 2, lead / math.tau, math.tan(a)
    r_mid, t_mid = e / 2 + (q * math.cos(a) - p / 4) / tan_a, 0.0
    r_span, t_span = p, 0.8
    best = -math.inf
    for _ in range(12):
        r = np.linspace(max(r_mid - r_span, 1e-6), r_mid + r_span, 61)[:, None]
        t = np.linspace(t_mid - t_span, t_mid + t_span, 61)[None, :]
        z = p / 4 + (r - e / 2) * tan_a + k * t
        across = z * math.cos(tilt) - r * np.sin(t) * math.sin(tilt)
        reach = np.where(np.abs(across) < q, q * q - across**2, np.nan)
        pushes = r * np.cos(t) + np.sqrt(reach)
        # Below the line where the two flanks of a groove meet there is no surface.
        pushes = np.where(z - k * t > 0, pushes, np.nan)
        i, j = np.unravel_index(np.nanargmax(pushes), pushes.shape)
        best = float(pushes[i, j])
        r_mid, t_mid = float(r[i, 0]), float(t[0, j])
        r_span, t_span = r_span / 4, t_span / 4
    return best


def brute_force_mm(e: float, w: float, p: float, lead: float, a: float) -> float:
    """The wire settles at the tilt where it stands lowest (golden section)."""
    lead_angle = math.atan(lead / (math.pi * e))
    low, high = 0.6 * lead_angle, 1.3 * lead_angle + 1e-6
    ratio = (math.sqrt(5) - 1) / 2
    for _ in range(26):
        left, right = high - ratio * (high - low), low + ratio * (high - low)
        if stands_off(left, e, w, p, lead, a) < stands_off(right, e, w, p, lead, a):
            high = right
        else:
            low = left
    return 2 * (stands_off((low + high) / 2, e, w, p, lead, a) + w / 2)


def lead_for(degrees: float, e: float) -> float:
    return math.pi * e * math.tan(math.radians(degrees))


# pitch diameter, pitch, lead, included angle, wire in best wires
ORACLE_CASES = [
    pytest.param(14.958456, 25.4 / 18, 25.4 / 18, 60, 1.0, id="5/8-18"),
    pytest.param(9.025721, 1.5, 6.0, 60, 1.2, id="M10x1.5 four starts, large wire"),
    pytest.param(9.025721, 1.5, 6.0, 60, 0.9, id="M10x1.5 four starts, small wire"),
    pytest.param(11.344641, 25.4 / 12, 4 * 25.4 / 12, 55, 1.0, id="1/2-12 BSW four starts"),
    pytest.param(22.86, 5.08, 5.08, 29, 1.0, id="1-5 Acme"),
    pytest.param(22.86, 5.08, 20.32, 29, 1.0, id="1-5 Acme four starts"),
    pytest.param(36.5, 7.0, 28.0, 30, 1.1, id="Tr40x28P7"),
    pytest.param(10.0, 2.0, lead_for(20, 10.0), 60, 1.0, id="60 degrees at 20 degrees of lead"),
    pytest.param(22.86, 5.08, lead_for(20, 22.86), 29, 1.0, id="Acme at 20 degrees of lead"),
    pytest.param(22.86, 5.08, lead_for(25, 22.86), 29, 1.15, id="Acme at 25 degrees of lead"),
]


@pytest.mark.parametrize(("e", "p", "lead", "included", "bests"), ORACLE_CASES)
def test_agrees_with_brute_force(
    e: float, p: float, lead: float, included: float, bests: float
) -> None:
    a = math.radians(included / 2)
    w = bests * p / (2 * math.cos(a))

    exact = contact.over_wires_mm(e, w, p, lead, a)

    assert exact == pytest.approx(brute_force_mm(e, w, p, lead, a), abs=0.0001)


@pytest.mark.parametrize(
    "row", rows("wire_exact"), ids=lambda row: f"{row['case']} {row['wire_kind']}"
)
def test_tabled_cases(row: dict[str, str]) -> None:
    """Computed to 30 digits and by a separate brute force; pitches are printed to 1e-6 mm."""
    e, w, p = float(row["E_mm"]), float(row["w_mm"]), float(row["P_mm"])
    a, lead = math.radians(float(row["incl_angle_deg"]) / 2), p * int(row["starts"])

    touch = contact.touch(e, w, p, lead, a)

    assert touch.over_wires_mm == pytest.approx(float(row["M_exact_newton"]), abs=5e-6)
    assert math.degrees(touch.wire_tilt_rad) == pytest.approx(float(row["wire_tilt_deg"]), abs=1e-4)
    if row["contact_kind"] == "flank":
        assert touch.over_wires_mm == pytest.approx(float(row["M_exact_bruteforce"]), abs=5e-6)
        assert touch.contact_diameter_mm == pytest.approx(float(row["contact_dia_mm"]), abs=2e-5)


def test_without_lead_it_is_the_handbook_formula() -> None:
    a = math.radians(30)
    simple = 10 + 0.9 * (1 + 1 / math.sin(a)) - 0.75 / math.tan(a)
    assert contact.over_wires_mm(10, 0.9, 1.5, 0, a) == pytest.approx(simple, abs=1e-12)


threads = st.tuples(
    st.floats(2, 300),  # pitch diameter
    st.floats(0.02, 0.2),  # pitch over pitch diameter
    st.floats(0, 20),  # lead angle, degrees
    st.sampled_from([23.75, 27.5, 30, 14.5, 15]),
    st.floats(0.9, 1.2),  # wire in best wires
)


@settings(max_examples=150)
@given(threads)
def test_pitch_diameter_is_the_inverse(case: tuple[float, float, float, float, float]) -> None:
    e, ratio, lead_deg, half_deg, bests = case
    p, lead, a = ratio * e, lead_for(lead_deg, e), math.radians(half_deg)
    w = bests * p / (2 * math.cos(a))

    reads = contact.over_wires_mm(e, w, p, lead, a)

    assert contact.pitch_diameter_mm(reads, w, p, lead, a) == pytest.approx(e, abs=1e-8)


@settings(max_examples=150)
@given(threads)
def test_wire_touching_at_its_contact_is_the_wire(
    case: tuple[float, float, float, float, float],
) -> None:
    e, ratio, lead_deg, half_deg, bests = case
    p, lead, a = ratio * e, lead_for(lead_deg, e), math.radians(half_deg)
    w = bests * p / (2 * math.cos(a))

    at = contact.touch(e, w, p, lead, a).contact_diameter_mm

    assert contact.wire_touching_at_mm(at, e, p, lead, a) == pytest.approx(w, abs=1e-9)


@settings(max_examples=150)
@given(threads, st.floats(1e-4, 0.5))
def test_size_over_wires_grows_with_pitch_diameter(
    case: tuple[float, float, float, float, float], step: float
) -> None:
    e, ratio, lead_deg, half_deg, bests = case
    p, lead, a = ratio * e, lead_for(lead_deg, e), math.radians(half_deg)
    w = bests * p / (2 * math.cos(a))

    assert contact.over_wires_mm(e + step, w, p, lead, a) > contact.over_wires_mm(e, w, p, lead, a)


def test_too_steep_a_lead_is_refused() -> None:
    a = math.radians(30)
    with pytest.raises(OutOfRange, match="lead angle is 30"):
        contact.over_wires_mm(10, 1.1, 2, lead_for(30, 10), a)


def test_a_wire_far_below_the_groove_is_refused() -> None:
    with pytest.raises(OutOfRange, match="size over wires"):
        contact.pitch_diameter_mm(0.1, 1.0, 1.0, 1.0, math.radians(30))
