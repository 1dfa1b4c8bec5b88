"""The working: each formula that is shown comes to the number that is shown beside it.

Random features of every kind, unit and method are measured through the API; a tiny evaluator of
its own (tests/web/formula.py) reads each formula as it stands on the page.
"""

from __future__ import annotations

import math
import random
from html import unescape
from typing import Any

import pytest
from scipy import integrate, stats

from server.advice import learned, plan, schedule
from server.logbook.evaluate import total_depth_mm
from server.logbook.replay import PieceLog
from server.logbook.working import working_of
from server.metrology.units import from_mm
from server.records.database import Database
from server.wording import told
from tests.web.formula import value_of
from tests.web.other_words import WORD, WideWords
from tests.web.random_jobs import SORTS, measured_job
from tests.web.workshop import Job, Json, Workshop

STANDARDS = {"ASME", "DIN", "EA", "GUM", "ISO", "JCGM", "NBS", "Satterthwaite", "Welch"}


def working(shop: Workshop, job: Job) -> Json:
    return shop.get(f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working")


def number(text: str) -> float:
    return float(text.replace("−", "-"))


def half_unit(text: str) -> float:
    """Half of the last digit shown."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def shown_values(step: Json) -> dict[str, float]:
    return {each["symbol"]: value_of(each["text"]) for each in step["inputs"]}


def untold(text: str) -> set[str]:
    """Words of a text that do not go through the catalogue."""
    return set(WORD.findall(str(told(text, WideWords()))))


def check_step(step: Json) -> None:
    text = step["result"]["text"]
    if text.startswith("over "):
        least = float(text.removeprefix("over "))
        assert value_of(step["filled"]) > least
        assert step["result"]["value"] > least
        return
    if text == "∞":
        assert step["result"]["value"] is None
        return
    if step["result"]["value"] is not None:
        assert abs(number(text) - step["result"]["value"]) <= half_unit(text) * 1.001, step
    if not step["formula"]:
        assert step["note"] or step["source"], step
        return
    room = half_unit(text) * 1.05
    assert abs(value_of(step["filled"]) - number(text)) <= room, step
    assert abs(value_of(step["formula"], shown_values(step)) - number(text)) <= room, step


def steps_of(found: Json) -> list[Json]:
    return [step for section in found["sections"] for step in section["steps"]] + found["budget"]


def section(found: Json, code: str) -> dict[str, Json]:
    steps = next(each["steps"] for each in found["sections"] if each["code"] == code)
    return {step["name"]: step for step in steps}


def check_solved(found: Json) -> None:
    """What has no formula on the page, worked out here in another way."""
    doubt = section(found, "doubt")
    dof = doubt["Effective degrees of freedom"]["result"]["value"]
    k = doubt["Coverage factor"]["result"]["value"]
    if doubt["Coverage factor"]["formula"]:
        assert "Student" in doubt["Coverage factor"]["note"]
    elif dof is None or dof >= 20:
        assert k == 2
    else:
        assert k == pytest.approx(stats.t.ppf((1 + 0.9545) / 2, max(1, math.floor(dof))), abs=1e-4)
    chance = section(found, "decision")["Chance in limits"]
    if not chance["formula"] and "landing" not in chance["note"]:
        values = {each["symbol"]: each["value"] for each in chance["inputs"]}
        t = stats.t(dof) if dof is not None else stats.norm()
        inside, _ = integrate.quad(
            lambda y: (
                t.cdf((values["H"] - y) / values["u"]) - t.cdf((values["L"] - y) / values["u"])
            ),
            values["y1"],
            values["y2"],
            limit=200,
        )
        mean = inside / (values["y2"] - values["y1"])
        assert chance["result"]["value"] == pytest.approx(mean, abs=0.02)


def same(value: float, answered: float, found: Json, answer: Json) -> bool:
    """Whether a length of the working is the one answered, in the unit of the reading."""
    per_unit = {"in": 25.4, "mm": 1.0}
    factor = per_unit[found["unit"]] / per_unit[answer["reading"]["unit"]]
    return value * factor == pytest.approx(answered, abs=2e-8)


def check_against_answer(found: Json, answer: Json) -> None:
    """The working ends at the very numbers that were answered to the reading."""
    assert found["state"] == "measured"
    assert same(found["size"]["value"], answer["size"]["value"], found, answer)
    assert same(found["size"]["doubt"], answer["size"]["doubt"], found, answer)
    assert found["size"]["verdict"] == answer["verdict"]
    micro = 1e6 if found["unit"] == "in" else 1e3
    doubt = section(found, "doubt")["Doubt"]["result"]["value"]
    assert same(doubt / micro, answer["size"]["doubt"], found, answer)
    chance = section(found, "decision")["Chance in limits"]["result"]["value"]
    assert round(chance, 4) == answer["chance_conforming"]
    stock = section(found, "stock")
    names = {
        "diameter": "Stock left",
        "axial": "Stock left",
        "radial": "On radius",
        "leading_flank": "Square to the leading flank",
        "trailing_flank": "Square to the trailing flank",
        "cross_slide_dial": "On the cross-slide dial",
        "compound_dial": "On the compound dial",
        "carriage_dial": "On the carriage dial",
    }
    for key, name in names.items():
        if answer["stock_left"][key] is not None:
            value = stock[name]["result"]["value"]
            assert same(value, answer["stock_left"][key], found, answer)
    shares = sum(line["share_percent"] for line in found["budget"])
    assert shares == pytest.approx(100, abs=1e-6)


def check_size_is_reached(found: Json, answer: Json) -> None:
    """The last step of the readings, or their mean, is the size."""
    parts = [each for each in found["sections"] if each["code"] in ("reading", "mean")]
    last = [step for part in parts for step in part["steps"] if step["result"]["symbol"] in "E D20"]
    if not answer.get("stations"):
        assert same(last[-1]["result"]["value"], answer["size"]["value"], found, answer)


@pytest.mark.parametrize("seed", range(45))
def test_every_formula_comes_to_the_number_beside_it(shop: Workshop, seed: int) -> None:
    pick = random.Random(seed)
    sort = SORTS[seed % len(SORTS)]
    job, answer = measured_job(shop, sort, pick)

    found = working(shop, job)

    steps = steps_of(found)
    assert len([step for step in steps if step["formula"]]) >= 10
    for step in steps:
        check_step(step)
    check_against_answer(found, answer)
    check_size_is_reached(found, answer)
    check_solved(found)


def test_the_random_jobs_meet_every_way_wires_can_lie(shop: Workshop) -> None:
    cases: set[str] = set()
    for seed in range(4 * len(SORTS)):
        sort = SORTS[seed % len(SORTS)]
        if sort.tool and sort.designation.startswith("M20") and len(cases) < 3:
            job, _ = measured_job(shop, sort, random.Random(seed))
            cases.add(working(shop, job)["size"]["contact"])
    assert cases >= {"flank", "corner", "root"}


def test_stations_name_the_one_that_decides(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    warmth = {"temperature": {"value": 20, "unit": "C"}, "confirm": True}
    job.read("24.995", station="10", **warmth)
    answer = job.read("24.990", station="60", **warmth)

    found = working(shop, job)

    assert [step for step in steps_of(found) if check_step(step)] == []
    assert found["size"]["value"] == answer["size"]["value"]
    mean = next(each for each in found["sections"] if each["code"] == "mean")
    assert "Most metal is gone at 60: that size is shown." in mean["words"]


def lessons(database: Database, job: Job) -> Any:
    with database.reading() as session:
        log = PieceLog.read(session, job.piece_id)
        return log.evaluation(log.feature(job.feature_id))


def cut_twice(shop: Workshop) -> Job:
    cold = {"temperature": {"value": 68, "unit": "F"}}
    job = shop.thread(crest_diameter="0.6195", tool={"flat": "0.007"})
    job.read("0.6531", **cold)
    job.read("0.6424", "0.0070", **cold)
    job.read("0.6377", "0.0028", **cold)
    return job


def test_what_it_learned_is_what_the_advice_learned(shop: Workshop, database: Database) -> None:
    job = cut_twice(shop)
    found = lessons(database, job)
    expected = learned.learned(found.lessons, found.job, found.setup.in_words, prior=found.prior)
    assert expected is not None

    told = working(shop, job)["learned"]

    assert told["sentence"] == expected.sentence
    assert told["left_behind"] == expected.left_behind
    assert len(told["passes"]) == 2
    for shown, known in zip(told["passes"], expected.passes, strict=True):
        for name in ("dialled", "removed", "fitted"):
            in_inches = from_mm(getattr(known, f"{name}_mm"), "in")
            assert shown[name] == pytest.approx(in_inches, abs=1e-9)
    # The dial counts travel at 29.5 degrees: 0.0070 in takes 2 x 0.0070 cos 29.5 off the diameter.
    assert told["passes"][0]["dialled"] == pytest.approx(
        0.0140 * math.cos(math.radians(29.5)), abs=1e-9
    )


def test_the_passes_to_come_are_the_plan_of_the_advice(shop: Workshop, database: Database) -> None:
    job = cut_twice(shop)
    found = lessons(database, job)
    expected = plan.plan(found.lessons, found.job, prior=found.prior)

    told = working(shop, job)["plan"]

    assert len(told) == len(expected) > 0
    assert [each["graduations"] for each in told] == [each.steps for each in expected]
    assert told[0]["graduations"] == found.advice.steps
    assert found.advice.action.value in ("cut", "spring_pass", "finer_feed")


def test_before_the_first_reading_the_plan_starts_at_touch_off(
    shop: Workshop, database: Database
) -> None:
    job = shop.thread(crest_diameter="0.6195", tool={"flat": "0.007"})
    setup = lessons(database, job).setup
    total_mm = total_depth_mm(setup)
    assert total_mm is not None
    expected = schedule.thread_plan(
        total_mm / 2, 0.007 * 25.4, math.radians(30), setup.kind, setup.slides, setup.slide
    )

    found = working(shop, job)

    assert found["state"] == "none"
    assert found["size"] is None
    told = found["from_touch_off"]["passes"]
    assert [each["dial_step"] for each in told] == [
        f"{each.dial_step:f}" for each in expected.passes
    ]
    infeed = section(found, "infeed")["Infeed from touch-off"]
    check_step(infeed)
    left = found["from_touch_off"]["left_standing"]
    assert told[-1]["depth"] + left == pytest.approx(infeed["result"]["value"], abs=1e-8)


def test_without_a_tool_it_says_what_a_plan_needs(shop: Workshop) -> None:
    found = working(shop, shop.thread())
    assert found["from_touch_off"] is None
    assert "tool" in found["plan_words"]
    assert "first reading" in working(shop, shop.job("25 h6", "mm"))["plan_words"]


def test_a_cut_after_the_reading_is_said(shop: Workshop) -> None:
    job = cut_twice(shop)
    job.cut("0.0010")
    assert working(shop, job)["state"] == "cut_since"
    page = shop.client.get(f"/pieces/{job.piece_id}/working?feature={job.feature_id}").text
    assert "A cut came after this size: measure again." in page


def test_the_page_shows_every_number_of_the_working(shop: Workshop) -> None:
    job = cut_twice(shop)
    answer = shop.client.get(f"/pieces/{job.piece_id}/working?feature={job.feature_id}")
    text = unescape(answer.text)

    assert answer.status_code == 200
    for step in steps_of(working(shop, job)):
        assert step["result"]["text"] in text, step
        assert step["filled"] in text, step
    assert working(shop, job)["learned"]["sentence"][1:] in text


def test_the_lathe_and_the_history_lead_to_the_working(shop: Workshop) -> None:
    job = cut_twice(shop)
    link = f'href="/pieces/{job.piece_id}/working?feature={job.feature_id}"'
    for screen in ("lathe", "history"):
        assert link in shop.client.get(f"/pieces/{job.piece_id}/{screen}").text


def test_a_feature_of_another_part_has_no_working_here(shop: Workshop) -> None:
    one, other = shop.job("25 h6", "mm"), shop.job("30 h6", "mm")
    shop.get(f"/api/pieces/{one.piece_id}/features/{other.feature_id}/working", 422)
    shop.get(f"/api/pieces/999/features/{one.feature_id}/working", 404)
    page = f"/pieces/{one.piece_id}/working?feature={other.feature_id}"
    assert shop.client.get(page).status_code == 404


def test_sources_and_notes_are_told(shop: Workshop, database: Database) -> None:
    """All but the standards that they name; the instrument's error is that of its kind."""
    job = shop.thread(instrument={"max_error": ""})
    job.read("0.6480")
    with database.reading() as session:
        found = working_of(session, job.piece_id, job.feature_id)
    steps = [line.step for line in found.budget]
    steps += [step for section in found.sections for step in section.steps]

    assert "default: class value of DIN 863-1" in {line.line.note for line in found.budget}
    assert set().union(*(untold(step.source) for step in steps)) <= STANDARDS
    others = set(WORD.findall(found.found.setup.material.name)) | {"in"}
    assert set().union(*(untold(step.note) for step in steps)) <= STANDARDS | others
    after = "Where none is set: handbook rule while c is under 0.00015 in, else the exact contact."
    assert f"The handbook rule is in force, by the thread. {after}" in {step.note for step in steps}
