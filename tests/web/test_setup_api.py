"""Lathes, instruments, wire sets, parts, features and pieces through the JSON API."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.web.workshop import SHAFT_THREAD, Workshop, code_of

LATHE: dict[str, Any] = {
    "name": "The long bed",
    "unit": "in",
    "cross_slide": {"counts": "diameter", "graduation": "0.001"},
    "compound": {
        "counts": "travel",
        "graduation": "0.001",
        "angle_deg": 29.5,
        "angle_from": "cross_slide",
    },
}
INSTRUMENT: dict[str, Any] = {
    "name": "Micrometer 0 to 1",
    "kind": "micrometer",
    "unit": "in",
    "resolution": "0.0001",
    "max_error": "0.0001",
}
PART: dict[str, Any] = {"name": "Pump shaft", "material": "carbon steel", "unit": "in"}


def changed(body: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """A copy with one value replaced; path is dotted, value None removes it."""
    copied = copy.deepcopy(body)
    *parents, last = path.split(".")
    inner = copied
    for name in parents:
        inner = inner[name]
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return copied


def test_a_lathe_gets_a_number(shop: Workshop) -> None:
    assert shop.post("/api/lathes", LATHE, 201)["id"] == 1
    assert shop.post("/api/lathes", LATHE | {"carriage": {"graduation": "0.005"}}, 201)["id"] == 2


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("name", ""),
        ("name", "n" * 300),
        ("name", "two\x00parts"),
        ("name", None),
        ("unit", "cm"),
        ("cross_slide.counts", "radius"),
        ("cross_slide.graduation", "0"),
        ("cross_slide.graduation", "-0.001"),
        ("cross_slide.graduation", "fine"),
        ("cross_slide.graduation", "9"),  # no dial has a line every nine inches
        ("cross_slide.graduation", "0.0000000000000000001"),
        ("compound.graduation", "1e400"),
        ("compound.angle_deg", 91),
        ("compound.angle_deg", -1),
        ("compound.angle_from", "north"),
        ("compound", None),
    ],
)
def test_a_lathe_that_cannot_be_is_refused(shop: Workshop, path: str, value: Any) -> None:
    code_of(shop.post("/api/lathes", changed(LATHE, path, value), 422))


@pytest.mark.parametrize(
    "kind", ["micrometer", "calliper", "thread_micrometer", "bore_gauge", "depth_micrometer"]
)
def test_an_instrument_gets_a_number(shop: Workshop, kind: str) -> None:
    assert shop.post("/api/instruments", INSTRUMENT | {"kind": kind}, 201)["id"] == 1


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        ("name", "  ", "name"),
        ("kind", "ruler of thumb", "kind"),
        ("unit", "ft", "unit"),
        ("resolution", "0", "resolution"),
        ("resolution", "", "resolution"),
        ("resolution", "one tenth", "resolution"),
        ("resolution", "9", "resolution"),
        ("resolution", "0.00000000000000001", "resolution"),
        ("max_error", "-0.0001", "max_error"),
        ("max_error", "none", "max_error"),
    ],
)
def test_an_instrument_that_cannot_be_is_refused(
    shop: Workshop, path: str, value: str, field: str
) -> None:
    body = shop.post("/api/instruments", changed(INSTRUMENT, path, value), 422)

    code_of(body)
    assert body["error"]["field"] == field


def test_an_instrument_may_leave_its_error_to_the_default(shop: Workshop) -> None:
    shop.post("/api/instruments", changed(INSTRUMENT, "max_error", None), 201)


def test_a_wire_set_takes_a_nominal_and_up_to_three_measured_sizes(shop: Workshop) -> None:
    wires = {"name": "0.032 wires", "unit": "in", "nominal": "0.032"}
    measured = {"measured": ["0.03201", "0.03199", "0.03200"], "sized": "zero_force"}

    shop.post("/api/wire-sets", wires, 201)
    shop.post("/api/wire-sets", wires | measured, 201)
    code_of(shop.post("/api/wire-sets", wires | {"measured": ["0.032"] * 4}, 422))
    code_of(shop.post("/api/wire-sets", wires | {"measured": ["0.05"] * 3}, 422))
    code_of(shop.post("/api/wire-sets", wires | {"nominal": "0"}, 422))


@pytest.mark.parametrize("material", ["carbon steel", "Aluminium 6061", "BRASS", "stainless 304"])
def test_materials_match_by_family_and_grade_in_any_case(shop: Workshop, material: str) -> None:
    assert shop.post("/api/parts", PART | {"material": material}, 201)["id"] == 1


def test_an_unknown_material_names_the_near_ones(shop: Workshop) -> None:
    body = shop.post("/api/parts", PART | {"material": "aluminum 9999"}, 422)

    assert code_of(body) == "unknown_material"
    assert body["error"]["field"] == "material"
    assert "luminium" in body["error"]["message"]


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [("name", "", "name"), ("unit", "cubit", "unit"), ("material", "", "material")],
)
def test_a_part_that_cannot_be_is_refused(
    shop: Workshop, path: str, value: str, field: str
) -> None:
    body = shop.post("/api/parts", changed(PART, path, value), 422)

    code_of(body)
    assert body["error"]["field"] == field


def test_a_feature_answers_with_its_targets(shop: Workshop) -> None:
    lathe, instrument, part = shop.lathe(), shop.instrument(), shop.part()
    found = shop.feature(
        part, SHAFT_THREAD, lathe, instrument, slide="compound", method="over_wires", wire="0.032"
    )

    assert found["id"] == 1
    # ASME B1.1 and B1.2, as in the targets.
    assert found["limits"]["pitch_diameter"] == {"low": 0.5828, "high": 0.5875}
    assert found["over_wires"]["low"] == pytest.approx(0.6307, abs=0.00005)
    assert found["over_wires"]["high"] == pytest.approx(0.6354, abs=0.00005)


def test_an_aim_moves_the_over_wire_aim_with_it(shop: Workshop) -> None:
    lathe, instrument, part = shop.lathe(), shop.instrument(), shop.part()
    wires = {"slide": "compound", "method": "over_wires", "wire": "0.032"}
    found = shop.feature(part, SHAFT_THREAD, lathe, instrument, aim="0.5860", **wires)

    over = found["over_wires"]
    assert over["aim"] == pytest.approx(0.5860 + over["constant"], abs=1e-8)
    body = shop.feature(part, SHAFT_THREAD, lathe, instrument, aim="0.5900", expect=422, **wires)
    assert code_of(body) == "aim_outside"
    assert body["error"]["field"] == "aim"


@pytest.mark.parametrize(
    ("changes", "status", "code", "field"),
    [
        ({"designation": "5/8-18 UNF-4A"}, 422, "not_in_standard", "designation"),
        ({"wire": "0.020"}, 422, "wire_unusable", "wire"),
        ({"wire": "0.060"}, 422, "wire_unusable", "wire"),
        ({"wire": ""}, 422, "wire_missing", "wire"),
        ({"method": "direct"}, 422, "method_unusable", "method"),
        ({"method": "by eye"}, 422, "not_a_choice", "method"),
        ({"slide": "carriage"}, 422, "slide_cannot_feed", "slide"),
        ({"slide": "tailstock"}, 422, "invalid", "slide"),
        ({"label": " "}, 422, "empty", "label"),
        ({"tool": {"nose_radius": "0.5"}}, 422, "out_of_range", "nose_radius"),
        ({"tool": {"nose_radius": "0.004", "flat": "0.004"}}, 422, "two_tips", "flat"),
        ({"crest_diameter": "0.5"}, 422, "out_of_range", "crest_diameter"),
        ({"lathe_id": 99}, 404, "not_found", ""),
        ({"instrument_id": 99}, 404, "not_found", ""),
        ({"wire_set_id": 99}, 404, "not_found", ""),
    ],
)
def test_a_feature_that_cannot_be_is_refused(
    shop: Workshop, changes: dict[str, Any], status: int, code: str, field: str
) -> None:
    body = {
        "label": "Thread",
        "designation": SHAFT_THREAD,
        "method": "over_wires",
        "wire": "0.032",
        "slide": "compound",
        "lathe_id": shop.lathe(),
        "instrument_id": shop.instrument(),
    }
    answer = shop.post(f"/api/parts/{shop.part()}/features", body | changes, status)

    assert code_of(answer) == code
    assert answer["error"]["field"] == field


def test_a_method_that_cannot_measure_a_kind_is_named_with_those_that_can(shop: Workshop) -> None:
    answer = shop.feature(
        shop.part(), SHAFT_THREAD, shop.lathe(), shop.instrument(), method="over_balls", expect=422
    )

    assert answer["error"]["message"] == (
        "External thread can't be measured by “Over two balls”; use “Over three wires”, “Thread "
        "micrometer” or “GO and NOT GO gauges”."
    )


def test_the_best_wire_is_named_where_none_was_given(shop: Workshop) -> None:
    body = shop.feature(
        shop.part(),
        SHAFT_THREAD,
        shop.lathe(),
        shop.instrument(),
        slide="compound",
        method="over_wires",
        expect=422,
    )

    assert "0.0321" in body["error"]["message"]  # best wire 0.032075 in (ASME B1.2)


def test_a_compound_along_the_axis_cannot_cut_a_thread(shop: Workshop) -> None:
    wires = {"slide": "compound", "method": "over_wires", "wire": "0.032"}
    axis = {"compound": {"angle_deg": 30, "angle_from": "axis"}}
    lathe, instrument, part = shop.lathe(), shop.instrument(), shop.part()

    refused = shop.feature(part, SHAFT_THREAD, lathe, instrument, expect=422, **wires, **axis)
    assert code_of(refused) == "slide_cannot_feed"
    # The same swivel read on the other scale: 60.5 degrees from the axis is 29.5 from the slide.
    scale = {"compound": {"angle_deg": 60.5, "angle_from": "axis"}}
    shop.feature(part, SHAFT_THREAD, lathe, instrument, **wires, **scale)


def test_a_feature_on_an_unknown_part_is_refused(shop: Workshop) -> None:
    body = shop.feature(99, "25 h6", shop.lathe(), shop.instrument(), expect=404)

    assert code_of(body) == "not_found"


def test_pieces_are_numbered_within_their_part(shop: Workshop) -> None:
    first, second = shop.part(), shop.part()
    numbers = [
        shop.post(f"/api/parts/{part}/pieces", {"serial": "A1"}, 201)["number"]
        for part in (first, first, second)
    ]

    assert numbers == [1, 2, 1]
    assert code_of(shop.post("/api/parts/99/pieces", {}, 404)) == "not_found"
    assert code_of(shop.post(f"/api/parts/{first}/pieces", {"serial": 5}, 422)) == "invalid"


def test_a_piece_needs_no_body(shop: Workshop) -> None:
    response = shop.client.post(f"/api/parts/{shop.part()}/pieces")

    assert response.status_code == 201


def test_health_names_the_version(shop: Workshop) -> None:
    from server import __version__

    found = shop.get("/api/health")
    assert found["status"] == "ok"
    assert found["version"] == __version__


def test_openapi_lists_every_endpoint_of_the_contract(shop: Workshop) -> None:
    paths = shop.get("/api/openapi.json")["paths"]

    for method, path in (
        ("get", "/api/health"),
        ("post", "/api/targets"),
        ("post", "/api/lathes"),
        ("post", "/api/instruments"),
        ("post", "/api/parts"),
        ("post", "/api/parts/{part_id}/features"),
        ("post", "/api/parts/{part_id}/pieces"),
        ("post", "/api/pieces/{piece_id}/readings"),
        ("post", "/api/pieces/{piece_id}/passes"),
        ("post", "/api/pieces/{piece_id}/events"),
        ("post", "/api/readings/{entry_id}/strike"),
        ("post", "/api/pieces/{piece_id}/finish"),
        ("get", "/api/pieces/{piece_id}/history"),
    ):
        assert method in paths[path]
