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
