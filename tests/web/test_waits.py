"""Repeats while warmth decides: averaged before they are judged, and a wait that ends."""

from __future__ import annotations

import pytest

from tests.web.workshop import Job, Json, Workshop

SHOP: Json = {"temperature": {"touch": "shop"}}
WARM: Json = {"temperature": {"touch": "warm"}}
NOTHING: Json = {}
SEAT = "25 h6"  # 24.987 to 25.000
BORE = "30 H7"  # 30.000 to 30.021
NOTES = pytest.mark.parametrize("note", [SHOP, NOTHING], ids=["as the shop", "nothing noted"])


def seat(shop: Workshop, note: Json) -> Job:
    """A seat cut down to near its high limit a moment ago."""
    job = shop.job(SEAT, "mm")
    job.read("25.300", **note)
    job.cut("0.30")
    return job


@NOTES
def test_repeats_near_a_limit_are_averaged_and_the_answer_stays(shop: Workshop, note: Json) -> None:
    job = seat(shop, note)
    answers = []
    for size in ("25.003", "25.004", "25.003", "25.004"):
        answers.append(job.read(size, **note))
        shop.clock.forward(1)

    assert [each["size"]["averaged"] for each in answers] == [1, 2, 3, 4]
    assert answers[-1]["size"]["value"] == pytest.approx(25.0035)
    assert {each["warm"]["state"] for each in answers} == {"wait"}
    waits = [each["warm"]["wait_minutes"] for each in answers]
    assert waits == sorted(waits, reverse=True)
    assert all(minutes > 0 for minutes in waits)


def test_a_fourth_reading_in_a_bore_does_not_throw_three_away(shop: Workshop) -> None:
    job = shop.job(BORE, "mm")
    job.read("29.700")
    job.cut("0.28")
    answers = [job.read(size) for size in ("29.998", "29.999", "30.001", "29.997")]

    assert [each["size"]["averaged"] for each in answers] == [1, 2, 3, 4]
    sizes = [each["size"]["value"] for each in answers]
    assert sizes[-1] == pytest.approx(29.99875)
    assert max(abs(a - b) for a, b in zip(sizes, sizes[1:], strict=False)) < 0.001
    assert answers[-1]["size"]["doubt"] < answers[-2]["size"]["doubt"]


@NOTES
def test_obeying_the_wait_ends_it(shop: Workshop, note: Json) -> None:
    """25.002 is Too close to call within 2 degrees of the shop: a wait may end so too."""
    job = seat(shop, note)
    told = job.read("25.003", **note)["warm"]
    assert told["state"] == "wait"
    shop.clock.forward(told["wait_minutes"])
    assert job.read("25.002", **note)["warm"]["state"] != "wait"


def test_where_waiting_narrows_nothing_more_it_is_not_advised(shop: Workshop) -> None:
    job = seat(shop, SHOP)
    shop.clock.forward(120)  # as the shop is within 2 degrees by now, and stays so
    answer = job.read("25.0031", **SHOP)
    assert (answer["warm"]["state"], answer["warm"]["wait_minutes"]) == ("wait", None)
    assert "type it in degrees" in answer["next_cut"]["why"]
    told = job.read("25.0031", temperature={"value": 20, "unit": "C"})
    assert told["warm"]["state"] != "wait"


def test_a_part_felt_warm_that_reads_smaller_has_cooled(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm")
    job.read("25.012", **WARM)
    shop.clock.forward(5)
    assert job.read("25.004", **WARM)["size"]["averaged"] == 1
    same = job.read("25.003", **WARM)
    assert same["size"]["averaged"] == 2
    path = f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working"
    said = [words for section in shop.get(path)["sections"] for words in section["words"]]
    assert "Left out: the part has cooled since." in said
