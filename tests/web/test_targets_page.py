"""The target card's page: live and whole, with JavaScript and without, and what it makes."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from server.records.database import Database
from server.records.tables import FeatureRow
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


# what it makes


def make(client: TestClient, shop: Workshop, **fields: Any) -> Any:
    body = {
        "form": "make",
        "designation": SHAFT_THREAD,
        "unit": "in",
        "label": "Gland thread",
        "method": "over_wires",
        "slide": "compound",
        "lathe_id": "1",
        "instrument_id": "1",
        "wire": "0.032",
        "new_part": "Pump shaft",
        "make": "feature",
    }
    if not client.get("/targets").text.count("The long bed"):
        shop.lathe()
        shop.instrument()
    return client.post("/targets", data=body | fields, follow_redirects=False)


def features_of(client: TestClient, part: str) -> list[dict[str, Any]]:
    """Label, kind and limits of every feature of a part, as its page shows them."""
    piece = client.post(f"/api{part}/pieces", json={}).json()["id"]
    found: list[dict[str, Any]] = client.get(f"/api/pieces/{piece}/history").json()["features"]
    return found


def test_a_feature_is_put_on_a_new_part(client: TestClient, shop: Workshop) -> None:
    answer = make(client, shop)

    assert answer.status_code == 303
    part = answer.headers["location"]
    assert re.fullmatch(r"/parts/\d+", part)
    read = words(client.get(part).text)
    assert "Pump shaft" in read
    assert "carbon steel" in read
    assert "Gland thread" in read
    assert "0.5828" in read


def test_a_feature_is_put_on_a_part_that_exists(client: TestClient, shop: Workshop) -> None:
    part = shop.part(name="Old shaft")

    answer = make(client, shop, part_id=str(part), new_part="")

    assert answer.headers["location"] == f"/parts/{part}"
    assert [each["label"] for each in features_of(client, f"/parts/{part}")] == ["Gland thread"]


def test_the_whole_set_of_an_external_thread(client: TestClient, shop: Workshop) -> None:
    answer = make(client, shop, make="set", label="Thread")

    assert answer.status_code == 303
    part = answer.headers["location"]
    labels = [each["label"] for each in features_of(client, part)]
    assert labels[0] == "Major diameter"
    assert labels[1].startswith("Relief groove")
    assert labels[2].startswith("End chamfer")
    assert labels[3] == "Thread"
    read = words(client.get(part).text)
    assert "0.6149" in read  # ASME B1.1: major diameter 0.6149 to 0.6236
    assert "0.6236" in read
    groove = re.search(r"Relief groove, [\d.]+ in wide.*?(0\.5\d{3})/(0\.5\d{3})", read)
    assert groove is not None
    assert float(groove.group(2)) < 0.5575  # below the highest minor diameter that is printed


def test_every_external_and_internal_thread_makes_its_set(
    client: TestClient, shop: Workshop
) -> None:
    for sample in DESIGNATIONS:
        if not sample.kind.is_thread:
            continue
        for unit in ("in", "mm"):
            look_best = client.post(
                "/api/targets", json={"designation": sample.designation, "unit": unit}
            ).json()["wires"]
            wire = (look_best["smallest"] + look_best["largest"]) / 2
            answer = make(
                client,
                shop,
                designation=sample.designation,
                unit=unit,
                make="set",
                method="over_balls" if sample.kind.is_internal else "over_wires",
                wire=f"{wire:.5f}",
                new_part=f"{sample.designation} {unit}"[:60],
                slide="cross_slide",
            )
            assert answer.status_code == 303, (sample.designation, unit, words(answer.text))
            made = features_of(client, answer.headers["location"])
            assert len(made) == 4
            assert made[0]["label"] == (
                "Bore before threading" if sample.kind.is_internal else "Major diameter"
            )


def test_a_set_takes_the_instruments_that_reach_there(client: TestClient, shop: Workshop) -> None:
    shop.lathe()
    shop.instrument()  # a micrometer, number 1
    calliper = {
        "name": "Long calliper",
        "kind": "calliper",
        "unit": "in",
        "resolution": "0.001",
        "max_error": "0.001",
    }
    shop.post("/api/instruments", calliper, 201)

    part = make(client, shop, make="set").headers["location"]
    rows = words(client.get(part).text)

    assert rows.count("Long calliper") >= 2  # relief groove and chamfer


@pytest.mark.parametrize(
    ("fields", "field", "status"),
    [
        ({"new_part": ""}, "part_id", 422),
        ({"part_id": "999"}, "part_id", 404),
        ({"part_id": "x"}, "part_id", 422),
        ({"new_part": "Shaft", "material": "unobtainium"}, "material", 422),
        ({"label": ""}, "label", 422),
        ({"wire": "0.020"}, "wire", 422),
        ({"wire": "abc"}, "wire", 422),
        ({"wire": ""}, "wire", 422),
        ({"method": "direct"}, "method", 422),
        ({"slide": "carriage"}, "slide", 422),
        ({"designation": "5/8-18 UNF-4A"}, "designation", 422),
        ({"designation": "25 h6", "make": "set", "method": "direct", "wire": ""}, "make", 422),
        ({"lathe_id": ""}, "lathe_id", 422),
        ({"make": "both"}, "make", 422),
        ({"unit": "cm"}, "unit", 422),
    ],
)
def test_what_cannot_be_made_keeps_what_was_typed_and_stores_nothing(
    client: TestClient, shop: Workshop, fields: dict[str, str], field: str, status: int
) -> None:
    answer = make(client, shop, **fields)

    assert answer.status_code == status, words(answer.text)
    assert f'href="#make-{field}"' in answer.text
    if "designation" not in fields:  # else there is no card to put on a part
        for kept in ("label", "new_part"):
            typed = fields.get(kept, {"label": "Gland thread", "new_part": "Pump shaft"}[kept])
            assert re.search(rf'name="{kept}"[^>]* value="{typed}"', answer.text)
    assert "Pump shaft" not in words(client.get("/").text)


def test_without_a_wire_the_best_size_is_named_and_with_a_set_in_the_crib_it_is_taken(
    client: TestClient, shop: Workshop
) -> None:
    refused = make(client, shop, wire="")
    assert "0.0321" in words(refused.text)
    shop.post("/api/wire-sets", {"name": "W", "unit": "in", "nominal": "0.032"}, 201)

    assert make(client, shop, wire="").status_code == 303


def test_the_part_page_measures_each_kind_as_usual_where_nothing_is_said(
    shop: Workshop, database: Database
) -> None:
    """Over three wires, over two balls, direct: common practice."""
    part_id = shop.job("24.90/25.10", "mm").part_id
    lathe, instrument = shop.lathe(), shop.instrument()
    usual = {"M10-6g": "over_wires", "M20x1.5-6H": "over_balls", "30 h6": "direct"}
    wires = {"M10-6g": "0.866", "M20x1.5-6H": "0.866"}
    for designation in usual:
        sent = {
            "form": "feature",
            "designation": designation,
            "label": designation,
            "wire": wires.get(designation, ""),
            "method": "",
            "slide": "cross_slide",
            "lathe_id": str(lathe),
            "instrument_id": str(instrument),
        }
        answer = shop.client.post(f"/parts/{part_id}/features", data=sent, follow_redirects=False)
        assert answer.status_code == 303, answer.text
    with database.reading() as session:
        found = {row.label: row.method for row in session.exec(select(FeatureRow))}
    assert {label: found[label] for label in usual} == usual


def test_the_api_still_asks_for_the_method(shop: Workshop) -> None:
    part_id = shop.job("24.90/25.10", "mm").part_id
    body = {
        "label": "Seat",
        "designation": "30 h6",
        "method": "",
        "slide": "cross_slide",
        "lathe_id": shop.lathe(),
        "instrument_id": shop.instrument(),
    }
    answer = shop.post(f"/api/parts/{part_id}/features", body, 422)
    assert answer["error"]["field"] == "method"
