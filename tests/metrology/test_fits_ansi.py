"""Inch fits against the printed tables of ANSI B4.1, and what a drawing may say."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology import fits
from server.metrology.model import DesignationError, Kind, PlainTarget
from server.metrology.tables import rows as table_rows
from tests.reference_rows import rows

CLASSES = {
    *(f"RC{n}" for n in range(1, 10)),
    *(f"LC{n}" for n in range(1, 12)),
    *(f"LT{n}" for n in range(1, 7)),
    *(f"LN{n}" for n in range(1, 4)),
    *(f"FN{n}" for n in range(1, 6)),
}
TABLE = table_rows("ansi_b4_1")


def both(text: str) -> fits.FitPair:
    found = fits.pair(text)
    assert found is not None
    return found


def mils(value_mm: float, nominal_in: Decimal) -> float:
    return round((value_mm / 25.4 - float(nominal_in)) * 1000, 6)


def test_every_published_cell_agrees() -> None:
    checked: Counter[str] = Counter()
    for row in rows("ansi_b4_1"):
        size = Decimal(row["up_to_in"])
        found = both(f"{size} {row['fit_class']}")
        ours = {
            "hole_high": mils(found.hole.size.both()[1], size),
            "shaft_high": mils(found.shaft.size.both()[1], size),
            "shaft_low": mils(found.shaft.size.both()[0], size),
            "fit_low": round(found.smallest_clearance_mm / 25.4 * 1000, 4),
            "fit_high": round(found.largest_clearance_mm / 25.4 * 1000, 4),
        }
        assert ours[row["field"]] == float(row["value_mil"]), row
        checked[row["fit_class"][:2]] += 1
    assert checked.total() == 1317
    assert set(checked) == {"RC", "LC", "LT", "LN", "FN"}


def test_every_class_is_carried_over_its_whole_range_without_a_gap() -> None:
    assert {row["fit_class"] for row in TABLE} == CLASSES
    for name in CLASSES:
        steps = [row for row in TABLE if row["fit_class"] == name]
        assert steps[-1]["up_to_in"] == "19.69"
        for below, above in zip(steps, steps[1:], strict=False):
            assert below["up_to_in"] == above["over_in"]


def test_widths_of_holes_do_not_shrink_with_size_or_class() -> None:
    for name in CLASSES:
        widths = [Decimal(row["hole_high_mil"]) for row in TABLE if row["fit_class"] == name]
        assert widths == sorted(widths)


@pytest.mark.parametrize(
    ("prefix", "character"), [("RC", "clearance"), ("LC", "clearance"), ("FN", "interference")]
)
def test_running_clearance_and_force_fits_are_what_they_are_called(
    prefix: str, character: str
) -> None:
    for row in TABLE:
        if row["fit_class"].startswith(prefix):
            assert both(f"{row['up_to_in']} {row['fit_class']}").character == character


@pytest.mark.parametrize(
    ("text", "kind", "name", "low_in", "high_in"),
    [
        ("1.000 RC4 shaft", None, "1.000 in RC4 shaft", 0.9984, 0.9992),
        ("1.000 RC4 hole", None, "1.000 in RC4 hole", 1.0, 1.0012),
        ("1.000 RC4", None, "1.000 in RC4 hole", 1.0, 1.0012),
        ("1.000 RC4", Kind.OUTSIDE_DIAMETER, "1.000 in RC4 shaft", 0.9984, 0.9992),
        ('1" rc 4 bore', None, "1 in RC4 hole", 1.0, 1.0012),
        ("1 1/2 FN2 shaft", None, "1 1/2 in FN2 shaft", 1.5018, 1.5024),
        ("1-1/2 LN-2 shaft", Kind.OUTSIDE_DIAMETER, "1-1/2 in LN2 shaft", 1.5010, 1.5016),
        (".75 RC1 shaft", None, "0.75 in RC1 shaft", 0.74945, 0.7497),
    ],
)
def test_what_a_drawing_says_is_read(
    text: str, kind: Kind | None, name: str, low_in: float, high_in: float
) -> None:
    found = fits.read(text, kind)
    assert isinstance(found, PlainTarget)
    assert (found.designation, found.family, found.unit) == (name, "ansi_b4_1", "in")
    assert found.size.both() == pytest.approx((low_in * 25.4, high_in * 25.4), abs=1e-9)
    assert any("fit, from" in note for note in found.notes)
    again = fits.read(found.designation)
    assert again is not None
    assert (again.designation, again.size, again.kind) == (name, found.size, found.kind)


def test_decimals_are_those_of_the_table() -> None:
    fine, plain = fits.read(".75 RC1 shaft"), fits.read(".75 RC4 shaft")
    assert fine is not None
    assert plain is not None
    assert (fine.decimals, plain.decimals) == (5, 4)


@pytest.mark.parametrize(
    ("text", "kind", "code", "part"),
    [
        ("3/4 RC10", None, "not_in_standard", "RC10"),
        ("25 RC1", None, "not_in_standard", "25"),
        ("0.5 FN3", None, "not_in_standard", "0.5"),
        ("1.0 mm RC2", None, "designation_unreadable", "mm"),
        ("0 RC2", None, "designation_unreadable", "0"),
        ("1/0 RC2", None, "designation_unreadable", "1/0"),
        ("1 RC4 shaft", Kind.BORE, "designation_unreadable", "RC4 shaft"),
        ("1 RC4 hole", Kind.OUTSIDE_DIAMETER, "designation_unreadable", "RC4 hole"),
        ("1 RC4", Kind.EXTERNAL_THREAD, "designation_unreadable", "RC4 shaft"),
    ],
)
def test_an_error_names_the_part_and_offers_what_can_be_read(
    text: str, kind: Kind | None, code: str, part: str
) -> None:
    with pytest.raises(DesignationError) as caught:
        fits.read(text, kind)
    assert (caught.value.code, caught.value.part) == (code, part)
    assert caught.value.accepted
    if code == "not_in_standard":
        assert caught.value.nearest
    for offer in caught.value.nearest:
        assert fits.read(offer) is not None


def test_recalled_rows_say_so_and_printed_ones_do_not() -> None:
    recalled, printed = fits.read("12 LC5 shaft"), fits.read("12 RC4 shaft")
    assert recalled is not None
    assert printed is not None
    assert "table recalled, unchecked" in recalled.notes
    assert "table recalled, unchecked" not in printed.notes


@settings(max_examples=120)
@given(
    size=st.decimals(min_value="0.02", max_value="19.69", places=3),
    name=st.sampled_from(sorted(CLASSES - {"FN3", "LT3", "LT4"})),
)
def test_any_size_in_range_has_limits_in_order(size: Decimal, name: str) -> None:
    found = both(f"{size} {name}")
    for member in (found.hole, found.shaft):
        low, high = member.size.both()
        assert 0 < low < high
    assert found.hole.size.both()[0] == pytest.approx(float(size) * 25.4)
