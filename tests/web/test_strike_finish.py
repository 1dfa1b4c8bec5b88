"""Striking readings through, and what it takes to finish a piece (design, section 6)."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from server.logbook.shop import change_shop
from server.records.database import Database
from tests.web.workshop import Job, Json, Workshop, code_of, new_key

READY = {"temperature": {"value": 20, "unit": "C"}}
LIMITS = "25 ±0.02"  # 24.98 to 25.02; the micrometer's doubt is about 0.003
IN_LIMITS, TOO_CLOSE, STOCK, PAST = "25.000", "25.0195", "25.100", "24.940"


def codes_of(body: Json) -> set[str]:
    """The codes of every problem named, the first one included."""
    first = code_of(body)
    return {first} | {problem["code"] for problem in body.get("problems", [])}


def ready(shop: Workshop, value: str) -> Job:
    job = shop.job(LIMITS, "mm")
    job.read(value, **READY)
    return job


# Striking.


def test_a_strike_keeps_the_reading_in_sight_and_out_of_the_computation(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    job.read("25.500", **READY)
    wrong = job.read("25.510", **READY)
    answer = job.strike(wrong["reading"]["id"], "chip under the anvil")

    assert answer["reading"]["struck"]["reason"] == "chip under the anvil"
    assert answer["size"]["value"] == 25.5
    assert answer["size"]["averaged"] == 1
    struck = job.entries()[1]
    assert struck["value"] == "25.510"
    assert struck["struck"]["reason"] == "chip under the anvil"
    assert struck["struck"]["at"] == "2026-03-02T09:00:00.000000Z"
    assert job.entries()[0]["struck"] is None


def test_the_dial_step_of_a_struck_reading_carries_over(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    job.read("25.500", **READY)
    wrong = job.read("25.310", "0.20", **READY)
    struck = job.strike(wrong["reading"]["id"])

    assert struck["size"] is None
    assert struck["next_cut"] is None
    # The cut was made: the next reading needs no dial step to explain 0.2 off.
    again = job.read("25.300", **READY)
    assert again["size"]["value"] == 25.3
    assert again["size"]["averaged"] == 1
    assert job.entries()[-1]["removed"] == pytest.approx(0.2, abs=1e-8)


def test_a_carried_dial_step_adds_to_the_next_one(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    job.read("25.700", **READY)
    wrong = job.read("25.510", "0.20", **READY)
    job.strike(wrong["reading"]["id"])

    job.read("25.300", "0.20", **READY)  # 0.4 dialled since the last reading that counts
    assert job.entries()[-1]["removed"] == pytest.approx(0.4, abs=1e-8)


@pytest.mark.parametrize("step", ["0.02", "0"])
def test_a_struck_reading_after_a_cut_stops_the_finish_until_there_is_another(
    shop: Workshop, step: str
) -> None:
    job = shop.job(LIMITS, "mm")
    job.read("25.015", **READY)
    last = job.read("25.000", step, **READY)
    job.strike(last["reading"]["id"])

    assert code_of(job.finish(expect=409)) == "not_measured"
    assert job.history()["features"][0]["verdict"] is None
    job.read("25.000", **READY)
    assert job.finish()["piece"]["state"] == "good"


def test_the_only_reading_struck_leaves_nothing_measured(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    only = job.read(IN_LIMITS, **READY)
    job.strike(only["reading"]["id"])

    assert code_of(job.finish(expect=409)) == "not_measured"


def test_a_strike_needs_a_reason_and_happens_once(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    number = job.read("25.500")["reading"]["id"]

    empty = job.strike(number, "  ", expect=422)
    assert code_of(empty) == "empty"
    assert empty["error"]["field"] == "reason"
    code_of(shop.post(f"/api/readings/{number}/strike", {}, 422))
    assert job.entries()[0]["struck"] is None
    job.strike(number, "first")
    assert code_of(job.strike(number, "second", expect=409)) == "already_struck"
    assert job.entries()[0]["struck"]["reason"] == "first"


def test_only_readings_are_struck_here(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    number = job.cut("0.10")["pass"]["id"]
    event = job.event("rezeroed")["event"]["id"]

    assert code_of(job.strike(number, expect=404)) == "not_found"
    assert code_of(job.strike(event, expect=404)) == "not_found"
    assert code_of(job.strike(99, expect=404)) == "not_found"


# Finishing.


def test_in_limits_finishes(shop: Workshop) -> None:
    answer = ready(shop, IN_LIMITS).finish(initials="AB")

    assert answer["piece"]["state"] == "good"
    assert "ISO 14253-1" in answer["rule"]["words"]


def test_the_history_tells_how_it_was_finished(shop: Workshop) -> None:
    job = ready(shop, IN_LIMITS)
    shop.clock.forward(5)
    job.finish(initials="AB")

    finished = job.history()["piece"]["finished"]
    assert finished["as"] == "good"
    assert finished["at"] == "2026-03-02T09:05:00.000000Z"
    assert finished["initials"] == "AB"
    assert finished["rule"] == "u_guard"
    assert finished["verdicts"][str(job.feature_id)]["verdict"] == "in_limits"


def test_finish_needs_no_body(shop: Workshop) -> None:
    job = ready(shop, IN_LIMITS)

    assert shop.client.post(f"/api/pieces/{job.piece_id}/finish").status_code == 200


@pytest.mark.parametrize(
    ("value", "code"),
    [(STOCK, "stock_left"), (TOO_CLOSE, "too_close"), (PAST, "past_limit")],
)
def test_what_is_not_in_limits_does_not_finish_by_itself(
    shop: Workshop, value: str, code: str
) -> None:
    job = ready(shop, value)

    assert code_of(job.finish(expect=409)) == code
    assert job.history()["piece"]["state"] == "open"


def test_every_feature_must_be_there_and_all_that_is_missing_is_said(shop: Workshop) -> None:
    lathe = shop.lathe("mm", graduation="0.02")
    instrument, part = shop.instrument("mm", "0.001", "0.002"), shop.part()
    first = shop.feature(part, LIMITS, lathe, instrument, unit="mm")["id"]
    shop.feature(part, "40 H7", lathe, instrument, unit="mm")
    piece = shop.piece(part)
    reading = {"feature_id": first, "value": STOCK, "unit": "mm", "entry_key": new_key()}
    shop.post(f"/api/pieces/{piece}/readings", reading, 201)

    body = shop.post(f"/api/pieces/{piece}/finish", {}, 409)
    assert codes_of(body) == {"stock_left", "not_measured"}
    assert len(body["problems"]) == 2


@pytest.mark.parametrize("given", [{}, {"initials": "AB"}, {"reason": "fits the gauge"}])
def test_too_close_asks_for_initials_and_a_reason(shop: Workshop, given: Json) -> None:
    assert code_of(ready(shop, TOO_CLOSE).finish(expect=409, **given)) == "too_close"


def test_too_close_finishes_with_initials_and_a_reason(shop: Workshop) -> None:
    job = ready(shop, TOO_CLOSE)
    job.finish(initials="AB", reason="fits the gauge")

    finished = job.history()["piece"]["finished"]
    assert (finished["initials"], finished["reason"]) == ("AB", "fits the gauge")


@pytest.mark.parametrize("rule", ["plain", "1645"])
def test_another_decision_rule_is_named_in_the_record(
    shop: Workshop, database: Database, rule: str
) -> None:
    # Under plain acceptance inside is inside; the guard of 1.645 u is narrower than U = 2 u.
    size = "25.0195" if rule == "plain" else "25.0172"
    by_u = shop.job(LIMITS, "mm")
    assert by_u.read(size, **READY)["verdict"] == "too_close"
    with database.writing() as session:
        change_shop(session, "mm", rule, "0.5", datetime(2026, 3, 2, tzinfo=UTC))
    job = shop.job(LIMITS, "mm")
    job.read(size, **READY)
    job.finish()

    assert job.history()["piece"]["finished"]["rule"] == rule


@pytest.mark.parametrize("how", ["scrap", "concession"])
def test_past_the_limit_closes_as_scrap_or_concession_with_a_reason(
    shop: Workshop, how: str
) -> None:
    job = ready(shop, PAST)

    assert code_of(job.finish(expect=409, **{"as": how})) == "reason_missing"
    assert code_of(job.finish(expect=409, initials="AB", reason="no", **{"as": "good"})) == (
        "past_limit"
    )
    answer = job.finish(reason="cut too far", **{"as": how})
    assert answer["piece"]["state"] == how


def test_an_unknown_way_to_finish_is_refused(shop: Workshop) -> None:
    body = ready(shop, IN_LIMITS).finish(expect=422, **{"as": "perfect"})

    code_of(body)
    assert body["error"]["field"] == "as"


def test_wires_on_the_corners_do_not_finish(shop: Workshop) -> None:
    job = shop.thread(crest_diameter="0.6190")
    job.read("0.6750")

    assert code_of(job.finish(expect=409)) in ("rough", "stock_left")


def test_a_piece_without_features_does_not_finish_as_good(shop: Workshop) -> None:
    piece = shop.piece(shop.part())

    assert code_of(shop.post(f"/api/pieces/{piece}/finish", {}, 409)) == "not_measured"


def test_an_unknown_piece_is_not_found(shop: Workshop) -> None:
    assert code_of(shop.post("/api/pieces/99/finish", {}, 404)) == "not_found"


def test_a_finished_piece_takes_nothing_more(shop: Workshop) -> None:
    job = ready(shop, IN_LIMITS)
    number = job.entries()[0]["id"]
    job.finish()

    assert code_of(job.read(IN_LIMITS, expect=409)) == "piece_closed"
    assert code_of(job.cut("0.01", expect=409)) == "piece_closed"
    assert code_of(job.event("rezeroed", expect=409)) == "piece_closed"
    assert code_of(job.strike(number, expect=409)) == "piece_closed"
    assert code_of(job.finish(expect=409)) == "piece_closed"
    assert len(job.entries()) == 1


def test_the_first_answer_is_given_again_after_the_piece_is_finished(shop: Workshop) -> None:
    job = shop.job(LIMITS, "mm")
    body = job.body(IN_LIMITS, **READY)
    first = job.send(body, 201)
    job.finish()

    assert job.send(body, 200) == first


def test_another_piece_of_the_part_starts_empty(shop: Workshop) -> None:
    job = ready(shop, IN_LIMITS)
    job.finish()
    second = Job(shop, job.part_id, job.feature_id, shop.piece(job.part_id), "mm")

    assert second.entries() == []
    assert second.history()["piece"]["number"] == 2
    assert second.read("25.500", **READY)["verdict"] == "stock_left"
    assert len(job.entries()) == 1
