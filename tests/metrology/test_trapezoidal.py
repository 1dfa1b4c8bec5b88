"""ISO trapezoidal threads against published basic sizes and limits, and what a drawing may say."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.model import DesignationError, Kind, ThreadTarget
from server.metrology.tables import rows as table_rows
from server.metrology.threads import trapezoidal
from tests.reference_rows import rows

# Published cells that contradict the definition of the profile (d2 = d - P/2, d3 = d - P - 2 ac).
MISPRINTS = {
    ("Tr8x1.5", "pd_max", "7.3"): "rounded to one place; 7.25",
    ("Tr46x8", "pd_max", "42.5"): "42.0",
    ("Tr70x10", "minor_max", "59.5"): "59.0",
    ("Tr42x10", "minor_max", "41.000"): "31.000",
    ("Tr9x2", "minor_max", "9.250"): "6.500",
}


def target(text: str, kind: Kind | None = None) -> ThreadTarget:
    found = trapezoidal.read(text, kind)
    assert found is not None
    return found


def cells(row: dict[str, str]) -> dict[str, float | None]:
    name = row["designation"]
    if row["side"] == "basic":
        screw, nut = target(f"{name}-7e"), target(f"{name}-7H")
        return {
            "pd_max": screw.basic_pitch_diameter_mm,
            "minor_max": screw.minor_diameter.high_mm,
            "D1": nut.minor_diameter.low_mm,
            "D4": nut.major_diameter.low_mm,
        }
    found = target(name)
    return {
        "major_max": found.major_diameter.high_mm,
        "major_min": found.major_diameter.low_mm,
        "pd_max": found.pitch_diameter.high_mm,
        "pd_min": found.pitch_diameter.low_mm,
        "minor_max": found.minor_diameter.high_mm,
        "minor_min": found.minor_diameter.low_mm,
    }


def compared(row: dict[str, str]) -> tuple[int, list[tuple[str, str, str]]]:
    count, different = 0, []
    for field, ours in cells(row).items():
        printed = row[field]
        if printed:
            count += 1
            places = len(printed.partition(".")[2])
            if ours is None or f"{ours:.{places}f}" != printed:
                different.append((row["designation"], field, printed))
    return count, different


def test_every_published_cell_agrees_but_the_misprints() -> None:
    checked, different = 0, []
    for row in rows("trapezoidal"):
        if row["obtained"] == "published":
            count, wrong = compared(row)
            checked += count
            different += wrong
    assert sorted(different) == sorted(MISPRINTS)
    assert checked >= 300


def test_every_supporting_row_agrees() -> None:
    supporting = [row for row in rows("trapezoidal") if row["obtained"] != "published"]
    for row in supporting:
        assert compared(row)[1] == [], row
    assert len(supporting) == 22


def test_the_embedded_tables_hold_every_recalled_cell() -> None:
    embedded = {
        (row["quantity"], row["d_over_mm"], row["pitch_mm"], row["grade"], row["value_um"])
        for row in table_rows("iso2903_tolerances")
    }
    for row in rows("iso2903_tables"):
        quantity = "es" if row["quantity"].startswith("es") else row["quantity"]
        cell = (quantity, row["d_over"], row["P"], row["grade_or_position"], row["value_um"])
        assert cell in embedded


def test_tolerances_widen_with_grade_pitch_and_diameter() -> None:
    def width(text: str) -> float:
        return target(text).pitch_diameter.tolerance_mm

    for tail in "eH":
        sizes = [f"Tr40x7-{grade}{tail}" for grade in (7, 8, 9)]
        assert sorted(width(text) for text in sizes) == [width(text) for text in sizes]
        diameters = [width(f"Tr{d}x3-7{tail}") for d in (11, 20, 40, 80)]
        assert sorted(diameters) == diameters


@pytest.mark.parametrize(
    ("text", "name", "lead_mm", "starts", "hand"),
    [
        ("Tr40x7-7e", "Tr40x7-7e", 7, 1, "right"),
        ("Tr 40 x 7 - 7H", "Tr40x7-7H", 7, 1, "right"),
        ("tr40x7", "Tr40x7-7e", 7, 1, "right"),
        ("Tr40x14(P7)-7e LH", "Tr40x14(P7)-7e LH", 14, 2, "left"),
        ("Tr40x14P7", "Tr40x14(P7)-7e", 14, 2, "right"),
        ("Tr40x14 P7 LH - 8c", "Tr40x14(P7)-8c LH", 14, 2, "left"),
        ("Tr40x7LH-7e", "Tr40x7-7e LH", 7, 1, "left"),
        ("Tr40x7-8e-L", "Tr40x7-8e", 7, 1, "right"),
        ("Tr9,5x2", "Tr9.5x2-7e", 2, 1, "right"),
        ("Tr40x28(P7)-7e", "Tr40x28(P7)-7e", 28, 4, "right"),
    ],
)
def test_what_a_drawing_says_is_read(
    text: str, name: str, lead_mm: float, starts: int, hand: str
) -> None:
    found = target(text)
    assert (found.designation, found.lead_mm) == (name, lead_mm)
    assert (found.starts, found.hand) == (starts, hand)
    assert found.half_angle_rad == pytest.approx(math.radians(15))
    assert target(found.designation).pitch_diameter == found.pitch_diameter


def test_a_mating_pair_gives_the_side_that_is_asked_for() -> None:
    assert target("Tr40x7-7H/7e").kind is Kind.INTERNAL_THREAD
    assert target("Tr40x7-7H/7e", Kind.EXTERNAL_THREAD).tolerance_class == "7e"
    assert target("Tr40x7", Kind.INTERNAL_THREAD).tolerance_class == "7H"


@pytest.mark.parametrize("text", ["M10", "trial", "5/8-18 UNF-2A", "25 h6", "G1/2", ""])
def test_other_families_are_left_alone(text: str) -> None:
    assert trapezoidal.read(text) is None


@pytest.mark.parametrize(
    ("text", "kind", "code", "part"),
    [
        ("Tr40", None, "designation_unreadable", "40"),
        ("Tr40x15(P7)-7e", None, "designation_unreadable", "15(P7)"),
        ("Tr40x7-7e FOO", None, "designation_unreadable", "FOO"),
        ("Tr0x4", None, "designation_unreadable", "0"),
        ("Tr40x7-7e", Kind.INTERNAL_THREAD, "designation_unreadable", "7e"),
        ("Tr40x7-7e", Kind.BORE, "designation_unreadable", "Tr40x7-7e"),
        ("Tr40x7-7g", None, "not_in_standard", "7G"),
        ("Tr40x7-6H", None, "not_in_standard", "6H"),
        ("Tr12x8", None, "not_in_standard", "Tr12x8"),
        ("Tr2000x10", None, "not_in_standard", "Tr2000x10"),
    ],
)
def test_an_error_names_the_part_and_offers_what_can_be_read(
    text: str, kind: Kind | None, code: str, part: str
) -> None:
    with pytest.raises(DesignationError) as caught:
        trapezoidal.read(text, kind)
    assert (caught.value.code, caught.value.part) == (code, part)
    assert caught.value.accepted
    if code == "not_in_standard":
        assert caught.value.nearest
    for offer in caught.value.nearest:
        assert trapezoidal.read(offer) is not None


def test_what_is_not_certain_is_noted() -> None:
    assert target("Tr8x1.5-7e").notes == ()  # every cell of it was read in print
    assert any("recalled" in note for note in target("Tr40x7-7e").notes)
    assert any("formula" in note for note in target("Tr200x18-8c").notes)
    assert any("range" in note for note in target("Tr23x5-7e").notes)
    assert any("starts" in note for note in target("Tr40x14(P7)-7e").notes)


SERIES = [
    (row["diameter_mm"], pitch)
    for row in table_rows("iso2902_series")
    for pitch in row["pitches_mm"].split()
]


@settings(max_examples=200)
@given(size=st.sampled_from(SERIES), grade=st.integers(7, 9), position=st.sampled_from("ec"))
def test_limits_stand_in_order_over_the_series(
    size: tuple[str, str], grade: int, position: str
) -> None:
    name = f"Tr{size[0]}x{size[1]}"
    screw, nut = target(f"{name}-{grade}{position}"), target(f"{name}-{grade}H")
    for limits in (
        *(screw.major_diameter, screw.pitch_diameter, screw.minor_diameter),
        *(nut.pitch_diameter, nut.minor_diameter),
    ):
        low, high = limits.both()
        assert low < high
    assert screw.major_diameter.high_mm == screw.nominal_mm
    assert screw.pitch_diameter.both()[1] == pytest.approx(
        screw.basic_pitch_diameter_mm - screw.allowance_mm, abs=1e-9
    )
    assert nut.pitch_diameter.both()[0] == screw.basic_pitch_diameter_mm
    assert screw.minor_diameter.both()[1] < nut.minor_diameter.both()[0]
    assert nut.major_diameter.low_mm is not None
    assert nut.major_diameter.low_mm > screw.nominal_mm
    assert nut.major_diameter.high_mm is None
