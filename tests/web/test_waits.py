"""Repeats while warmth decides: averaged before they are judged, and a wait that ends."""

from __future__ import annotations

import pytest

from tests.web.workshop import Job, Json, Workshop, code_of

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


def test_a_part_that_nobody_felt_warm_is_not_called_warm(shop: Workshop) -> None:
    said = {}
    for name, note in (("nothing", NOTHING), ("shop", SHOP), ("warm", WARM)):
        job = seat(shop, note)
        answer = job.read("25.003" if name != "warm" else "25.010", **note)
        assert answer["next_cut"]["action"] == "wait"
        page = shop.client.get(f"/pieces/{job.piece_id}/lathe").text
        refused = job.finish(expect=409)
        assert code_of(refused) == "wait"
        said[name] = (answer["next_cut"]["why"], page, refused["error"]["message"])

    why, page, refusal = said["nothing"]
    assert why.startswith("the part may be warm, as no temperature was noted: type its temperature")
    assert "May be warm: let it settle" in page
    assert "may have been taken warm" in refusal
    why, page, refusal = said["shop"]
    assert why.startswith("the part may still be warm, though it feels as the shop")
    assert "May be warm: let it settle" in page
    assert "may have been taken warm" in refusal
    why, page, refusal = said["warm"]
    assert why.startswith("the part is warm")
    assert "May be warm" not in page
    assert "was taken warm" in refusal


def test_where_the_shop_s_own_temperature_decides_it_says_measure(shop: Workshop) -> None:
    job = seat(shop, NOTHING)
    shop.clock.forward(120)
    why = job.read("25.0031")["next_cut"]["why"]
    assert "is known to 2 °C either way" in why
    page = shop.client.get(f"/pieces/{job.piece_id}/lathe").text
    assert "Its temperature decides here" in page
    assert "let it settle" not in page


@NOTES
def test_nothing_is_said_of_repeats_while_warmth_decides(shop: Workshop, note: Json) -> None:
    job = seat(shop, note)
    for size in ("25.003", "25.004"):
        answer = job.read(size, **note)
        assert (answer["verdict"], answer["warm"]["state"]) == ("too_close", "wait")
        assert answer["settle"] is None
        assert "average several" not in " ".join(answer["warnings"])
    page = shop.client.get(f"/pieces/{job.piece_id}/lathe").text
    assert "at this state, averaged" not in page
    assert "No number of repeats" not in page
    assert "average several" not in page


def test_no_averaging_is_advised_where_no_number_of_repeats_settles_it(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm")
    cold: Json = {"temperature": {"value": 20, "unit": "C"}}
    before = job.read("25.100", **cold)
    assert "Near a limit average several readings." in before["warnings"][0]
    answer = job.read("25.000", "0.1", **cold)  # at the limit itself
    assert answer["settle"].startswith("No number of repeats settles it")
    assert "Tolerance to instrument error is 6.5:1" in answer["warnings"][0]
    assert "average several" not in answer["warnings"][0]
    page = shop.client.get(f"/pieces/{job.piece_id}/lathe").text
    assert "No number of repeats settles it" in page
    assert "average several" not in page


def test_drifting_says_what_it_does_and_asks_for_nothing(shop: Workshop) -> None:
    job = shop.job(SEAT, "mm")
    for note in (SHOP, {"temperature": {"value": 40, "unit": "C"}}):
        warm = job.read("25.500", **note)["warm"]
        job.cut("0")
        if warm["state"] == "drifting":
            assert "neither the verdict nor the next cut" in warm["words"]
            assert "cool it" not in warm["words"]
            assert "measure again" not in warm["words"]
    assert warm["state"] == "drifting"
    assert "taken off" in warm["words"]


@pytest.mark.parametrize("target", [SEAT, BORE])
def test_the_chances_of_a_wait_are_of_the_size_as_it_is(shop: Workshop, target: str) -> None:
    job = shop.job(target, "mm")
    start, step, near = (
        ("25.300", "0.30", "25.003") if target == SEAT else ("29.7", "0.28", "29.998")
    )
    job.read(start)
    answer = job.read(near, step)
    told = answer["next_cut"]
    assert told["action"] == "wait"
    assert told["chance_in_limits"] == pytest.approx(answer["chance_conforming"], abs=1e-4)
    assert 0 <= told["chance_past_limit"] <= 1 - told["chance_in_limits"]
    assert told["chance_past_limit"] < 0.01  # metal is on
    described = shop.get("/api/openapi.json")["paths"]["/api/pieces/{piece_id}/readings"]["post"]
    assert "chance_conforming" in described["description"]
