"""Materials: every coefficient as transcribed, and names as people write them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.metrology.material_words import MATERIAL_WORDS
from server.metrology.materials import (
    LEAST_SPREAD_PER_C,
    Material,
    MaterialError,
    all_materials,
    find,
)
from server.metrology.tables import rows as table_rows
from server.pages.language import LANGUAGES, teller
from server.pages.targets import DEFAULT_MATERIAL
from tests.reference_rows import rows

EXPANSION = rows("expansion")
FAMILIES = {material.family for material in all_materials()}


def test_every_transcribed_coefficient_is_in_the_table() -> None:
    """expansion.csv: source beside each row there and in the table."""
    assert len(all_materials()) == len(EXPANSION) == 40
    for material, row in zip(all_materials(), EXPANSION, strict=True):
        found = (material.expansion_per_c, material.low_per_c, material.high_per_c)
        printed = (row["alpha_1e-6_per_K"], row["low"], row["high"])
        assert found == pytest.approx([float(value) * 1e-6 for value in printed]), row["material"]
        assert material.source.startswith(row["source"].rstrip())


@pytest.mark.parametrize("material", all_materials(), ids=lambda material: material.name)
def test_each_material_is_found_by_its_own_names(material: Material) -> None:
    for text in (material.name, material.name.upper(), f"  {material.family} {material.grade} "):
        if material.grade or text.strip() != material.family:
            assert find(text) == material
    assert 0 < material.low_per_c <= material.expansion_per_c <= material.high_per_c
    assert 900 < material.density_kg_m3 < 15_000
    assert 200 <= material.heat_capacity_j_kg_k <= 2_000
    assert material.elastic_modulus_mpa is not None
    assert 500 <= material.elastic_modulus_mpa <= 600_000
    assert material.is_metal is (material.elastic_modulus_mpa > 20_000)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("carbon steel", "Carbon steel"),
        ("Carbon Steel", "Carbon steel"),
        ("STEEL", "Carbon steel"),
        ("mild steel", "Carbon steel"),
        ("1018", "Carbon steel 1018"),
        ("steel 1018", "Carbon steel 1018"),
        ("AISI 1045", "Carbon steel 1045"),
        ("aluminium 6061", "Aluminium 6061"),
        ("Aluminum 6061-T6", "Aluminium 6061"),
        ("6061", "Aluminium 6061"),
        ("aluminum", "Aluminium"),
        ("304 stainless", "Stainless 304"),
        ("stainless steel", "Stainless steel"),
        ("gray iron", "Grey iron"),
        ("cast iron", "Cast iron"),
        ("brass", "Brass"),
        ("POM-C", "Acetal copolymer"),
        ("titanium", "Titanium"),
        ("Stahl", "Carbon steel"),  # German trade names, common practice
        ("unlegierter Stahl C45", "Carbon steel 1045"),
        ("Edelstahl 1.4301", "Stainless 304"),
        ("Messing", "Brass"),
        ("Grauguss", "Grey iron"),
    ],
)
def test_family_and_grade_are_read_in_any_case(text: str, name: str) -> None:
    assert find(text).name == name


def test_the_words_are_those_of_the_table() -> None:
    assert set(MATERIAL_WORDS) == {material.name for material in all_materials()} | FAMILIES
    assert all(material.words == material.name for material in all_materials())
    assert [str(material.basis) for material in all_materials()] == [
        {"published": "published", "memory": "recalled, unchecked"}[row["kind"]]
        for row in table_rows("materials")
    ]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_material_is_found_by_what_a_screen_calls_it(language: str) -> None:
    tell = teller(language)
    for name, words in MATERIAL_WORDS.items():
        assert find(tell(words)).name == name
        assert find(tell(find(name).words)).name == name
    assert find(tell(DEFAULT_MATERIAL)).name == "Carbon steel"


def test_no_name_means_two_materials() -> None:
    for material in all_materials():
        for alias in (material.name, material.grade, *material.aliases, *material.german):
            if alias:
                assert find(alias) == material, alias


def test_a_family_alone_is_as_doubtful_as_the_family_is_wide() -> None:
    """300- against 400-series stainless: about 18 against 10 ppm (metrology institute's FAQ)."""
    family, grade = find("stainless steel"), find("stainless 304")
    assert family.low_per_c < 10.5e-6 < 17e-6 < family.high_per_c
    assert family.spread_per_c > 5 * grade.spread_per_c


def test_a_coefficient_is_never_taken_for_better_than_one_millionth() -> None:
    assert find("6061").spread_per_c == LEAST_SPREAD_PER_C
    off_centre = replace(find("6061"), expansion_per_c=20e-6, low_per_c=20e-6, high_per_c=26e-6)
    assert off_centre.spread_per_c == pytest.approx(6e-6)
    centred = replace(off_centre, expansion_per_c=23e-6)
    assert centred.spread_per_c == pytest.approx(3e-6)


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("carbn steel", "Carbon steel"),
        ("alumnium", "Aluminium"),
        ("6016", "Aluminium 6061"),
        ("Messig", "Brass"),
        ("Vergütungstahl 4140", "Alloy steel 4140"),
    ],
)
def test_an_unknown_name_is_answered_with_the_near_ones(text: str, near: str) -> None:
    with pytest.raises(MaterialError) as caught:
        find(text)
    assert near in caught.value.nearest
    assert text in str(caught.value)
    assert near in str(caught.value)


@pytest.mark.parametrize("text", ["butter", "cheese", "wood"])
def test_a_word_that_is_like_no_material_is_near_none(text: str) -> None:
    with pytest.raises(MaterialError) as caught:
        find(text)
    assert caught.value.nearest == ()


@pytest.mark.parametrize("text", ["", "   ", "!!", "x" * 5000])
def test_nothing_useful_typed_is_an_error_too(text: str) -> None:
    with pytest.raises(MaterialError):
        find(text)


def test_the_users_own_material_comes_first() -> None:
    own = replace(find("brass"), name="Brass", grade="CZ108", family="Brass", aliases=())
    assert find("brass", (own,)) == own
    assert find("CZ108", (own,)) == own
    assert find("brass cz108", (own,)) == own
    with pytest.raises(MaterialError):
        find("CZ108")
