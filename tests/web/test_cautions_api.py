"""What goes with a feature and with the answer to a reading: warnings, and what would settle it."""

from __future__ import annotations

import pytest

from server.logbook import entries
from server.logbook.book import Logbook
from server.records.tables import ANSWER, AnswerRow, EntryRow
from tests.web.workshop import Json, Workshop, code_of

COLD: Json = {"temperature": {"value": 20, "unit": "C"}}
SEAT = "25.000 +0.000/-0.020"


def instrument(shop: Workshop, name: str, kind: str, resolution: str, max_error: str) -> int:
    body = {"name": name, "kind": kind, "unit": "mm"}
    body |= {"resolution": resolution, "max_error": max_error}
    return int(shop.post("/api/instruments", body, 201)["id"])


def test_an_instrument_too_coarse_is_named_before_the_first_cut(shop: Workshop) -> None:
    calliper = instrument(shop, "Calliper", "calliper", "0.01", "0.02")
    feature = shop.feature(shop.part("mm"), SEAT, shop.lathe("mm", graduation="0.02"), calliper)
    (said,) = feature["warnings"]
    assert said.startswith("Calliper: Too coarse for this tolerance")
    assert "4:1" in said


def test_an_overdue_instrument_is_named_at_once_and_stays_in_the_history(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm")
    old = {"name": "Old micrometer", "kind": "micrometer", "unit": "mm", "resolution": "0.001"}
    old |= {"max_error": "0.001", "due": "2020-01-31"}
    old_id = shop.post("/api/instruments", old, 201)["id"]
    words = "Old micrometer was due for its check on 2020-01-31; readings with it say so."
    assert job.read("25.200", **COLD)["warnings"] == []
    assert job.read("25.200", instrument_id=old_id, **COLD)["warnings"] == [words]
    good, overdue = job.entries()
    assert (good["instrument"], good["warnings"]) == ("Micrometer", [])
    assert (overdue["instrument"], overdue["warnings"]) == ("Old micrometer", [words])


def test_too_close_names_the_instrument_of_the_crib_that_would_settle_it(shop: Workshop) -> None:
    job = shop.job(
        SEAT, "mm", instrument={"kind": "calliper", "resolution": "0.01", "max_error": "0.005"}
    )
    instrument(shop, "Fine micrometer", "micrometer", "0.0001", "0.0005")
    instrument(shop, "Bore gauge", "bore_gauge", "0.0001", "0.0005")
    assert job.read("25.20", **COLD)["settle"] is None
    answer = job.read("25.00", "0.20", **COLD)
    assert answer["verdict"] == "too_close"
    assert "Fine micrometer" not in answer["settle"]  # at the limit nothing settles it
    answer = job.read("24.99", "0.01", **COLD)
    assert answer["verdict"] == "too_close"
    assert "a reading with Fine micrometer" in answer["settle"]
    assert "Bore gauge" not in answer["settle"]


def test_the_finer_instrument_says_the_size_and_is_not_averaged_with_the_coarse(
    shop: Workshop,
) -> None:
    coarse: Json = {"kind": "calliper", "resolution": "0.01", "max_error": "0.02"}
    job = shop.job(SEAT, "mm", instrument=coarse)
    fine: Json = {"instrument_id": instrument(shop, "Fine", "micrometer", "0.001", "0.001")}
    job.read("25.20", **COLD)
    assert "a reading with Fine" not in job.read("25.00", "0.20", **COLD)["settle"]
    settled = job.read("24.990", **fine, **COLD)
    assert (settled["verdict"], settled["size"]["averaged"]) == ("in_limits", 1)
    assert settled["size"]["value"] == pytest.approx(24.99)

    twice = job.read("24.992", **fine, **COLD)
    assert twice["size"]["value"] == pytest.approx(24.991)
    by_hand = job.read("25.00", **COLD)  # the calliper again: says less than is known
    assert by_hand["size"]["value"] == pytest.approx(24.991)
    assert by_hand["size"]["doubt"] == pytest.approx(twice["size"]["doubt"])
    path = f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working"
    said = [words for section in shop.get(path)["sections"] for words in section["words"]]
    assert said.count("Left out: another instrument says this size with less doubt.") == 2


def test_an_instrument_already_used_is_not_offered_again(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm", instrument={"resolution": "0.001", "max_error": "0.004"})
    fine: Json = {"instrument_id": instrument(shop, "Fine", "micrometer", "0.001", "0.001")}
    job.read("25.20", **COLD)
    assert "a reading with Fine" in job.read("24.9965", "0.20", **COLD)["settle"]
    assert "Fine" not in job.read("24.9985", **fine, **COLD)["settle"]


def test_an_overdue_instrument_is_not_offered(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm", instrument={"resolution": "0.001", "max_error": "0.004"})
    old: Json = {"name": "Old", "kind": "micrometer", "unit": "mm", "resolution": "0.001"}
    shop.post("/api/instruments", old | {"max_error": "0.001", "due": "2020-01-31"}, 201)
    job.read("25.20", **COLD)
    assert "Old" not in job.read("24.9965", "0.20", **COLD)["settle"]
    shop.post("/api/instruments", old | {"max_error": "0.001", "due": "2099-01-31"}, 201)
    assert "a reading with Old" in job.read("24.9965", "0", **COLD)["settle"]


def test_two_within_a_step_are_no_proof_and_a_third_settles_it(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm", instrument={"resolution": "0.001", "max_error": "0.001"})
    job.read("25.20", **COLD)
    assert job.read("24.9970", "0.20", **COLD)["verdict"] == "in_limits"
    again = job.read("24.9980", **COLD)
    assert again["verdict"] == "too_close"
    assert again["settle"].startswith("Two readings say little of how they repeat")
    assert "1 more reading at this state" in again["settle"]
    assert job.read("24.9970", **COLD)["verdict"] == "in_limits"


def test_another_station_may_differ_by_the_taper(shop: Workshop) -> None:
    job = shop.job("25.00 +0.00/-0.10", "mm")
    job.read("25.300", station="10", **COLD)
    answer = job.read("25.340", station="60", **COLD)
    (taper,) = answer["stations"]["words"]
    assert taper.startswith("0.040 mm larger at the tailstock end over 50.000 mm")
    assert "move the tailstock 0.020 mm toward the operator for every 50.000 mm" in taper
    error = job.refused("25.300", station="60", **COLD)["error"]
    assert error["code"] == "needs_confirmation"
    assert job.refused("25.600", station="30", **COLD)["error"]["code"] == "needs_confirmation"


def test_two_repeats_far_apart_say_so_and_a_third_brings_the_doubt_down(shop: Workshop) -> None:
    job = shop.job("25.00 +0.00/-0.10", "mm")
    one = job.read("25.300", **COLD)["size"]["doubt"]
    two = job.read("25.306", **COLD)["size"]["doubt"]
    three = job.read("25.303", **COLD)["size"]["doubt"]
    assert 2 * one < two < 4 * one
    assert one < three < 0.9 * two
    job.read("25.200", "0.100", **COLD)
    pooled = job.entries()[-1]["doubt"]
    assert three < pooled < 1.8 * three  # one reading, known to scatter as those three


def test_a_slipped_decimal_point_is_named(shop: Workshop) -> None:
    job = shop.thread()
    error = job.refused("6.500", **COLD)["error"]
    assert error["code"] == "needs_confirmation"
    assert "decimal point in another place" in error["message"]
    job.read("0.6500", **COLD)


def test_confirming_from_a_stale_page_is_told_so_first(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm")
    seen = job.read("25.200", **COLD)["reading"]["id"]
    doubted = job.refused("25.600", last_seq=seen, **COLD)["error"]
    assert doubted["code"] == "needs_confirmation"
    newer = job.read("25.201", **COLD)["reading"]["id"]
    stale = job.refused("25.600", last_seq=seen, confirm=True, **COLD)["error"]
    assert stale["code"] == "stale_page"
    job.read("25.600", last_seq=newer, confirm=True, **COLD)


def test_a_key_taken_meanwhile_by_another_piece_is_refused(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when two server processes on one database both see the key free."""
    one, two = shop.job(SEAT, "mm"), shop.job(SEAT, "mm")
    body = one.body("25.200", **COLD)
    one.send(body)
    monkeypatch.setattr(entries, "stored_before", lambda *_given: None)
    answer = two.send(body | {"feature_id": two.feature_id}, 409)
    assert code_of(answer) == "key_reused"
    assert two.entries() == []


def test_an_answer_stored_meanwhile_by_another_process_stands(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = shop.job(SEAT, "mm")
    keep = Logbook.keep_answer

    def raced(self: Logbook, row: EntryRow, answer: AnswerRow) -> tuple[str | None, bool]:
        keep(self, row, AnswerRow(**answer.model_dump() | {"body": '{"first": true}'}))
        with self.writing() as (session, _now):
            session.connection().execute(ANSWER.insert(), answer.model_dump())
        raise AssertionError("the second insert must fail")

    monkeypatch.setattr(Logbook, "keep_answer", raced)
    assert job.read("25.200", **COLD) == {"first": True}


def test_a_pass_logged_by_mistake_is_struck_and_its_cut_is_undone(shop: Workshop) -> None:
    job = shop.job("25.00 +0.00/-0.10", "mm")
    before = job.read("25.300", **COLD)["stock_left"]
    number = job.cut("0.20")["pass"]["id"]
    job.finish(expect=409)
    struck = shop.post(f"/api/passes/{number}/strike", {"reason": "not cut"}, 200)
    assert struck["pass"]["struck"]["reason"] == "not cut"
    assert struck["stock_left"] == before
    again = shop.post(f"/api/passes/{number}/strike", {"reason": "twice"}, 409)
    assert code_of(again) == "already_struck"
    reading = job.entries()[0]["id"]
    assert code_of(shop.post(f"/api/passes/{reading}/strike", {"reason": "x"}, 404)) == "not_found"
