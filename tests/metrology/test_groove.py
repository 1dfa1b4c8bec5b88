"""The partly cut groove against brute-force geometry, in the plane and in space."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology import groove, wires
from server.metrology.groove import ContactCase
from server.metrology.infeed import ToolTip, total_infeed_mm
from server.metrology.model import OutOfRange, Rule
from server.metrology.wires import Wires
from tests.metrology.wire_targets import DEG_14_5, DEG_30, INCH, exactly
from tests.reference_rows import rows

# Major, pitch diameter, pitch, half angle, starts of the threads in the tables
THREADS = {
    "5/8-18": (15.875, 14.958456, INCH / 18, DEG_30, 1),
    "M10x1.5": (10.0, 9.025721, 1.5, DEG_30, 1),
    "1/4-20": (6.35, 5.52511, INCH / 20, DEG_30, 1),
    "M10x1.5 4-start": (10.0, 9.025721, 1.5, DEG_30, 4),
}


def brute_force_stand_mm(depth: float, wire: float, a: float, tip: ToolTip) -> float:
    """H: the highest that any point of the groove's outline pushes the wire's axis."""
    q, r = wire / 2, tip.nose_radius_mm
    if r:
        angles = np.linspace(0, math.pi / 2 - a, 40_001)
        xs, ys = r * np.sin(angles), r - depth - r * np.cos(angles)
        foot = (r * math.cos(a), r - depth - r * math.sin(a))
    else:
        xs = np.linspace(0, tip.flat_mm / 2, 1_001)
        ys = np.full_like(xs, -depth)
        foot = (tip.flat_mm / 2, -depth)
    if foot[1] < 0:
        flank_ys = np.linspace(foot[1], 0, 200_001)
        xs = np.append(xs, foot[0] + (flank_ys - foot[1]) * math.tan(a))
        ys = np.append(ys, flank_ys)
    else:
        corner = math.sqrt(r * r - (r - depth) ** 2) if r else tip.flat_mm / 2
        xs, ys = xs[ys <= 0], ys[ys <= 0]
        xs, ys = np.append(xs, corner), np.append(ys, 0.0)
    within = xs < q
    return float(np.max(ys[within] + np.sqrt(q * q - xs[within] ** 2)))


@pytest.mark.parametrize(
    "row", rows("partial_groove"), ids=lambda row: f"{row['case']} {row['h_mm']}"
)
def test_tabled_partly_cut_grooves(row: dict[str, str]) -> None:
    """Computed, closed form and brute force; inputs are printed to 1e-5 mm."""
    crest, w, h = float(row["D_mm"]), float(row["w_mm"]), float(row["h_mm"])
    a, tip = math.radians(float(row["incl_deg"]) / 2), ToolTip(float(row["tip_flat_mm"]))

    seats = groove.seat_depth_mm(w, a, tip)

    assert groove.reading_mm(h, crest, w, a, tip) == pytest.approx(float(row["M_brute"]), abs=3e-5)
    assert seats == pytest.approx(float(row["h_seat_mm"]), abs=2e-5)
    if h != float(row["h_seat_mm"]):
        assert groove.case_at_depth(h, w, a, tip) == row["regime"]


@pytest.mark.parametrize(
    ("tip", "a", "wire"),
    [
        pytest.param(ToolTip(), DEG_30, 0.9, id="sharp"),
        pytest.param(ToolTip(flat_mm=0.19), DEG_30, 0.9, id="flat"),
        pytest.param(ToolTip(flat_mm=0.6), DEG_30, 0.9, id="flat wide as a root"),
        pytest.param(ToolTip(nose_radius_mm=0.2), DEG_30, 0.9, id="nose radius"),
        pytest.param(ToolTip(nose_radius_mm=0.3), DEG_14_5, 0.8, id="nose radius, Acme"),
        pytest.param(ToolTip(nose_radius_mm=0.5), DEG_30, 0.9, id="nose wider than the wire"),
        pytest.param(ToolTip(flat_mm=0.65), DEG_14_5, 0.8, id="wire that never seats"),
    ],
)
@pytest.mark.parametrize("depth", [0.0, 0.004, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9])
def test_agrees_with_brute_force_in_the_plane(
    tip: ToolTip, a: float, wire: float, depth: float
) -> None:
    brute = 10 + wire + 2 * brute_force_stand_mm(depth, wire, a, tip)

    assert groove.reading_mm(depth, 10, wire, a, tip) == pytest.approx(max(brute, 10), abs=1e-5)


@pytest.mark.parametrize(
    "row", rows("partial_3d"), ids=lambda row: f"{row['case']} {row['h_over_hseat']}"
)
def test_helix_under_the_exact_rule(row: dict[str, str]) -> None:
    """The brute-force reading in space gives back the depth that made it.

    Within 1 um of reading for one start, 2 um for four.
    """
    major, e, pitch, a, starts = THREADS[row["case"]]
    target = exactly(major, e, pitch, a, starts)
    w = wires.best_wire_mm(pitch, a)
    tip, crest = ToolTip(), major

    found = groove.contact_case(
        float(row["M_3D_brute"]), crest, target, Wires.nominal(w), Rule.EXACT, tip
    )

    assert found.depth_mm is not None
    allowed = 0.001 if starts == 1 else 0.002
    slope = abs(
        groove.reading_mm(float(row["h_mm"]) + 1e-6, crest, w, a, tip)
        - groove.reading_mm(float(row["h_mm"]), crest, w, a, tip)
    )
    off_in_reading = abs(found.depth_mm - float(row["h_mm"])) * slope / 1e-6
    assert off_in_reading <= allowed
    if starts == 1:
        assert found.case == row["regime2D"]


shapes = st.tuples(
    st.floats(0.9, 1.5),  # wire in best wires
    st.floats(0, 0.3),  # flat in pitches
    st.sampled_from([DEG_30, DEG_14_5, math.radians(27.5)]),
    st.floats(0.01, 0.6),  # depth in pitches
)


@settings(max_examples=200)
@given(shapes)
def test_depth_comes_back_from_the_reading(shape: tuple[float, float, float, float]) -> None:
    bests, flat, a, depth = shape
    pitch, crest = 2.0, 20.0
    w, tip, h = bests * wires.best_wire_mm(pitch, a), ToolTip(flat * pitch), depth * pitch
    target = exactly(crest, crest - pitch / 2, pitch, a)
    reads = groove.reading_mm(h, crest, w, a, tip)

    found = groove.contact_case(reads, crest, target, Wires.nominal(w), Rule.HANDBOOK, tip)

    if groove.case_at_depth(h, w, a, tip) is ContactCase.FLUSH:
        assert found.case is ContactCase.FLUSH
        assert found.pitch_diameter_mm is None
        return
    assert found.depth_mm == pytest.approx(h, abs=1e-7)
    assert found.pitch_diameter_mm is not None
    if found.pitch_diameter_mm < crest:
        infeed = total_infeed_mm(crest, found.pitch_diameter_mm, pitch, a, tip)
        assert infeed == pytest.approx(h, abs=1e-7)


@settings(max_examples=100)
@given(shapes)
def test_corner_size_needs_no_tool_tip(shape: tuple[float, float, float, float]) -> None:
    bests, flat, a, depth = shape
    pitch, crest = 2.0, 20.0
    w, tip, h = bests * wires.best_wire_mm(pitch, a), ToolTip(flat * pitch), depth * pitch
    target = exactly(crest, crest - pitch / 2, pitch, a)
    if groove.case_at_depth(h, w, a, tip) not in (ContactCase.CORNER, ContactCase.FLANK):
        return
    reads = groove.reading_mm(h, crest, w, a, tip)
    known = groove.contact_case(reads, crest, target, Wires.nominal(w), Rule.HANDBOOK, tip)
    unknown = groove.contact_case(reads, crest, target, Wires.nominal(w), Rule.HANDBOOK)

    assert unknown.pitch_diameter_mm == pytest.approx(known.pitch_diameter_mm, abs=1e-9)
    assert unknown.case is known.case
    assert unknown.depth_mm is None
    if known.infeed_to_seat_mm is not None:
        assert unknown.infeed_to_seat_mm == pytest.approx(known.infeed_to_seat_mm, abs=1e-9)


@settings(max_examples=100)
@given(shapes)
def test_the_infeed_to_seat_brings_the_seating_reading(
    shape: tuple[float, float, float, float],
) -> None:
    bests, flat, a, depth = shape
    pitch, crest = 2.0, 20.0
    w, tip, h = bests * wires.best_wire_mm(pitch, a), ToolTip(flat * pitch), depth * pitch
    target = exactly(crest, crest - pitch / 2, pitch, a)
    reads = groove.reading_mm(h, crest, w, a, tip)
    found = groove.contact_case(reads, crest, target, Wires.nominal(w), Rule.HANDBOOK, tip)
    if found.case is not ContactCase.CORNER or found.infeed_to_seat_mm is None:
        return

    seated = groove.reading_mm(h + found.infeed_to_seat_mm, crest, w, a, tip)

    assert found.infeed_to_seat_mm > 0
    assert seated == pytest.approx(groove.seating_reading_mm(crest, w, a), abs=1e-9)


@pytest.mark.parametrize("tip", [ToolTip(), ToolTip(flat_mm=0.19), ToolTip(nose_radius_mm=0.15)])
def test_no_kink_where_the_wires_seat(tip: ToolTip) -> None:
    w, step = 0.9, 1e-6
    seat = groove.seat_depth_mm(w, DEG_30, tip)
    assert seat is not None
    before, at, after = (
        groove.reading_mm(seat + shift, 10, w, DEG_30, tip) for shift in (-step, 0, step)
    )

    assert before - at == pytest.approx(2 * step, rel=1e-4)
    assert at - after == pytest.approx(2 * step, rel=1e-4)


@pytest.mark.parametrize("name", THREADS)
def test_no_jump_at_the_seat_under_the_exact_rule(name: str) -> None:
    major, e, pitch, a, starts = THREADS[name]
    target, wire = exactly(major, e, pitch, a, starts), Wires.nominal(wires.best_wire_mm(pitch, a))
    w = wire.effective_mm
    e_seat = major - (w * math.cos(a) - pitch / 2) / math.tan(a)
    m_seat = wires.size_mm(e_seat, target, wire, Rule.EXACT)
    above = groove.contact_case(m_seat + 1e-7, major, target, wire, Rule.EXACT)
    below = groove.contact_case(m_seat - 1e-7, major, target, wire, Rule.EXACT)

    assert above.case is ContactCase.CORNER
    assert below.case is ContactCase.FLANK
    assert above.pitch_diameter_mm == pytest.approx(below.pitch_diameter_mm, abs=1e-6)


def test_an_early_reading_taken_for_a_seated_one_looks_nearer_to_size() -> None:
    """5/8-18, sharp tool, 0.9 of the seat depth: 19.15 um, from the brute-force table."""
    major, e, pitch, a, _ = THREADS["5/8-18"]
    wire = Wires.nominal(0.81471)
    target = exactly(major, e, pitch, a)

    taken_as_seated = wires.pitch_diameter_mm(17.20012, target, wire, Rule.HANDBOOK)
    found = groove.contact_case(17.20012, major, target, wire, Rule.HANDBOOK)

    assert found.case is ContactCase.CORNER
    assert found.is_rough
    assert "corners: rough" in found.words
    assert found.pitch_diameter_mm is not None
    assert found.pitch_diameter_mm - taken_as_seated == pytest.approx(0.01915, abs=3e-5)


def test_doubt_grows_in_a_shallow_groove() -> None:
    target = exactly(10, 9.025721, 1.5)
    wire = Wires.nominal(0.866)
    step = 1e-6
    deep, shallow = 11.35, 11.70
    for reading in (deep, shallow):
        found = groove.contact_case(reading, 10, target, wire, Rule.HANDBOOK)
        near = groove.contact_case(reading + step, 10, target, wire, Rule.HANDBOOK)
        assert found.pitch_diameter_mm is not None
        assert near.pitch_diameter_mm is not None
        slope = (near.pitch_diameter_mm - found.pitch_diameter_mm) / step
        assert found.size_per_reading == pytest.approx(slope, rel=1e-3)
        assert found.size_per_reading > 1


def test_a_wire_in_too_wide_a_tip_never_seats() -> None:
    tip = ToolTip(flat_mm=0.65)
    assert groove.seat_depth_mm(0.8, DEG_14_5, tip) is None

    target = exactly(10, 9, 2.0, DEG_14_5)
    found = groove.contact_case(10.9, 10, target, Wires.nominal(0.8), Rule.HANDBOOK, tip)

    assert found.case is ContactCase.ROOT
    assert found.depth_mm == pytest.approx(0.35)
    assert found.infeed_to_seat_mm is None


def test_flush_wires_give_no_size() -> None:
    target = exactly(10, 9.025721, 1.5)
    found = groove.contact_case(10.0, 10.0, target, Wires.nominal(0.5), Rule.HANDBOOK)

    assert found.case is ContactCase.FLUSH
    assert found.pitch_diameter_mm is None
    assert "no size" in found.words


def test_a_reading_no_groove_can_give_is_refused() -> None:
    target = exactly(10, 9.025721, 1.5)
    with pytest.raises(OutOfRange, match="size over wires is 11.9"):
        groove.contact_case(11.9, 10.0, target, Wires.nominal(0.9), Rule.HANDBOOK)
    with pytest.raises(OutOfRange, match="depth of groove"):
        groove.reading_mm(-0.1, 10, 0.9, DEG_30, ToolTip())
