"""The working: each formula that is shown comes to the number that is shown beside it.

Random features of every kind, unit and method are measured through the API; a tiny evaluator of
its own (tests/web/formula.py) reads each formula as it stands on the page.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from html import unescape
from typing import Any

import pytest
from scipy import integrate, stats

from server.advice import learned, plan, schedule
from server.logbook.evaluate import total_depth_mm
from server.logbook.replay import PieceLog
from server.metrology.units import from_mm
from server.records.database import Database
from tests.web.formula import value_of
from tests.web.workshop import Job, Json, Workshop

STEEL, OTHERS = "carbon steel", ("aluminium 6061", "brass", "stainless steel 316")
TOUCHES = ("shop", "barely_warm", "warm", "too_hot")
RULES = ("u_guard", "1645", "plain")


@dataclass(frozen=True)
class Sort:
    """A sort of feature; offsets from the middle of the limits that are worth trying.  [unit]"""

    designation: str
    unit: str
    method: str = "direct"
    kind: str = ""
    slides: tuple[str, ...] = ("cross_slide",)
    offsets: tuple[float, ...] = (0.0, 0.3)
    tool: Json | None = None
    angle: float = 29.5
    rule: str = ""


PLAIN_MM, PLAIN_IN = (0.0, 0.004, 0.2, -0.02), (0.0, 0.0003, 0.02)
WIRES_MM, WIRES_IN = (0.0, 0.02, 0.4, 0.9, 1.4), (0.0, 0.002, 0.018, 0.035, 0.06)
SORTS = (
    Sort("25 h6", "mm", offsets=PLAIN_MM, slides=("cross_slide", "compound")),
    Sort("12.70 +0.00/-0.02", "mm", offsets=PLAIN_MM),
    Sort("0.7874 +0.0005/-0.0000", "in", offsets=PLAIN_IN, slides=("cross_slide", "compound")),
    Sort("40 H7", "mm", kind="bore", offsets=(0.0, -0.004, -0.3)),
    Sort("30.00/30.10", "mm", kind="length", slides=("carriage", "compound"), angle=80.0),
    Sort("0.400 +0.002/-0.002", "in", kind="groove_diameter", offsets=PLAIN_IN),
    Sort("5/8-18 UNF-2A", "in", "over_wires", slides=("compound",), offsets=WIRES_IN),
    Sort(
        "5/8-18 UNF-2A", "in", "over_wires", slides=("compound", "cross_slide"),
        offsets=WIRES_IN, tool={"flat": "0.007"}, rule="exact",
    ),
    Sort(
        "M20x1.5-6g", "mm", "over_wires", slides=("compound",), offsets=WIRES_MM,
        tool={"nose_radius": "0.15"},
    ),
    Sort(
        "M20x1.5-6g", "mm", "over_wires", slides=("compound",), offsets=(1.0, 1.08, 1.15, 1.2),
        tool={"flat": "0.6"},
    ),
    Sort("Tr40x14(P7)-7e", "mm", "over_wires", offsets=(0.0, 0.1), tool={"flat": "2.0"}),
    Sort("1-5 ACME-2G", "in", "over_wires", offsets=(0.0, 0.003, 0.05), tool={"flat": "0.06"}),
    Sort("M20x1.5-6g", "mm", "thread_micrometer", slides=("compound",), offsets=PLAIN_MM),
    Sort("M20x1.5-6H", "mm", "over_balls", offsets=(0.0, -0.02, -0.4, -0.7, -1.3)),
    Sort("M20x1.5-6H", "mm", "over_balls", offsets=(0.0, -0.02), rule="exact"),
)  # fmt: skip


def temperature(pick: random.Random) -> Json:
    note = pick.choice(("none", "C", "F", "touch"))
    if note == "none":
        return {}
    if note == "touch":
        return {"temperature": {"touch": pick.choice(TOUCHES)}}
    degrees = round(pick.uniform(16, 45), 1)
    more: Json = {}
    if pick.random() < 0.5:
        more = {"instrument_temperature": {"value": round(pick.uniform(18, 26), 1), "unit": "C"}}
    value = degrees if note == "C" else round(degrees * 1.8 + 32, 1)
    return {"temperature": {"value": value, "unit": note}} | more


def set_up(shop: Workshop, sort: Sort, pick: random.Random) -> tuple[Job, float]:
    """(the job, what its instrument shows at the middle of the limits)."""
    target = shop.targets(sort.designation, sort.unit, **({"kind": sort.kind} if sort.kind else {}))
    feature: Json = {"method": sort.method, "slide": pick.choice(sort.slides)}
    if sort.kind:
        feature["kind"] = sort.kind
    if sort.rule:
        feature["rule"] = sort.rule
    if sort.tool:
        feature["tool"] = sort.tool
    limits = target["limits"]
    own = limits.get("size") or limits["pitch_diameter"]
    middle = (own["low"] + own["high"]) / 2
    if sort.method in ("over_wires", "over_balls"):
        wires = target["wires"]
        share = pick.uniform(0.2, 0.6)
        wire = wires["best"] + share * (wires["largest"] - wires["best"])
        wire_text = f"{wire:.4f}" if sort.unit == "in" else f"{wire:.3f}"
        over = shop.targets(sort.designation, sort.unit, wire=wire_text)["over_wires"]
        middle = (over["low"] + over["high"]) / 2
        if pick.random() < 0.4:
            feature["wire_set_id"] = wire_set(shop, sort.unit, wire_text, pick)
        else:
            feature["wire"] = wire_text
    feature["material"] = pick.choice((STEEL, *OTHERS))
    job = shop.job(sort.designation, sort.unit, {"angle_deg": sort.angle}, **feature)
    return job, middle


def wire_set(shop: Workshop, unit: str, wire: str, pick: random.Random) -> int:
    places = len(wire.partition(".")[2])
    step = 10.0**-places
    measured = [f"{float(wire) + pick.choice((-1, 0, 1)) * step:.{places}f}" for _ in range(3)]
    body = {
        "name": "Set",
        "unit": unit,
        "nominal": wire,
        "measured": measured,
        "sized": pick.choice(("under_load", "zero_force")),
    }
    return int(shop.post("/api/wire-sets", body, 201)["id"])


def measured_job(shop: Workshop, sort: Sort, pick: random.Random) -> tuple[Job, Json]:
    """A job with one to four readings in one or two states, and the last answer."""
    rule = {"unit": sort.unit, "rule": pick.choice(RULES), "past_limit_percent": "0.5"}
    if pick.random() < 0.5:
        rule |= {"shop_temperature": str(pick.randint(17, 25)), "temperature_unit": "C"}
    shop.client.post("/shop", data=rule)
    job, middle = set_up(shop, sort, pick)
    places = 4 if sort.unit == "in" else 3
    if pick.random() < 0.5:
        check = {"instrument_id": str(instrument_of(shop, job)), "unit": sort.unit}
        check |= {"value": f"{pick.choice((-2, 1, 3)) * 10.0**-places:.{places}f}"}
        assert shop.client.post("/crib/checks", data=check).status_code == 200
    offsets = sorted(pick.sample(sort.offsets, k=min(2, len(sort.offsets))), key=abs)
    answer: Json = {}
    step: str | None = None
    for offset in reversed(offsets[: pick.choice((1, 2))]):
        for _ in range(pick.choice((1, 1, 2, 3))):
            value = middle + offset + pick.choice((-1, 0, 1)) * 10.0**-places
            answer = say(job, sort, value, step, pick)
            step = None
        step = f"{abs(offset) / 3 + 10.0**-places:.{places}f}"
    return job, answer


def say(job: Job, sort: Sort, value: float, step: str | None, pick: random.Random) -> Json:
    if sort.unit == "in" and pick.random() < 0.2 and step is None:
        body = job.body(f"{value * 25.4:.3f}", confirm=True, **temperature(pick)) | {"unit": "mm"}
        return job.send(body)
    places = 4 if sort.unit == "in" else 3
    return job.read(f"{value:.{places}f}", step, confirm=True, **temperature(pick))


def instrument_of(shop: Workshop, job: Job) -> int:
    page = shop.client.get("/crib").text
    del job
    return max(int(text.split('"')[0]) for text in page.split('name="instrument_id" value="')[1:])


def working(shop: Workshop, job: Job) -> Json:
    return shop.get(f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working")


def number(text: str) -> float:
    return float(text.replace("−", "-"))


def half_unit(text: str) -> float:
    """Half of the last digit shown."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def shown_values(step: Json) -> dict[str, float]:
    return {each["symbol"]: value_of(each["text"]) for each in step["inputs"]}


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
