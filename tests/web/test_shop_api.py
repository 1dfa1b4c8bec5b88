"""The shop, its materials and zero checks through the JSON API, and stations with their unit."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.workshop import Json, Workshop, code_of

COLD: Json = {"temperature": {"value": 20, "unit": "C"}}
CLOSE = "25.0172"  # of 25 ±0.02: inside by 2.8 µm, the doubt is 3.1


def test_the_decision_rule_is_set_and_decides_from_then_on(shop: Workshop) -> None:
    assert shop.get("/api/shop")["decision_rule"] == "u_guard"
    job = shop.job("25 ±0.02", "mm")
    assert job.read(CLOSE, **COLD)["verdict"] == "too_close"

    set_to = shop.post("/api/shop", {"decision_rule": "1645"}, 200)
    assert set_to == shop.get("/api/shop")
    assert "1.645 u" in set_to["decision_rule_words"]
    assert job.read(CLOSE, "0", **COLD)["verdict"] == "in_limits"
    assert job.finish()["rule"]["name"] == "1645"


def test_what_is_not_given_stays(shop: Workshop) -> None:
    shop.post("/api/shop", {"unit": "in", "past_chance_bound": 0.01}, 200)
    after = shop.post("/api/shop", {"decision_rule": "plain"}, 200)
    assert (after["unit"], after["past_chance_bound"]) == ("in", 0.01)
    assert shop.post("/api/shop", {}, 200) == after


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"past_chance_bound": 0}, "past_chance_bound"),
        ({"past_chance_bound": 0.3}, "past_chance_bound"),
        ({"decision_rule": "generous"}, "decision_rule"),
        ({"unit": "cm"}, "unit"),
        ({"guard": "none"}, "guard"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_and_changes_nothing(
    shop: Workshop, body: dict[str, Any], field: str
) -> None:
    before = shop.get("/api/shop")
    refused = shop.post("/api/shop", body, 422)
    assert field in refused["error"]["field"]
    assert shop.get("/api/shop") == before


def test_the_shop_temperature_is_that_of_the_instrument(shop: Workshop) -> None:
    job = shop.job("25 ±0.1", "mm")
    noted = shop.post("/api/shop/temperature", {"value": 86, "unit": "F"}, 201)
    assert (noted["value"], noted["unit"]) == ("86", "F")
    assert shop.get("/api/shop")["temperature"] == {"value": 86.0, "unit": "F"}

    # 30 C all round: steel on steel, 11.7 against 11.5e-6 over 10 K on 25.2 mm is 0.05 um.
    answer = job.read("25.200", temperature={"value": 30, "unit": "C"})
    assert answer["size"]["value"] == pytest.approx(25.2 - 25.2 * 0.2e-6 * 10, abs=1e-5)
    assert code_of(shop.post("/api/shop/temperature", {"value": 70}, 422)) == "out_of_range"
    assert shop.get("/api/shop")["temperature"]["value"] == 86.0


def test_a_material_of_the_shop_corrects_its_parts(shop: Workshop) -> None:
    body = {"name": "Own bronze", "expansion_low": 18, "expansion_high": "18.4", "source": "mill"}
    assert shop.post("/api/materials", body, 201)["id"] == 1
    first = shop.client.get("/api/materials").json()[0]
    assert first["is_own"]
    assert (first["name"], first["expansion"]) == ("Own bronze", pytest.approx(18.2))

    job = shop.job("25 ±0.1", "mm", material="own bronze")
    answer = job.read("25.200", temperature={"value": 40, "unit": "C"})
    assert answer["size"]["value"] == pytest.approx(25.2 - 25.2 * 18.2e-6 * 20, abs=1e-5)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"name": "Own bronze"}, "taken"),
        ({"name": " "}, "empty"),
        ({"expansion_low": "0"}, "not_positive"),
        ({"expansion_high": 17}, "out_of_range"),
        ({"expansion_high": 4000}, "out_of_range"),
    ],
)
def test_a_material_that_cannot_be_is_refused(
    shop: Workshop, change: dict[str, Any], code: str
) -> None:
    shop.post("/api/materials", {"name": "Own bronze", "expansion_low": 18}, 201)
    body = {"name": "Other bronze", "expansion_low": 18} | change
    assert code_of(shop.post("/api/materials", body, 422)) == code


def test_a_zero_check_is_taken_off_what_comes_after_it(shop: Workshop) -> None:
    job = shop.job("25 ±0.1", "mm")
    before = job.read("25.500", **COLD)["size"]["value"]
    checks = "/api/instruments/1/zero-checks"
    logged = shop.post(checks, {"value": "0.003", "unit": "mm", "operator": "AB"}, 201)
    assert logged["zero"] == "+0.003"
    after = job.read("25.400", "0.1", **COLD)["size"]["value"]
    assert (before, after) == (pytest.approx(25.5), pytest.approx(25.397))
    assert job.entries()[0]["size"] == pytest.approx(25.5)

    shop.post(checks, {"value": 24.998, "unit": "mm", "standard": "25"}, 201)
    assert job.read("25.300", "0.1", **COLD)["size"]["value"] == pytest.approx(25.302)
    (told,) = shop.client.get("/api/instruments").json()
    assert told["zero"] == pytest.approx(-0.002)


@pytest.mark.parametrize(
    ("number", "body", "status", "code"),
    [
        (1, {"value": "2", "unit": "mm"}, 422, "implausible"),
        (1, {"value": "none", "unit": "mm"}, 422, "not_a_number"),
        (9, {"value": "0", "unit": "mm"}, 404, "not_found"),
    ],
)
def test_a_zero_check_that_cannot_be_is_refused(
    shop: Workshop, number: int, body: Json, status: int, code: str
) -> None:
    shop.instrument("mm", "0.001", "0.002")
    refused = shop.post(f"/api/instruments/{number}/zero-checks", body, status)
    assert code_of(refused) == code


def test_instruments_are_listed_with_what_is_known_of_them(shop: Workshop) -> None:
    body = {"name": "Old one", "kind": "micrometer", "unit": "in", "resolution": "0.0001"}
    shop.post("/api/instruments", body | {"due": "2020-01-31"}, 201)
    job = shop.job("25 ±0.1", "mm")
    for size in ("25.000", "25.001", "25.002"):
        job.read(size, **COLD)
    job.finish()

    old, used = shop.client.get("/api/instruments").json()
    assert (old["is_overdue"], old["zero"], old["max_error"], old["repeats"]) == (
        True,
        None,
        None,
        [],
    )
    assert not used["is_overdue"]
    (repeats,) = used["repeats"]
    assert repeats["method"] == "direct"
    assert repeats["standard_deviation"] == pytest.approx(0.001)
    assert repeats["degrees_of_freedom"] == 2


@pytest.mark.parametrize(
    ("stations", "over"),
    [
        (("10", "60"), "50.000 mm"),
        (("10 mm", "60mm"), "50.000 mm"),
        (("1 in", "2 in @90"), "25.400 mm"),
        (("10", "1 in"), "15.400 mm"),
    ],
)
def test_a_station_may_name_its_unit(shop: Workshop, stations: tuple[str, str], over: str) -> None:
    job = shop.job("25.00 +0.00/-0.10", "mm")
    job.read("25.300", station=stations[0], **COLD)
    answer = job.read("25.340", station=stations[1], **COLD)
    assert answer["stations"]["words"][0].startswith(
        f"0.040 mm larger at the tailstock end over {over}"
    )


def test_a_station_without_a_unit_is_in_that_of_its_reading(shop: Workshop) -> None:
    job = shop.job("1.000 +0.000/-0.010")
    job.read("1.0300", station="1", **COLD)
    answer = job.in_unit("mm").read("26.200", station="76.2", **COLD)
    assert "over 2.0000 in" in answer["stations"]["words"][0]


def test_the_description_of_the_interface_says_so(shop: Workshop) -> None:
    told = shop.get("/api/openapi.json")
    station = told["components"]["schemas"]["ReadingIn"]["properties"]["station"]
    assert "distance from the chuck in the `unit` of this reading" in station["description"]
    paths = told["paths"]
    for path in ("/api/shop", "/api/shop/temperature", "/api/materials"):
        assert "post" in paths[path]
    assert "post" in paths["/api/instruments/{instrument_id}/zero-checks"]
