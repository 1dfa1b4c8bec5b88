"""What the target card makes: a feature, a whole set, on a new part or one that exists."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from server.records.database import Database
from server.records.tables import FeatureRow
from tests.metrology.card_samples import DESIGNATIONS
from tests.web.test_targets_page import words
from tests.web.workshop import SHAFT_THREAD, Workshop


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


def test_a_thread_too_small_for_its_relief_makes_no_set(client: TestClient, shop: Workshop) -> None:
    answer = make(client, shop, make="set", designation="1/4-6 UNS-2A", method="gauges", wire="")

    assert answer.status_code == 422
    assert (
        "No set can be made for this thread: the relief diameter is 0.0088 in; it must be above "
        "0.0667 in."
    ) in words(answer.text)


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
