"""Plain sizes against printed ISO 286 tables, a library from the package index, and bad input."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pressfit import tables as pressfit

from server.metrology import fits, fits_iso286
from server.metrology.model import DesignationError, Kind, PlainTarget
from tests.reference_rows import published, rows

# Two cells of the textbook's hole table are misprints: the formula of the standard
# (U: IT7 + D, X: IT7 + 1.6 D) and the library below both give 258 and 660.
MISPRINTS = {("U", "200", "225"): -258, ("X", "355", "400"): -660}


def limits_um(text: str) -> tuple[float, float]:
    target = fits.read(text)
    assert target is not None
    low, high = target.size.both()
    return round((low - target.nominal_mm) * 1000, 6), round((high - target.nominal_mm) * 1000, 6)


def deviations(size: str, letter: str, grade: int) -> tuple[float, float]:
    found = fits_iso286.deviations(Decimal(size), letter, grade)
    return float(found.lower_um), float(found.upper_um)


def of_kind(kind: str) -> list[dict[str, str]]:
    return [row for row in published("iso286") if row["kind"] == kind]


def test_every_published_limit_agrees_to_the_last_digit() -> None:
    checked = 0
    for row in of_kind("limit"):
        assert limits_um(row["key"]) == (float(row["value2_um"]), float(row["value_um"])), row
        checked += 2
    assert checked == 170


def test_every_supporting_limit_and_fit_agrees() -> None:
    for row in rows("iso286"):
        if row["kind"] == "limit":
            assert limits_um(row["key"]) == (float(row["value2_um"]), float(row["value_um"])), row
        if row["kind"] == "fit":
            both = fits.pair(row["key"])
            assert both is not None
            assert both.largest_clearance_mm * 1000 == pytest.approx(float(row["value_um"]))
            assert both.smallest_clearance_mm * 1000 == pytest.approx(float(row["value2_um"]))


def test_every_published_tolerance_grade_agrees() -> None:
    table = of_kind("IT")
    for row in table:
        low, high = deviations(row["incl"], "h", int(row["key"][2:]))
        assert high - low == float(row["value_um"]), row
    assert len(table) >= 310


def test_every_published_fundamental_deviation_agrees_but_two_misprints() -> None:
    table, differing = of_kind("fund_dev"), []
    for row in table:
        grade = 6 if row["key"].islower() else 9
        low, high = deviations(row["incl"], row["key"], grade)
        ours = low if row["what"] in ("EI", "ei") else high
        if ours != float(row["value_um"]):
            differing.append((row["key"], row["over_or_size"], row["incl"]))
            assert ours == MISPRINTS[differing[-1]]
    assert sorted(differing) == sorted(MISPRINTS)
    assert len(table) >= 400


def test_every_published_j_agrees() -> None:
    table = of_kind("fund_dev_grade")
    for row in table:
        low, high = deviations(row["incl"], row["key"][0], int(row["key"][1:]))
        assert (low if row["what"] == "ei" else high) == float(row["value_um"]), row
    assert len(table) == 60


def test_delta_lifts_a_hole_by_the_published_amount() -> None:
    table = of_kind("delta")
    for row in table:
        grade = int(row["key"][2:])
        _, top = deviations(row["incl"], "N", grade)
        base, _ = deviations(row["incl"], "n", grade)
        assert top + base == float(row["value_um"]), row
    assert len(table) == 24


def test_a_library_agrees_on_every_shaft_it_carries() -> None:
    compared = 0
    for letter in pressfit.SHAFT_LETTERS:
        for grade in pressfit.GRADES:
            for size in (2, 5, 8, 12, 16, 20, 27, 35, 45, 60, 75, 90, 110, 130, 150, 170, 190, 210):
                compared += _agree(letter, int(grade), size)
            for size in (240, 270, 300, 330, 380, 420, 480, 500):
                compared += _agree(letter, int(grade), size)
    assert compared > 2000


def _agree(letter: str, grade: int, size: int) -> int:
    low, high = deviations(str(size), letter, grade)
    width = pressfit.it_value(size, grade)
    assert high - low == width
    if letter != "js":
        base = pressfit.shaft_deviation(size, letter, grade)
        assert base == (high if letter in "abcdefgh" else low), (letter, grade, size)
    return 1


@settings(max_examples=150)
@given(
    size=st.decimals(min_value="1.1", max_value=500, places=2),
    letter=st.sampled_from(fits_iso286.SHAFT_LETTERS + fits_iso286.HOLE_LETTERS),
    grade=st.integers(1, 18),
)
def test_high_is_over_low_and_what_is_offered_can_be_read(
    size: Decimal, letter: str, grade: int
) -> None:
    wrong = None
    try:
        found = fits_iso286.deviations(size, letter, grade)
    except DesignationError as error:
        wrong = error
    if wrong is not None:
        assert wrong.code == "not_in_standard"
        assert wrong.nearest
        assert all(fits.read(offer) is not None for offer in wrong.nearest)
        return
    assert found.lower_um < found.upper_um
    if letter.lower() in fits_iso286.CLEARANCE_LETTERS:
        assert (found.upper_um <= 0) if letter.islower() else (found.lower_um >= 0)


@pytest.mark.parametrize("letter", ["K", "M", "N", "P", "S", "U", "ZC"])
def test_a_finer_hole_is_never_lifted_by_more_than_the_next_grade(letter: str) -> None:
    tops = [deviations("100", letter, grade)[1] for grade in range(3, 8)]
    assert tops == sorted(tops)


@pytest.mark.parametrize(
    ("text", "name", "low", "high"),
    [
        ("25 h6", "25 h6", 24.987, 25.0),
        ("25h6", "25 h6", 24.987, 25.0),
        ("Ø40 H7", "40 H7", 40.0, 40.025),
        ("⌀ 40H7", "40 H7", 40.0, 40.025),
        ("25 Js7", "25 JS7", 24.9895, 25.0105),
        (".750 in h6", "0.750 in h6", 19.037, 19.05),
        ('3/4" h6', "3/4 in h6", 19.037, 19.05),
        ("12.70 +0.00/-0.02", "12.70 +0.00/-0.02 mm", 12.68, 12.70),
        ("12.70 +0/-0.02", "12.70 +0.00/-0.02 mm", 12.68, 12.70),
        ("12.70 0/-0.02", "12.70 +0.00/-0.02 mm", 12.68, 12.70),
        ("12,70 +0,00/−0,02", "12.70 +0.00/-0.02 mm", 12.68, 12.70),
        ("12.7 ±0.01", "12.7 ±0.01 mm", 12.69, 12.71),
        ("12.7 +/- .01", "12.7 ±0.01 mm", 12.69, 12.71),
        ("12.7 +0.02 -0.01", "12.7 +0.02/-0.01 mm", 12.69, 12.72),
        ("12.7+0.02-0.01", "12.7 +0.02/-0.01 mm", 12.69, 12.72),
        ("12.70 -0.02/-0.04", "12.70 -0.02/-0.04 mm", 12.66, 12.68),
        ("12.70 -0.02", "12.70 +0.00/-0.02 mm", 12.68, 12.70),
        ("24.98/25.00", "24.98/25.00 mm", 24.98, 25.0),
        ("25.00/24.98", "24.98/25.00 mm", 24.98, 25.0),
        ("24.98-25.00", "24.98/25.00 mm", 24.98, 25.0),
        ("24.98 to 25", "24.98/25 mm", 24.98, 25.0),
        ('.500" ±.001"', "0.500 ±0.001 in", 12.6746, 12.7254),
    ],
)
def test_what_a_drawing_says_is_read(text: str, name: str, low: float, high: float) -> None:
    target = fits.read(text)
    assert target is not None
    assert target.designation == name
    assert target.size.both() == pytest.approx((low, high), abs=1e-12)
    again = fits.read(target.designation)
    assert again is not None
    assert (again.designation, again.size) == (target.designation, target.size)


@pytest.mark.parametrize(
    "text",
    [
        *(
            "",
            "abc",
            "9" * 5000,
            "M10",
            "M10x1.5-6g",
            "5/8-18 UNF-2A",
            "1-8 UNC-2A-LH",
            "#10-32 UNF-2B",
        ),
        *("1-8", "10-32", "5/8", "5/8-18", "1/2 BSW medium", "2 BA", "G1/2 A", "Tr40x7-7e"),
        *("3/4-6 ACME-2G", "1 1/2-4 STUB ACME-2G", "2.500-0.25p-0.5L-ACME-2G", ".625-18 UNF-2A"),
    ],
)
def test_other_families_are_left_alone(text: str) -> None:
    assert fits.read(text) is None


@pytest.mark.parametrize(
    ("text", "kind", "code", "part"),
    [
        ("25", None, "designation_unreadable", "25"),
        ("25 h", None, "designation_unreadable", "h"),
        ("25 jS7", None, "designation_unreadable", "jS"),
        ("25 q6", None, "not_in_standard", "q"),
        ("25 h19", None, "not_in_standard", "25 h19"),
        ("600 h6", None, "not_in_standard", "600 h6"),
        ("20 t6", None, "not_in_standard", "20 t6"),
        ("0.8 a11", None, "not_in_standard", "0.8 a11"),
        ("0.002 h11", None, "designation_unreadable", "0.002"),
        ("1/2 h6", None, "designation_unreadable", "1/2"),
        ("1/0 in h6", None, "designation_unreadable", "1/0"),
        ("0 h6", None, "designation_unreadable", "0"),
        ("25 h6", Kind.BORE, "designation_unreadable", "h6"),
        ("25 H7", Kind.OUTSIDE_DIAMETER, "designation_unreadable", "H7"),
        ("25 H7", Kind.GROOVE_DIAMETER, "designation_unreadable", "H7"),
        ("25 h6", Kind.EXTERNAL_THREAD, "designation_unreadable", "h6"),
        ("12.7 ±0.1", Kind.INTERNAL_THREAD, "designation_unreadable", "12.7 ±0.1"),
        ("12.7 ±0", None, "designation_unreadable", "12.7 ±0"),
        ("12.7 ±20", None, "designation_unreadable", "12.7 ±20"),
        ("12.70-0.02", None, "designation_unreadable", "12.70-0.02"),
        ("24.98/24.98", None, "designation_unreadable", "24.98/24.98"),
        ("9999 ±0.1", None, "designation_unreadable", "9999 ±0.1"),
        ("12,700 ±0.01", None, "designation_unreadable", "12,700"),
        ("25 in h6 mm", None, "designation_unreadable", "25 in h6 mm"),
        ("25 +0.1 0.05", None, "designation_unreadable", "25 +0.1 0.05"),
        ("9" * 30 + " ±1", None, "designation_unreadable", "9" * 30),
    ],
)
def test_an_error_names_the_part_and_what_is_accepted(
    text: str, kind: Kind | None, code: str, part: str
) -> None:
    with pytest.raises(DesignationError) as caught:
        fits.read(text, kind)
    assert (caught.value.code, caught.value.part) == (code, part)
    assert caught.value.accepted
    assert len(caught.value.message) < 200


def test_the_kind_follows_the_case_and_may_be_told() -> None:
    def kind_of(text: str, kind: Kind | None = None) -> Kind:
        target = fits.read(text, kind)
        assert target is not None
        return target.kind

    assert kind_of("25 h6") is Kind.OUTSIDE_DIAMETER
    assert kind_of("25 H7") is Kind.BORE
    assert kind_of("25 h11", Kind.LENGTH) is Kind.LENGTH
    assert kind_of("25 h11", Kind.GROOVE_DIAMETER) is Kind.GROOVE_DIAMETER
    for kind in (Kind.OUTSIDE_DIAMETER, Kind.BORE, Kind.GROOVE_DIAMETER, Kind.LENGTH):
        assert kind_of("24.98/25.00", kind) is kind
    assert kind_of("24.98/25.00") is Kind.OUTSIDE_DIAMETER


def test_a_stated_size_takes_the_unit_of_the_part_unless_it_writes_its_own() -> None:
    inch = fits.read("0.500 +0.000/-0.002", unit="in")
    assert inch is not None
    assert (inch.unit, inch.decimals) == ("in", 3)
    assert inch.size.both() == pytest.approx((0.498 * 25.4, 12.7))
    metric = fits.read("12.7 ±0.01 mm", unit="in")
    assert metric is not None
    assert metric.unit == "mm"
    letters = fits.read("25 h6", unit="in")
    assert letters is not None
    assert letters.unit == "mm"
    assert any("mm" in note for note in letters.notes)


@pytest.mark.parametrize(
    ("text", "character", "smallest", "largest"),
    [  # ISO 286-1 arithmetic on the published members
        ("40 H7/g6", "clearance", 0.009, 0.050),
        ("25 H7/k6", "transition", -0.015, 0.019),
        ("25 H7/s6", "interference", -0.048, -0.014),
        ("40 H7/h6", "clearance", 0.0, 0.041),
    ],
)
def test_a_pair_says_what_fit_it_is(
    text: str, character: str, smallest: float, largest: float
) -> None:
    both = fits.pair(text)
    assert both is not None
    assert both.character == character
    assert (both.smallest_clearance_mm, both.largest_clearance_mm) == (smallest, largest)
    bore = fits.read(text)
    shaft = fits.read(text, Kind.OUTSIDE_DIAMETER)
    assert isinstance(bore, PlainTarget)
    assert isinstance(shaft, PlainTarget)
    assert (bore.size, shaft.size) == (both.hole.size, both.shaft.size)
    assert bore.kind is Kind.BORE
    assert all(any(character in note for note in each.notes) for each in (bore, shaft))


def test_a_single_size_is_no_pair() -> None:
    assert fits.pair("40 H7") is None
    assert fits.pair("24.98/25.00") is None


def test_recalled_grades_say_so() -> None:
    target = fits.read("25 h17")
    assert target is not None
    assert any("recalled" in note for note in target.notes)


@settings(max_examples=100)
@given(
    nominal=st.decimals(min_value=1, max_value=120, places=3),
    lower=st.decimals(min_value="-0.2", max_value="0.2", places=4),
    upper=st.decimals(min_value="-0.2", max_value="0.2", places=4),
    unit=st.sampled_from(["in", "mm"]),
)
def test_stated_limits_are_exact_in_either_unit(
    nominal: Decimal, lower: Decimal, upper: Decimal, unit: str
) -> None:
    if lower >= upper:
        return
    target = fits.read(f"{nominal} {upper:+f}/{lower:+f}", unit=unit)
    assert target is not None
    scale = Decimal("25.4") if unit == "in" else Decimal(1)
    assert target.size.both() == (
        float((nominal + lower) * scale),
        float((nominal + upper) * scale),
    )
    again = fits.read(target.designation)
    assert again is not None
    assert again.size == target.size


def test_no_text_of_digits_and_signs_breaks_the_reader() -> None:
    for text in re.findall(r".{1,9}", "12.7+-±/ 0.,hHjs7/" * 40):
        try:
            target = fits.read(text)
        except DesignationError:
            continue
        assert target is None or target.size.tolerance_mm > 0
