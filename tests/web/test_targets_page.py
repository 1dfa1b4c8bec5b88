"""The target card's page: live and whole, with JavaScript and without."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient

from tests.metrology.card_samples import DESIGNATIONS
from tests.web.workshop import SHAFT_THREAD, Workshop

LIVE = {"HX-Request": "true"}


THREAD_LABELS = (
    "Major diameter",
    "Pitch diameter",
    "Minor diameter",
    "Lead",
    "Half angle",
    "Constant",
    "Total infeed, plunged",
    "On the compound",
    "Relief groove",
    "End chamfer",
    "set pass",
    "Make the whole set",
)


def words(html: str) -> str:
    """What a person reads: tags off, spaces single."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def look(client: TestClient, designation: str, unit: str = "in", **fields: str) -> str:
    """The card alone, as it is swapped in while typing."""
    query = {"designation": designation, "unit": unit} | fields
    answer = client.get("/targets", params=query, headers=LIVE)
    assert answer.status_code == 200, answer.text
    assert "<!doctype" not in answer.text
    return answer.text


def test_the_page_opens_empty_with_examples(client: TestClient) -> None:
    answer = client.get("/targets")

    assert answer.status_code == 200
    assert "What the drawing says" in words(answer.text)
    assert SHAFT_THREAD in answer.text
    assert 'class="card"' not in answer.text


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_every_designation_has_its_card(client: TestClient, unit: str) -> None:
    for sample in DESIGNATIONS:
        html = look(client, sample.designation, unit)
        read = words(html)

        assert sample.heading in read
        assert 'class="problem"' not in html, sample
        assert "Middle aim" in read
        for label in THREAD_LABELS:
            assert (label in read) is sample.kind.is_thread, (sample, label)
        if sample.kind.is_thread:
            assert ("Balls Best" if sample.kind.is_internal else "Wires Best") in read


def test_the_shaft_thread_shows_its_published_numbers(client: TestClient) -> None:
    read = words(look(client, SHAFT_THREAD, wire="0.032"))

    # ASME B1.1: 5/8-18 UNF-2A; ASME B1.2: constant and limits over 0.032 in wires.
    assert "Major diameter 0.6149 0.6236" in read
    assert "Pitch diameter 0.5828 0.5875" in read
    assert "Over 0.0320 wires 0.6307 0.6354" in read
    assert "Constant 0.0479" in read
    assert "Allowance 0.0014 in" in read
    assert "18 to the inch" in read
    assert "Handbook rule in force" in read
    assert "Exact contact gives 0.6307 to 0.6354" in read
    assert "Tool flat 0.0069 in assumed: flat P/8" in read
    assert "assumed: middle of its limits" in read
    assert "Swing the handle end of the compound toward the tailstock" in read


def test_a_decimal_comma_and_plain_signs_are_taken(client: TestClient) -> None:
    read = words(look(client, "Ø40 H7", "mm"))
    assert "Size 40.000 40.025" in read  # ISO 286-2: H7 over 30 to 50: +25/0 um
    assert "Over 0.0320 wires 0.6307" in words(look(client, SHAFT_THREAD, wire="0,032"))


def test_a_fit_pair_shows_both_members_and_the_clearance(client: TestClient) -> None:
    read = words(look(client, "40 H7/g6", "mm"))

    # ISO 286-2: H7 +25/0, g6 -9/-25 um.
    assert "Hole H7 40.000 40.025" in read
    assert "Shaft g6 39.975 39.991" in read
    assert "Tightest 0.009 mm clearance" in read
    assert "Loosest 0.050 mm clearance" in read


def test_what_the_standard_does_not_hold_is_marked_on_the_card(client: TestClient) -> None:
    assert "outside the standard's range" in words(look(client, "1/2-20 UNS-2A LE=1.0")).lower()
    assert "unchecked" in words(look(client, "3/4-6 STUB ACME-2G")).lower()
    assert "coarse pitch 1.5 taken" in words(look(client, "M10", "mm"))


def test_the_time_in_the_groove_never_stands_without_its_caution(client: TestClient) -> None:
    html = look(client, SHAFT_THREAD, rpm="60", tool_width="0.05", groove_width="0.15")
    read = words(html)

    assert "Time in the groove 1.80 s" in read  # (0.15 - 0.05) x 60 / (60 / 18)
    assert "breaks, and can throw the work" in read
    assert "Time in the groove" not in words(look(client, SHAFT_THREAD, rpm="60"))


def test_plating_shows_the_limits_before_it(client: TestClient) -> None:
    read = words(look(client, SHAFT_THREAD, plating="0.0002"))

    # 60 degrees: pitch diameter grows by 4 t (ASME B1.1).
    assert "Pitch diameter 0.5820 to 0.5867" in read
    assert "Major diameter 0.6145 to 0.6232" in read


@pytest.mark.parametrize(
    ("designation", "part", "nearest"),
    [
        ("5/8-18 UNF-4A", "4A", "5/8-18 UNF-3A"),
        ("25 i6", "i", ""),
        ("banana", "banana", ""),
        ("5/8-18 FOO", "FOO", ""),
        ("25.4", "25.4", "25.4 ±0.05"),
        ("9" * 5000, "999", ""),
        ("<script>alert(1)</script>", "script", ""),
    ],
)
def test_an_unreadable_designation_says_which_part_and_what_would_do(
    client: TestClient, designation: str, part: str, nearest: str
) -> None:
    live = look(client, designation)
    whole = client.get("/targets", params={"designation": designation, "unit": "in"})

    assert part in words(live)
    assert 'class="card"' not in live
    assert "<script>alert" not in live
    if nearest:
        assert f">{nearest}</a>" in live
    assert whole.status_code == 422
    assert part in words(whole.text)
    kept = re.search(r'id="designation"[^>]* value="([^"]*)"', whole.text)
    assert kept is not None
    assert unescape(kept.group(1)) == designation


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("wire", "abc"),
        ("wire", "0.020"),
        ("aim", "6.500"),
        ("plating", "-0.001"),
        ("flat", "0.05"),
        ("nose_radius", "1e400"),
        ("crest_diameter", "0.500"),
        ("compound_angle_deg", "95"),
        ("passes", "2.5"),
        ("rpm", "fast"),
        ("tool_width", "0"),
        ("groove_width", "NaN"),
    ],
)
def test_a_wrong_field_stands_beside_itself_and_the_card_still_shows(
    client: TestClient, field: str, text: str
) -> None:
    answer = client.get("/targets", params={"designation": SHAFT_THREAD, "unit": "in", field: text})
    html = answer.text

    assert answer.status_code == 200
    assert f'id="card-{field}-problem"' in html
    kept = re.search(rf'id="card-{field}" name="{field}"[^>]* value="([^"]*)"', html)
    assert kept is not None
    assert kept.group(1) == text
    assert "Pitch diameter 0.5828 0.5875" in words(html)
    assert 'class="problem"' in look(client, SHAFT_THREAD, **{field: text})


def test_an_unknown_unit_is_named_and_the_shop_unit_taken(client: TestClient) -> None:
    answer = client.get("/targets", params={"designation": SHAFT_THREAD, "unit": "cm"})

    assert answer.status_code == 200
    assert "cm" in words(answer.text)
    assert "Pitch diameter" in words(answer.text)


def test_the_crib_wires_are_sorted_and_the_nearest_is_used(
    client: TestClient, shop: Workshop
) -> None:
    for nominal in ("0.018", "0.045", "0.033"):
        body = {"name": f"Set {nominal}", "unit": "in", "nominal": nominal}
        shop.post("/api/wire-sets", body, 201)

    read = words(look(client, SHAFT_THREAD))

    assert "Over 0.0330 wires" in read
    assert "Set 0.033 0.0330 nearest to best" in read
    assert "Set 0.045 0.0450 fits" in read
    assert "Set 0.018 0.0180 too small" in read


def test_the_passes_are_on_the_dial_of_the_lathe_that_is_picked(
    client: TestClient, shop: Workshop
) -> None:
    lathe = shop.lathe(compound_graduation="0.002", angle_deg=29)

    read = words(look(client, SHAFT_THREAD, lathe_id=str(lathe)))

    assert "of The long bed at 29° from the cross-slide" in read
    assert "dial counts travel in 0.002 in" in read
