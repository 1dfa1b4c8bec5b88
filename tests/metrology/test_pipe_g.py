"""Parallel pipe threads against the published table of ISO 228-1, and bad input."""

from __future__ import annotations

import math

import pytest

from server.metrology.model import DesignationError, Kind, ThreadTarget
from server.metrology.tables import rows as table_rows
from server.metrology.threads import pipe_g
from tests.reference_rows import rows


def target(text: str, kind: Kind | None = None) -> ThreadTarget:
    found = pipe_g.read(text, kind)
    assert found is not None
    return found


def shown(value_mm: float | None) -> str:
    return "" if value_mm is None else f"{value_mm:.3f}"


def test_every_published_cell_agrees() -> None:
    checked = 0
    for row in rows("g_pipe"):
        assert row["obtained"] == "published"
        found = target(f"{row['designation']} {row['class']}".strip())
        expected_kind = Kind.INTERNAL_THREAD if row["side"] == "int" else Kind.EXTERNAL_THREAD
        assert found.kind is expected_kind
        assert shown(found.pitch_mm) == row["P_mm"]
        for name, limits in (
            ("major", found.major_diameter),
            ("pd", found.pitch_diameter),
            ("minor", found.minor_diameter),
        ):
            assert shown(limits.high_mm) == row[f"{name}_max"], row
            assert shown(limits.low_mm) == row[f"{name}_min"], row
            checked += sum(limit is not None for limit in (limits.high_mm, limits.low_mm))
    assert checked == 360


def test_the_table_keeps_the_profile() -> None:
    """d2 = d - 0.640327 P and d1 = d - 1.280654 P, ISO 228-1 clause 3, within the last digit."""
    for row in table_rows("iso228_1"):
        pitch = 25.4 / int(row["threads_per_inch"])
        assert float(row["pitch_mm"]) == pytest.approx(
            float(row["major_mm"]) - 0.640327 * pitch, abs=0.00101
        )
        assert float(row["minor_mm"]) == pytest.approx(
            float(row["major_mm"]) - 1.280654 * pitch, abs=0.00101
        )


@pytest.mark.parametrize(
    ("text", "kind", "name"),
    [
        ("G1/2 A", None, "G1/2 A"),
        ("G1/2A", None, "G1/2 A"),
        ("g 1/2 b", None, "G1/2 B"),
        ("G1/2", None, "G1/2"),
        ("G 1 1/4 A LH", None, "G1 1/4 A LH"),
        ("G1/2", Kind.EXTERNAL_THREAD, "G1/2 A"),
        ("G1/2 B", Kind.EXTERNAL_THREAD, "G1/2 B"),
        ("G1/2", Kind.INTERNAL_THREAD, "G1/2"),
        ("BSPP 1/2", None, "G1/2"),
        ("1/2 BSPP A", None, "G1/2 A"),
        ('3/4" BSP', Kind.EXTERNAL_THREAD, "G3/4 A"),
        ("1-1/2 B.S.P. B", None, "G1 1/2 B"),
    ],
)
def test_what_a_drawing_says_is_read(text: str, kind: Kind | None, name: str) -> None:
    found = target(text, kind)
    assert found.designation == name
    assert found.half_angle_rad == pytest.approx(math.radians(27.5))
    assert (found.lead_mm, found.starts) == (found.pitch_mm, 1)
    assert target(name).pitch_diameter == found.pitch_diameter


@pytest.mark.parametrize(
    "text", ["1/2 BSW", "5/8-18 UNF-2A", "40 G7", "GROOVE", "25 h6", "", "M10"]
)
def test_other_families_are_left_alone(text: str) -> None:
    assert pipe_g.read(text) is None


@pytest.mark.parametrize(
    ("text", "kind", "code", "part"),
    [
        ("G1/2 C", None, "not_in_standard", "C"),
        ("G1/2 A", Kind.INTERNAL_THREAD, "designation_unreadable", "A"),
        ("G1/2 A", Kind.LENGTH, "designation_unreadable", "G1/2 A"),
        ("1/2 BSPT", None, "not_in_standard", "BSPT"),
        ("G1/2 2 START", None, "designation_unreadable", "2 starts"),
        ("G9/16 A", None, "not_in_standard", "9/16"),
        ("G7", None, "not_in_standard", "7"),
    ],
)
def test_an_error_names_the_part_and_offers_what_can_be_read(
    text: str, kind: Kind | None, code: str, part: str
) -> None:
    with pytest.raises(DesignationError) as caught:
        pipe_g.read(text, kind)
    assert (caught.value.code, caught.value.part) == (code, part)
    assert caught.value.accepted
    if code == "not_in_standard":
        assert caught.value.nearest
    for offer in caught.value.nearest:
        assert pipe_g.read(offer) is not None


def test_limits_stand_in_order_over_the_table() -> None:
    for row in table_rows("iso228_1"):
        a, b, nut = (target(f"G{row['size']}{tail}") for tail in (" A", " B", ""))
        for found in (a, b, nut):
            low, high = found.pitch_diameter.both()
            assert low < high
        assert a.pitch_diameter.both()[1] == a.basic_pitch_diameter_mm
        assert nut.pitch_diameter.both()[0] == a.basic_pitch_diameter_mm
        assert b.pitch_diameter.tolerance_mm == pytest.approx(2 * a.pitch_diameter.tolerance_mm)
        assert a.major_diameter.both()[1] == a.nominal_mm
        assert a.minor_diameter.low_mm is None
        assert nut.major_diameter.high_mm is None
