"""POST /api/pieces/{id}/readings: what is stored, and what is answered."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from server.logbook import book
from tests.web.workshop import Json, Workshop, code_of, new_key

READY = {"temperature": {"value": 20, "unit": "C"}}  # nothing to correct


def test_the_answer_has_every_key_of_the_contract(shop: Workshop) -> None:
    answer = shop.thread().read("0.6480")

    assert answer["reading"]["value"] == "0.6480"
    assert isinstance(answer["reading"]["id"], int)
    assert {"value", "doubt", "low", "high"} <= set(answer["size"])
    assert answer["verdict"] == "stock_left"
    assert {"state", "shift_low", "shift_high", "wait_minutes"} <= set(answer["warm"])
    assert {
        "diameter",
        "radial",
        "leading_flank",
        "trailing_flank",
        "cross_slide_dial",
        "compound_dial",
    } <= set(answer["stock_left"])
    assert {
        "action",
        "slide",
        "dial_step",
        "landing",
        "chance_in_limits",
        "chance_past_limit",
        "why",
    } <= set(answer["next_cut"])
    assert set(answer["next_cut"]["landing"]) == {"expected", "low", "high"}


def test_a_size_over_wires_is_told_as_pitch_diameter(shop: Workshop) -> None:
    answer = shop.thread().read("0.6480")

    # ASME B1.2: M - E = 0.0479 for 18 threads an inch and 0.032 in wires.
    assert answer["size"]["value"] == pytest.approx(0.6480 - 0.0479, abs=0.00005)
    # The aim is mid-tolerance of 0.5828 to 0.5875 (ASME B1.1).
    assert answer["stock_left"]["diameter"] == pytest.approx(
        answer["size"]["value"] - 0.58515, abs=1e-8
    )


def test_another_wire_than_the_feature_s_gives_another_size(shop: Workshop) -> None:
    job = shop.thread()
    with_its_own = job.read("0.6480")["size"]["value"]
    thicker = job.read("0.6510", wire="0.033")["size"]["value"]

    # M - E = 3 w - 0.866025 P for a 60 degree thread (ASME B1.2): 0.001 in of wire is 0.003 in.
    assert thicker == pytest.approx(with_its_own, abs=0.00005)


def test_limits_aim_and_size_in_the_unit_of_the_reading(shop: Workshop) -> None:
    inch = shop.thread().read("0.6480", **READY)
    metric = shop.thread().read("16.4592", unit="mm", **READY)  # 0.6480 in exactly

    for name in ("value", "doubt", "low", "high"):
        assert metric["size"][name] == pytest.approx(inch["size"][name] * 25.4, abs=1e-7)
    for name in ("diameter", "radial", "leading_flank", "compound_dial"):
        assert metric["stock_left"][name] == pytest.approx(
            inch["stock_left"][name] * 25.4, abs=1e-7
        )
    assert metric["next_cut"]["dial_step"] == pytest.approx(
        inch["next_cut"]["dial_step"] * 25.4, abs=1e-6
    )


# Entry keys, double taps and second tablets.


def test_the_same_key_again_gives_the_first_answer_unchanged(shop: Workshop) -> None:
    job = shop.thread()
    body = job.body("0.6480")
    first = job.send(body, 201)
    job.read("0.6400", "0.0046")  # the world moves on
    job.strike(first["reading"]["id"])

    assert job.send(body, 200) == first
    assert len(job.entries()) == 2


@pytest.mark.parametrize(
    "change", [{"value": "0.6481"}, {"dial_step": "0"}, {"note": "again"}, {"unit": "mm"}]
)
def test_the_same_key_with_another_body_is_refused(shop: Workshop, change: Json) -> None:
    job = shop.thread()
    body = job.body("0.6480")
    job.send(body, 201)

    assert code_of(job.send(body | change, 409)) == "key_reused"
    assert len(job.entries()) == 1


def test_a_key_of_a_reading_serves_no_pass_and_no_other_piece(shop: Workshop) -> None:
    job = shop.thread()
    body = job.body("0.6480")
    job.send(body, 201)
    cut = {"feature_id": job.feature_id, "dial_step": "0.001", "entry_key": body["entry_key"]}

    refused = shop.post(f"/api/pieces/{job.piece_id}/passes", cut, 409)
    assert code_of(refused) == "key_reused"
    other = shop.piece(job.part_id)
    assert code_of(shop.post(f"/api/pieces/{other}/readings", body, 409)) == "key_reused"


def test_two_taps_at_once_are_one_reading(shop: Workshop) -> None:
    job = shop.thread()
    bodies = [job.body("0.6480"), job.body("0.6480"), job.body("0.6480")]
    path = f"/api/pieces/{job.piece_id}/readings"

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda body: shop.client.post(path, json=body), bodies * 2))

    assert len(job.entries()) == 3
    for first, second in zip(answers[:3], answers[3:], strict=True):
        assert sorted((first.status_code, second.status_code)) == [200, 201]
        assert first.json() == second.json()


def test_a_refused_reading_leaves_its_key_free(shop: Workshop) -> None:
    job = shop.thread()
    body = job.body("0.648o")
    job.send(body, 422)

    job.send(body | {"value": "0.6480"}, 201)


@pytest.mark.parametrize("key", ["", "   ", "k" * 65, "ключ", "two words"])
def test_a_key_that_is_none_is_refused(shop: Workshop, key: str) -> None:
    job = shop.thread()

    body = job.refused("0.6480", entry_key=key)
    assert body["error"]["field"] == "entry_key"


def test_two_tablets_log_on_one_piece_in_the_order_they_came(shop: Workshop) -> None:
    job = shop.thread()
    job.read("0.6480", station="lathe")
    job.read("0.6479", station="bench")

    assert [entry["station"] for entry in job.entries()] == ["lathe", "bench"]


def test_a_page_that_missed_an_entry_is_stale(shop: Workshop) -> None:
    job = shop.thread()
    first = job.read("0.6480", last_seq=0)["reading"]["id"]
    second = job.read("0.6400", "0.0046", last_seq=first)["reading"]["id"]

    assert code_of(job.refused("0.6400", "0.0046", last_seq=first)) == "stale_page"
    assert code_of(job.refused("0.6480", last_seq=0)) == "stale_page"
    assert code_of(job.refused("0.6400", last_seq=first, confirm=True)) == "stale_page"
    job.read("0.6400", last_seq=second)


# What was typed.


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ("", "not_a_number"),
        ("   ", "not_a_number"),
        ("abc", "not_a_number"),
        (".", "not_a_number"),
        ("0.6.4", "not_a_number"),
        ("NaN", "not_a_number"),
        ("inf", "not_a_number"),
        ("1e400", "not_a_number"),
        ("1e2", "not_a_number"),
        ("0x10", "not_a_number"),
        ("٠.٦٤٨", "not_a_number"),  # Arabic digits: ASCII only
        ("0.6480 in", "not_a_number"),
        ("9" * 5000, "not_a_number"),
        ("1,234.5", "not_a_number"),
        ("12,700", "not_a_number"),  # twelve thousand or twelve point seven
        ("-0.6480", "not_positive"),
        ("0", "not_positive"),
        ("999", "out_of_range"),
    ],
)
def test_a_value_that_is_no_size_is_refused_and_named(
    shop: Workshop, value: str, code: str
) -> None:
    body = shop.thread().refused(value)

    assert code_of(body) == code
    assert body["error"]["field"] == "value"


def test_a_value_must_travel_as_text(shop: Workshop) -> None:
    job = shop.thread()
    body = job.send(job.body("0.6480") | {"value": 0.648}, 422)

    code_of(body)
    assert body["error"]["field"] == "value"


@pytest.mark.parametrize("typed", ["16,5", "16.5", ",165e", "16.50"])
def test_a_comma_is_read_where_it_can_only_be_decimal(shop: Workshop, typed: str) -> None:
    job = shop.job("16.00 ±0.02", "mm")
    if typed == ",165e":
        assert code_of(job.refused(typed)) == "not_a_number"
        return
    answer = job.read(typed, **READY)

    assert answer["size"]["value"] == 16.5
    assert job.entries()[0]["value"] == typed


@pytest.mark.parametrize(
    "dial_step", ["abc", "NaN", "1e400", "9", "-9", "9" * 5000, "0.001 in", "--1"]
)
def test_a_dial_step_that_is_none_is_refused(shop: Workshop, dial_step: str) -> None:
    job = shop.thread()
    job.read("0.6480")
    body = job.refused("0.6400", dial_step)

    code_of(body)
    assert body["error"]["field"] == "dial_step"


@pytest.mark.parametrize(
    ("extra", "field"),
    [
        ({"unit": "cm"}, "unit"),
        ({"slide": "tailstock"}, "slide"),
        ({"note": "n" * 2000}, "note"),
        ({"note": "bell\x07"}, "note"),
        ({"station": "s" * 100}, "station"),
        ({"temperature": {"value": 20, "touch": "warm"}}, "temperature"),
        ({"temperature": {"touch": "lukewarm"}}, "temperature.touch"),
        ({"temperature": {"value": 1000}}, "temperature"),
        ({"temperature": {"value": 20, "unit": "K"}}, "temperature.unit"),
        ({"instrument_temperature": {"value": -273}}, "instrument_temperature"),
    ],
)
def test_a_field_that_cannot_be_is_named(shop: Workshop, extra: Json, field: str) -> None:
    body = shop.thread().refused("0.6480", **extra)

    code_of(body)
    assert body["error"]["field"] == field


def test_unknown_ids_are_not_found(shop: Workshop) -> None:
    job = shop.thread()

    assert code_of(job.refused("0.6480", feature_id=99)) == "not_found"
    assert code_of(job.refused("0.6480", instrument_id=99)) == "not_found"
    assert code_of(shop.post("/api/pieces/99/readings", job.body("0.6480"), 404)) == "not_found"


def test_a_feature_of_another_part_is_refused(shop: Workshop) -> None:
    job, other = shop.thread(), shop.thread()

    assert code_of(job.refused("0.6480", feature_id=other.feature_id)) == "wrong_part"


@pytest.mark.parametrize(("wire", "word"), [("0.020", "small"), ("0.060", "large")])
def test_wires_that_cannot_measure_this_thread_are_refused(
    shop: Workshop, wire: str, word: str
) -> None:
    body = shop.thread().refused("0.6480", wire=wire)

    assert code_of(body) == "wire_unusable"
    assert body["error"]["field"] == "wire"
    assert word in body["error"]["message"]


# What is hard to believe is asked.


def test_a_slipped_decimal_point_is_asked_and_stored_once_confirmed(shop: Workshop) -> None:
    job = shop.thread()
    body = job.body("6.500")

    asked = job.send(body, 409)
    assert code_of(asked) == "needs_confirmation"
    assert asked["error"]["field"] == "value"
    assert "decimal point" in asked["error"]["message"]
    assert job.entries() == []
    stored = job.send(body | {"confirm": True}, 201)
    assert job.send(body, 200) == stored
    assert job.entries()[0]["value"] == "6.500"


def test_a_reading_in_the_other_unit_is_asked_not_guessed(shop: Workshop) -> None:
    body = shop.thread().refused("16.46")

    assert code_of(body) == "needs_confirmation"
    assert "mm" in body["error"]["message"]
    assert "in" in body["error"]["message"].split()


def test_a_metric_job_asks_about_inches(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.20")

    body = job.refused("0.9900", "0.05")
    assert code_of(body) == "needs_confirmation"
    assert "is it mm or in?" in body["error"]["message"]


def test_a_thimble_turn_is_named(shop: Workshop) -> None:
    job = shop.job("1.000 +0.000/-0.002")
    job.read("1.1000")

    # 0.020 in dialled on a dial that counts diameter should leave 1.080; one turn of a thimble
    # is 0.025 in (common practice, 40 threads an inch).
    body = job.refused("1.0550", "0.020")
    assert code_of(body) == "needs_confirmation"
    assert "thimble turn" in body["error"]["message"]


def test_other_wires_are_among_the_causes_over_wires(shop: Workshop) -> None:
    job = shop.thread()
    job.read("0.6480")

    assert "wires" in job.refused("0.6300", "0.001")["error"]["message"]


@pytest.mark.parametrize(
    ("value", "dial_step", "word"),
    [
        ("25.35", "0.10", "came off"),  # more came off than was dialled
        ("25.70", "0.10", "grew"),  # work does not grow under the tool
        ("25.60", "0.50", "next to nothing"),  # half a millimetre dialled and nothing came off
        ("25.50", None, "Nothing was cut"),
    ],
)
def test_a_move_that_the_dial_does_not_explain_is_asked(
    shop: Workshop, value: str, dial_step: str | None, word: str
) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.60")

    body = job.refused(value, dial_step)
    assert code_of(body) == "needs_confirmation"
    assert word in body["error"]["message"]


@pytest.mark.parametrize(
    ("value", "dial_step"),
    [("25.50", "0.10"), ("25.53", "0.10"), ("25.60", "0"), ("25.601", None)],
)
def test_a_move_that_the_dial_explains_is_not_asked(
    shop: Workshop, value: str, dial_step: str | None
) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.60")

    job.read(value, dial_step)


# Signs, dials and slides.


@pytest.mark.parametrize(
    ("designation", "kind", "value", "aim"),
    [
        ("24.98/25.00", "outside_diameter", "25.50", 24.99),
        ("24.98/25.00", "groove_diameter", "25.50", 24.99),
        ("24.98/25.00", "bore", "24.48", 24.99),
        ("40 H7", "bore", "39.50", 40.0125),
    ],
)
def test_stock_is_positive_while_metal_is_on_bores_included(
    shop: Workshop, designation: str, kind: str, value: str, aim: float
) -> None:
    answer = shop.job(designation, "mm", kind=kind).read(value, **READY)
    stock = answer["stock_left"]

    left = abs(float(value) - aim)
    assert stock["diameter"] == pytest.approx(left, abs=1e-8)
    assert stock["radial"] == pytest.approx(left / 2, abs=1e-8)
    assert stock["leading_flank"] is None
    assert stock["trailing_flank"] is None
    assert stock["cross_slide_dial"] == pytest.approx(left, abs=1e-8)  # it counts diameter
    assert answer["verdict"] == "stock_left"
    assert answer["next_cut"]["dial_step"] > 0


def test_a_bore_cut_too_far_is_past_the_limit(shop: Workshop) -> None:
    answer = shop.job("40 H7", "mm").read("40.06")

    assert answer["verdict"] == "past_limit"
    assert answer["stock_left"]["diameter"] < 0
    assert answer["next_cut"] is None


def test_a_dial_that_counts_travel_shows_half_the_diameter(shop: Workshop) -> None:
    job = shop.job("24.98/25.00", "mm", {"counts": "travel"})
    stock = job.read("25.50", **READY)["stock_left"]

    assert stock["cross_slide_dial"] == pytest.approx(0.255, abs=1e-8)
    assert stock["diameter"] == pytest.approx(0.51, abs=1e-8)


def test_a_length_has_axial_stock_and_no_diameter(shop: Workshop) -> None:
    job = shop.job("24.98/25.00", "mm", kind="length", slide="carriage")
    answer = job.read("25.50", **READY)
    stock = answer["stock_left"]

    for name in ("diameter", "radial", "leading_flank", "trailing_flank", "cross_slide_dial"):
        assert stock[name] is None
    assert stock["axial"] == pytest.approx(0.51, abs=1e-8)
    assert stock["carriage_dial"] == pytest.approx(0.51, abs=1e-8)
    assert answer["next_cut"]["slide"] == "carriage"


def test_stock_per_flank_with_the_compound_at_29_5_degrees(shop: Workshop) -> None:
    stock = shop.thread().read("0.6480", **READY)["stock_left"]

    # Plane geometry, a = 30, theta = 29.5 degrees, z = rho tan theta: along the compound
    # rho / cos theta; normal to the flanks rho sin a + z cos a and rho sin a - z cos a.
    rho = stock["radial"]
    assert stock["compound_dial"] == pytest.approx(rho * 1.148956, rel=2e-6)
    assert stock["leading_flank"] == pytest.approx(rho * 0.989974, rel=1e-5)
    assert stock["trailing_flank"] == pytest.approx(rho * 0.010026, rel=1e-3)


def test_a_straight_plunge_shares_the_stock_between_the_flanks(shop: Workshop) -> None:
    answer = shop.thread(slide="cross_slide").read("0.6480", **READY)
    stock = answer["stock_left"]

    assert stock["leading_flank"] == stock["trailing_flank"]
    assert stock["leading_flank"] == pytest.approx(stock["radial"] / 2, abs=1e-8)  # sin 30
    assert answer["next_cut"]["slide"] == "cross_slide"


def test_both_compound_scales_mean_the_same_swivel(shop: Workshop) -> None:
    from_slide = shop.thread().read("0.6480")["stock_left"]
    turned = shop.thread(lathe={"angle_deg": 60.5, "angle_from": "axis"})
    from_axis = turned.read("0.6480")["stock_left"]

    for name in ("compound_dial", "leading_flank", "trailing_flank", "cross_slide_dial"):
        assert from_axis[name] == pytest.approx(from_slide[name], abs=1e-8)


def test_the_feature_s_own_compound_beats_the_lathe_s(shop: Workshop) -> None:
    lathe = {"angle_deg": 10, "angle_from": "cross_slide"}
    own = {"compound": {"angle_deg": 29.5, "angle_from": "cross_slide"}}
    stock = shop.thread(lathe=lathe, **own).read("0.6480", **READY)["stock_left"]

    assert stock["compound_dial"] == pytest.approx(stock["radial"] * 1.148956, rel=2e-6)


def test_the_compound_as_a_fine_feed_takes_a_tenth(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm", {"angle_deg": 5.74, "angle_from": "axis"}, slide="compound")
    stock = job.read("25.20", **READY)["stock_left"]

    # rho = travel sin beta; sin 5.74 degrees = 0.100015 (common practice: a tenth).
    assert stock["compound_dial"] == pytest.approx(stock["radial"] / 0.100015, rel=1e-5)


@pytest.mark.parametrize(
    ("unit", "lathe", "graduation"),
    [
        ("in", {}, 0.001),
        ("in", {"unit": "mm"}, 0.02 / 25.4),  # a metric dial, an inch drawing
        ("mm", {}, 0.02),
        ("mm", {"unit": "in", "graduation": "0.001"}, 0.0254),
    ],
)
def test_the_advised_step_is_whole_graduations_of_the_dial(
    shop: Workshop, unit: str, lathe: Json, graduation: float
) -> None:
    designation = "1.000 +0.000/-0.010" if unit == "in" else "25.4 +0.00/-0.25"
    value = "1.0500" if unit == "in" else "26.670"
    answer = shop.job(designation, unit, lathe).read(value, **READY)
    step = answer["next_cut"]["dial_step"]

    assert answer["next_cut"]["slide"] == "cross_slide"
    count = step / graduation
    assert count == pytest.approx(round(count), abs=1e-4)
    assert 0 < step <= answer["stock_left"]["cross_slide_dial"]


def test_a_metric_dial_is_typed_in_the_unit_of_the_reading(shop: Workshop) -> None:
    job = shop.job("1.000 +0.000/-0.010", "in", {"unit": "mm"})
    job.read("1.0500")
    answer = job.read("1.0421", "0.00787")  # ten lines of 0.02 mm, typed in inches

    assert answer["verdict"] == "stock_left"
    assert job.entries()[1]["removed"] == pytest.approx(0.0079, abs=1e-8)
    metric = job.read("26.269", "0.20", unit="mm")  # the same again, typed in millimetres
    assert metric["size"]["value"] == pytest.approx(26.269, abs=1e-8)


def test_a_bore_reading_of_a_negative_step_backs_off(shop: Workshop) -> None:
    job = shop.job("40 H7", "mm")
    job.read("39.50")

    answer = job.read("39.50", "-0.10")
    assert answer["verdict"] == "stock_left"
    assert job.entries()[1]["dial_step"] == "-0.10"


# Repeats and spring passes.


def test_readings_at_one_state_are_averaged(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    alone = job.read("25.200", **READY)
    both = job.read("25.204", **READY)

    assert alone["size"]["averaged"] == 1
    assert both["size"]["averaged"] == 2
    assert both["size"]["value"] == pytest.approx(25.202, abs=1e-8)


def test_averaging_equal_readings_lowers_the_doubt(shop: Workshop) -> None:
    coarse = {"resolution": "0.01", "max_error": "0.002"}
    job = shop.job("25 h6", "mm", instrument=coarse)
    alone = job.read("25.20", **READY)["size"]["doubt"]
    job.read("25.20", **READY)

    assert job.read("25.20", **READY)["size"]["doubt"] < alone


def test_a_cut_begins_a_new_state(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.200", **READY)
    after = job.read("25.100", "0.10", **READY)

    assert after["size"]["averaged"] == 1
    assert after["size"]["value"] == 25.1


def test_nought_on_the_dial_is_a_spring_pass_and_a_new_state(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.200", **READY)
    answer = job.read("25.195", "0", **READY)

    assert answer["size"]["averaged"] == 1
    assert answer["size"]["value"] == 25.195
    assert job.entries()[1]["dial_step"] == "0"
    assert job.entries()[1]["removed"] == pytest.approx(0.005, abs=1e-8)


def test_an_empty_dial_step_is_none(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.200")
    job.read("25.201", "")

    assert job.entries()[1]["dial_step"] is None


# Wires not seated yet.


def test_wires_on_the_corners_are_rough_and_still_advise(shop: Workshop) -> None:
    job = shop.thread(crest_diameter="0.6190")

    # Seated only when M <= D0 + w (1 + sin a) = 0.619 + 0.048 = 0.667 (plane geometry).
    rough = job.read("0.6750")
    assert rough["size"]["is_rough"] is True
    assert rough["verdict"] == "stock_left"
    assert rough["next_cut"]["action"] == "cut"
    assert rough["next_cut"]["dial_step"] > 0
    seated = job.read("0.6600", "0.012", confirm=True)
    assert seated["size"]["is_rough"] is False
    assert rough["size"]["doubt"] > seated["size"]["doubt"]


def test_a_rough_reading_makes_the_thread_no_nearer_than_it_is(shop: Workshop) -> None:
    # The thread formula at M = 0.675 would say E = 0.6271, above the 0.619 crest of a thread that
    # has no flank yet; on the corners the groove is shallower still.
    size = shop.thread(crest_diameter="0.6190").read("0.6750")["size"]

    assert size["value"] > 0.6750 - 0.0479


# Fault after storing.


def test_a_fault_in_the_answer_still_says_saved(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = shop.thread()
    body = job.body("0.6480")

    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("a fault planted by the test")

    monkeypatch.setattr(book, "answer_json", broken)
    answer = job.send(body, 201)
    assert answer["saved"] is True
    assert answer["reading"]["value"] == "0.6480"
    for name in ("size", "verdict", "warm", "stock_left", "next_cut"):
        assert answer[name] is None
    monkeypatch.undo()

    assert job.entries()[0]["value"] == "0.6480"
    again = job.send(body, 200)  # what failed is worked out now
    assert again["verdict"] == "stock_left"


def test_a_refusal_after_storing_still_says_saved(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    from server.logbook.problems import refuse

    def refusing(*_: Any, **__: Any) -> None:
        raise refuse(422, "planted", "A refusal planted by the test.")

    job = shop.thread()
    monkeypatch.setattr(book, "answer_json", refusing)

    assert job.read("0.6480")["saved"] is True
    monkeypatch.undo()
    assert len(job.entries()) == 1


def test_a_key_may_be_any_uuid(shop: Workshop) -> None:
    job = shop.thread()

    job.read("0.6480", entry_key=new_key())
