"""Readings over the API: what can be typed, and what is hard to believe and asked about."""

from __future__ import annotations

import pytest

from tests.web.workshop import Json, Workshop, code_of

READY = {"temperature": {"value": 20, "unit": "C"}}  # nothing to correct


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


def test_a_size_out_of_range_is_said_as_a_sentence_in_the_features_unit(shop: Workshop) -> None:
    body = shop.thread(rule="exact").refused("0.0100")

    assert code_of(body) == "out_of_range"
    message = "The size over wires is 0.0100 in; it must be above 0.0479 in."
    assert body["error"]["message"] == message


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
    asked = "It would fit if it was read in mm: is it inches or mm?"
    assert asked in body["error"]["message"]


def test_a_metric_job_asks_about_inches(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.20")

    body = job.refused("0.9900", "0.05")
    assert code_of(body) == "needs_confirmation"
    assert "is it mm or inches?" in body["error"]["message"]


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
