"""Warm readings: numbers, touches, nothing noted, and what each does to the size."""

from __future__ import annotations

import pytest

from server.logbook.replay import PieceLog
from server.records.database import Database
from tests.web.workshop import Json, Workshop, code_of

STEEL = 11.7e-6  # per degree C, carbon steel (Callister, table B.6, steel 1020)
SIZE = 25.2


def span(answer: Json) -> float:
    """Degrees of temperature that the size range stands for."""
    width: float = answer["size"]["high"] - answer["size"]["low"]
    return width / (STEEL * SIZE)


def test_a_temperature_number_corrects_the_size(shop: Workshop) -> None:
    answer = shop.job("25 h6", "mm").read("25.200", temperature={"value": 40, "unit": "C"})

    # ISO 1: 25.2 mm of steel 20 degrees warm is 25.2 x 20 x 11.7e-6 = 5.9 um large; the
    # micrometer is at shop temperature, 20 degrees until set.
    assert answer["size"]["value"] == pytest.approx(25.2 - 25.2 * 20 * STEEL, abs=2e-5)
    assert answer["size"]["low"] == answer["size"]["high"] == answer["size"]["value"]
    assert answer["warm"]["shift_low"] == pytest.approx(0.0059, abs=5e-5)


def test_fahrenheit_and_celsius_say_the_same(shop: Workshop) -> None:
    celsius = shop.job("25 h6", "mm").read("25.200", temperature={"value": 40, "unit": "C"})
    fahrenheit = shop.job("25 h6", "mm").read("25.200", temperature={"value": 104, "unit": "F"})

    assert fahrenheit["size"]["value"] == pytest.approx(celsius["size"]["value"], abs=1e-9)


def test_an_instrument_as_warm_as_the_part_cancels_most_of_it(shop: Workshop) -> None:
    warm = {"value": 40, "unit": "C"}
    answer = shop.job("25 h6", "mm").read("25.200", temperature=warm, instrument_temperature=warm)

    assert answer["size"]["value"] == pytest.approx(25.2, abs=2e-4)


@pytest.mark.parametrize("touch", ["barely_warm", "warm", "too_hot"])
def test_a_touch_makes_the_size_a_range_below_the_reading(shop: Workshop, touch: str) -> None:
    answer = shop.job("25 h6", "mm").read("25.200", temperature={"touch": touch})

    assert answer["size"]["low"] < answer["size"]["value"] < answer["size"]["high"] < SIZE
    assert 0 < answer["warm"]["shift_low"] < answer["warm"]["shift_high"]


def test_hotter_touches_shift_more(shop: Workshop) -> None:
    shifts = [
        shop.job("25 h6", "mm").read("25.200", temperature={"touch": touch})["warm"]["shift_high"]
        for touch in ("shop", "barely_warm", "warm", "too_hot")
    ]

    assert shifts == sorted(shifts)


def test_nothing_noted_is_wide_soon_after_a_cut_and_narrow_later(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    assert span(job.read("25.300")) == pytest.approx(4, abs=0.05)  # -2/+2: no cut logged yet
    assert span(job.read("25.200", "0.10")) == pytest.approx(12, abs=0.1)  # -2/+10
    shop.clock.forward(31)
    assert span(job.read("25.200")) < 12  # averaged with the one before
    job.cut("0")
    shop.clock.forward(31)
    assert span(job.read("25.200")) == pytest.approx(4, abs=0.05)


def test_as_the_shop_is_wide_soon_after_a_cut_and_narrow_later(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.300")
    touch = {"temperature": {"touch": "shop"}}
    assert span(job.read("25.200", "0.10", **touch)) == pytest.approx(10, abs=0.1)  # -2/+8
    job.cut("0")
    shop.clock.forward(29)
    assert span(job.read("25.200", **touch)) == pytest.approx(10, abs=0.1)
    job.cut("0")
    shop.clock.forward(31)
    assert span(job.read("25.200", **touch)) == pytest.approx(4, abs=0.05)


def test_not_noted_says_so_in_the_history(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.300")
    job.read("25.300", temperature={"touch": "warm"})
    job.read("25.300", temperature={"value": 21.5, "unit": "C"})

    noted = [(entry["temperature"], entry["temperature_unit"]) for entry in job.entries()]
    assert noted == [(None, None), ("warm", None), ("21.5", "C")]


def test_wait_is_tested_first(shop: Workshop) -> None:
    # 24.987 to 25.000 (ISO 286-2); warm in the hand at 25.005 the ends lie on both sides of too
    # close and in limits: the verdict hangs on the temperature.
    answer = shop.job("25 h6", "mm").read("25.002", temperature={"touch": "warm"})

    assert answer["warm"]["state"] == "wait"
    assert answer["warm"]["wait_minutes"] > 0
    assert answer["next_cut"]["action"] == "wait"
    assert answer["next_cut"]["dial_step"] == 0


def test_a_range_that_moves_the_next_cut_by_more_than_a_line_waits(shop: Workshop) -> None:
    # 300 mm across, too hot to hold: 26 degrees of range are 0.09 mm, four lines of 0.02 mm.
    answer = shop.job("300 ±0.5", "mm").read("310", temperature={"touch": "too_hot"})

    assert answer["verdict"] == "stock_left"
    assert answer["warm"]["state"] == "wait"
    assert answer["next_cut"]["action"] == "wait"


def test_a_warm_number_far_from_the_limits_is_drifting(shop: Workshop) -> None:
    # 5.9 um of warmth is more than a tenth of the 13 um tolerance, yet it moves no verdict.
    answer = shop.job("25 h6", "mm").read("25.200", temperature={"value": 40})

    assert answer["warm"]["state"] == "drifting"


def test_warmth_within_a_tenth_of_the_tolerance_is_settled(shop: Workshop) -> None:
    answer = shop.job("25 ±0.1", "mm").read("25.500", temperature={"value": 40})

    assert answer["warm"]["state"] == "settled"
    assert "0.006 mm" in answer["warm"]["words"]
    assert "measure again" not in answer["warm"]["words"]


def test_waiting_does_not_finish_a_feature(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.002", temperature={"touch": "warm"})

    signed = {"initials": "AB", "reason": "it will do"}
    for how in ("good", "scrap", "concession"):
        refused = job.finish(expect=409, **signed, **{"as": how})
        assert code_of(refused) == "wait"


def test_a_cold_reading_after_the_wait_is_the_one_that_counts(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.002", temperature={"touch": "warm"})
    shop.clock.forward(60)
    settled = job.read("24.993", temperature={"value": 20})

    assert settled["warm"]["state"] == "settled"
    assert settled["size"]["value"] == pytest.approx(24.993, abs=1e-6)
    assert settled["verdict"] == "in_limits"
    assert job.finish()["piece"]["state"] == "good"


def test_the_part_s_own_cooling_sets_the_wait(shop: Workshop) -> None:
    hot = {"temperature": {"touch": "too_hot"}}
    waits = []
    for middle in ("25.0108", "25.0130"):  # nearly down after five minutes, or only half
        job = shop.job("25 h6", "mm")
        for size in ("25.0172", middle, "25.0100"):
            answer = job.read(size, **hot)
            assert answer["warm"]["state"] == "wait"
            shop.clock.forward(5)
        waits.append(answer["warm"]["wait_minutes"])

    assert 0 < waits[0] < waits[1]


def test_a_later_reading_in_wait_is_not_left_out_for_an_earlier_one(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    warm = {"temperature": {"touch": "warm"}}
    assert job.read("25.012", **warm)["warm"]["state"] == "drifting"
    shop.clock.forward(5)
    later = job.read("25.004", **warm)

    assert later["warm"]["state"] == "wait"
    assert later["size"]["value"] < 25.0
    assert later["next_cut"]["action"] == "wait"


def test_a_touch_on_a_plastic_asks_for_a_number(shop: Workshop) -> None:
    job = shop.job("25 ±0.1", "mm", material="nylon")
    body = job.refused("25.500", temperature={"touch": "warm"})

    assert code_of(body) == "touch_needs_metal"
    assert body["error"]["field"] == "temperature"
    job.read("25.500", temperature={"value": 30})


def test_a_thermometer_narrows_a_touch_and_is_not_averaged_with_it(shop: Workshop) -> None:
    job = shop.job("50 ±0.1", "mm")
    touched = job.read("50.300", temperature={"touch": "warm"})
    told = job.read("50.302", temperature={"value": 40, "unit": "C"})

    assert touched["size"]["high"] - touched["size"]["low"] > 0.005
    assert told["size"]["averaged"] == 1
    assert told["size"]["low"] == told["size"]["high"] == told["size"]["value"]
    assert told["size"]["value"] == pytest.approx(50.302 - 50.302 * 20 * STEEL, abs=3e-5)
    # The touch is no repeat either: what they differ by is warmth, not scatter.
    alone = shop.job("50 ±0.1", "mm").read("50.302", temperature={"value": 40, "unit": "C"})
    assert told["size"]["doubt"] == pytest.approx(alone["size"]["doubt"], rel=0.01)


def test_two_thermometer_readings_after_a_touch_are_averaged(shop: Workshop) -> None:
    job = shop.job("50 ±0.1", "mm")
    job.read("50.300", temperature={"touch": "warm"})
    job.read("50.302", temperature={"value": 40, "unit": "C"})
    both = job.read("50.304", temperature={"value": 40, "unit": "C"})

    assert both["size"]["averaged"] == 2
    assert both["size"]["value"] == pytest.approx(50.303 - 50.303 * 20 * STEEL, abs=3e-5)


def test_readings_known_alike_are_averaged_as_they_cool(shop: Workshop) -> None:
    job = shop.job("50 ±0.1", "mm")
    job.read("50.3117", temperature={"value": 40, "unit": "C"})
    shop.clock.forward(20)
    cooler = job.read("50.3058", temperature={"value": 30, "unit": "C"})

    assert cooler["size"]["averaged"] == 2
    assert cooler["size"]["value"] == pytest.approx(50.3, abs=5e-4)


def test_a_touch_after_a_thermometer_leaves_a_range_about_both(shop: Workshop) -> None:
    job = shop.job("50 ±0.1", "mm")
    told = job.read("50.300", temperature={"value": 20, "unit": "C"})
    touched = job.read("50.306", temperature={"touch": "barely_warm"})

    assert touched["size"]["averaged"] == 2
    assert touched["size"]["low"] < touched["size"]["value"] < touched["size"]["high"]
    assert touched["size"]["low"] < told["size"]["value"] + 0.004


def test_only_cuts_that_were_advised_use_up_the_bound(shop: Workshop, database: Database) -> None:
    job = shop.job("30 H7", "mm")
    first = job.read("29.700")["next_cut"]
    assert first["action"] == "cut"
    waiting = job.read("30.020", "0.28", confirm=True)["next_cut"]
    assert waiting["action"] == "wait"
    assert waiting["chance_past_limit"] > 0, "how the work stands, not what a cut would risk"
    job.read("30.020", "0")

    with database.reading() as session:
        log = PieceLog.read(session, job.piece_id)
        spent = log.evaluation(log.features[0]).job

    assert spent is not None
    assert spent.past_chance_spent == first["chance_past_limit"]
