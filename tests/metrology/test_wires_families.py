"""Over wires on threads as they are written on drawings, every family that has external limits."""

from __future__ import annotations

import doctest

import pytest

from server.metrology import balls, contact, flattening, groove, wire_range, wires
from server.metrology.designation import read
from server.metrology.model import Kind, Rule, ThreadTarget
from server.metrology.wires import Bound, Wires
from tests.metrology.wire_targets import DEG_14_5, INCH, thread
from tests.reference_rows import rows

EXTERNAL = [
    "#0-80 UNF-2A",
    "1/4-20 UNC-1A",
    "5/8-18 UNF-2A",
    "5/8-18 UNF-3A",
    "2-4.5 UNC-2A",
    "M1x0.25-6g",
    "M10",
    "M10-9e8e",
    "M20x1.5-5g6g",
    "Tr20x4-8e",
    "Tr40x7-7e",
    "Tr40x14(P7)-7e LH",
    "3/4-6 ACME-2G",
    "1-5 ACME-3G",
    "2-4 ACME-4G",
    "1/2 BSW medium",
    "1/4 BSF close",
]
INTERNAL = ["5/8-18 UNF-2B", "1/2-13 UNC-1B", "M10-6H", "M3-6H", "Tr40x7-7H", "1/2 BSW normal"]


def external(designation: str) -> ThreadTarget:
    target = read(designation, Kind.EXTERNAL_THREAD)
    assert isinstance(target, ThreadTarget)
    return target


@pytest.mark.parametrize("designation", EXTERNAL)
def test_best_wire_is_usable_and_gives_limits(designation: str) -> None:
    target = external(designation)
    fits, chart = wires.usable(target), wires.chart_range(target)

    over = wires.over_wires(target, Wires.nominal(fits.best_mm))

    assert chart.smallest_mm < fits.smallest_mm < fits.best_mm < fits.largest_mm < chart.largest_mm
    assert over.low_mm < over.middle_mm < over.high_mm
    assert over.low_mm > (target.major_diameter.high_mm or 0)
    assert over.lead_correction_mm > 0


@pytest.mark.parametrize("designation", EXTERNAL)
@pytest.mark.parametrize("rule", Rule)
def test_limits_over_wires_mean_the_limits_of_the_thread(designation: str, rule: Rule) -> None:
    target = external(designation)
    wire = Wires.nominal(wires.usable(target).best_mm)
    over = wires.over_wires(target, wire, rule)

    back = [wires.pitch_diameter_mm(m, target, wire, rule) for m in (over.low_mm, over.high_mm)]

    assert back == pytest.approx(list(target.pitch_diameter.both()), abs=1e-8)


@pytest.mark.parametrize("designation", EXTERNAL)
def test_a_finished_thread_carries_its_wires_on_the_flanks(designation: str) -> None:
    target = external(designation)
    wire = Wires.nominal(wires.usable(target).best_mm)
    over = wires.over_wires(target, wire)
    crest = target.major_diameter.middle_mm

    for reading in (over.low_mm, over.middle_mm, over.high_mm):
        assert groove.contact_case(reading, crest, target, wire, over.rule).is_seated


def test_5_8_18_unf_2a_as_typed() -> None:
    """ASME B1.2, wire 0.032 in: over wires 0.6307-0.6354 in."""
    over = wires.over_wires(external("5/8-18 UNF-2A"), Wires.nominal(0.032 * INCH))
    assert (round(over.low_mm / INCH, 4), round(over.high_mm / INCH, 4)) == (0.6307, 0.6354)


@pytest.mark.parametrize("designation", INTERNAL)
def test_best_ball_is_usable_and_gives_limits(designation: str) -> None:
    target = read(designation, Kind.INTERNAL_THREAD)
    assert isinstance(target, ThreadTarget)
    best = balls.usable(target).best_mm

    over = balls.over_balls(target, best)
    back = [
        balls.pitch_diameter_mm(m, target, best, over.rule) for m in (over.low_mm, over.high_mm)
    ]

    assert over.low_mm < over.high_mm
    assert back == pytest.approx(list(target.pitch_diameter.both()), abs=1e-8)


@pytest.mark.parametrize(
    "row",
    [row for row in rows("wire_exact") if row["contact_kind"] == "root"],
    ids=lambda row: row["case"],
)
def test_wires_that_brute_force_finds_on_the_root_are_below_the_root_bound(
    row: dict[str, str],
) -> None:
    w, e, p = float(row["w_mm"]), float(row["E_mm"]), float(row["P_mm"])
    root = float(row["M_exact_bruteforce"]) - 2 * w
    low_crest = thread(
        major=(e, e),
        pitch=(e, e),
        minor=(None, root),
        pitch_mm=p,
        half_angle_rad=DEG_14_5 if row["incl_angle_deg"] == "29" else DEG_14_5 * 30 / 29,
    )

    fits = wires.usable(low_crest)

    assert root == pytest.approx(float(row["D_major_mm"]) - p, rel=0.02)
    assert fits.smallest_bound is Bound.ROOT
    assert w < fits.smallest_mm < fits.best_mm


@pytest.mark.parametrize("module", [balls, contact, flattening, groove, wire_range, wires])
def test_examples_in_docstrings(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]
