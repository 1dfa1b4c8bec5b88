"""A drawing in one unit on a lathe graduated in the other.  1 in = 25.4 mm exactly (1959)."""

from __future__ import annotations

import csv
import re
from html import unescape
from typing import NamedTuple

import pytest

from tests.web.formula import value_of
from tests.web.workshop import Job, Json, Workshop, new_key

COLD = {"temperature": {"value": 20, "unit": "C"}}


class Mixed(NamedTuple):
    """A drawing and a lathe of two units: sizes read, a step on the dial, a size past the limit."""

    unit: str
    dial: str
    designation: str
    first: str
    second: str
    step: str
    past: str

    @property
    def to_dial(self) -> float:
        return 1 / 25.4 if self.dial == "in" else 25.4

    def job(self, shop: Workshop) -> Job:
        return shop.job(self.designation, self.unit, {"unit": self.dial})


MIXED = [
    pytest.param(
        Mixed("mm", "in", "24.98/25.00", "26.000", "25.640", "0.014", "24.930"), id="mm drawing"
    ),
    pytest.param(
        Mixed("in", "mm", "0.980/0.985", "1.0210", "1.0070", "0.36", "0.9770"), id="inch drawing"
    ),
]


def words_of(html: str) -> str:
    """What a page says, without its tags."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


def screen(job: Job, path: str = "lathe") -> str:
    answer = job.shop.client.get(f"/pieces/{job.piece_id}/{path}")
    assert answer.status_code == 200, answer.text
    return str(answer.text)


@pytest.mark.parametrize("case", MIXED)
def test_each_dial_figure_is_in_the_unit_of_its_dial(shop: Workshop, case: Mixed) -> None:
    job = case.job(shop)
    answer = job.read(case.first, **COLD)
    text = words_of(screen(job))
    factor = case.to_dial
    places = {"in": 4, "mm": 3}[case.dial]

    advised = re.search(r"Cut as advised ([0-9.]+) (in|mm)", text)
    assert advised is not None
    assert advised[2] == case.dial
    assert float(advised[1]) == pytest.approx(answer["next_cut"]["dial_step"] * factor, abs=1e-6)
    exact = answer["stock_left"]["cross_slide_dial"] * factor
    assert f"on the cross-slide dial {exact:.{places}f} {case.dial}" in text
    assert f"or dial moved by, {case.dial}" in text
    assert f"Dial moved by {case.dial}" in text, "a cut without a reading"
    assert f"dial {advised[1]} {case.dial}" in words_of(str(shop.client.get("/").text))
    working = words_of(screen(job, "working"))
    assert f"{advised[1]} {case.dial} on the cross-slide" in working, "the first pass to come"
    assert f"{exact:.{places + 2}f} {case.dial}" in working


@pytest.mark.parametrize("case", MIXED)
def test_a_step_on_a_dial_of_another_unit_is_kept_and_shown_as_dialled(
    shop: Workshop, case: Mixed
) -> None:
    job = case.job(shop)
    other = case.job(shop)
    job.read(case.first, **COLD)
    other.read(case.first, **COLD)
    factor = 1 / case.to_dial
    same = f"{float(case.step) * factor:.9f}"  # the same, in the unit of the reading

    told = job.read(case.second, case.step, dial_step_unit=case.dial, **COLD)
    converted = other.read(case.second, same, **COLD)

    assert told["next_cut"]["landing"] == pytest.approx(converted["next_cut"]["landing"])
    entry = job.entries()[-1]
    assert (entry["dial_step"], entry["dial_step_unit"], entry["unit"]) == (
        case.step,
        case.dial,
        case.unit,
    )
    for path in ("lathe", "history"):
        assert f"{case.step} {case.dial}" in words_of(screen(job, path))
    rows = csv.DictReader(shop.client.get(f"/pieces/{job.piece_id}/history.csv").text.splitlines())
    assert list(rows)[1]["dial_step_unit"] == case.dial


@pytest.mark.parametrize("case", MIXED)
def test_the_form_sends_the_advised_step_as_the_dial_shows_it(shop: Workshop, case: Mixed) -> None:
    job = case.job(shop)
    job.read(case.first, **COLD)
    page = screen(job)
    fields = dict(re.findall(r'name="(advised_step|dial_step_unit)" value="([^"]*)"', page))
    form = fields | {
        "feature_id": str(job.feature_id),
        "value": case.second,
        "unit": case.unit,
        "entry_key": new_key(),
        "cut": "advised",
        "temperature_value": "20",
        "temperature_unit": "C",
        "confirm": "true",
    }
    answer = shop.client.post(f"/pieces/{job.piece_id}/readings", data=form)

    assert answer.status_code == 200, "the screen again, after the redirect"
    entry = job.entries()[-1]
    assert (entry["dial_step"], entry["dial_step_unit"]) == (fields["advised_step"], case.dial)


@pytest.mark.parametrize("case", MIXED)
def test_the_working_of_a_dial_of_another_unit_gives_its_own_result(
    shop: Workshop, case: Mixed
) -> None:
    job = case.job(shop)
    answer = job.read(case.first, **COLD)
    path = f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working"
    steps = [each for part in shop.get(path)["sections"] for each in part["steps"]]
    shown = next(each for each in steps if each["name"] == "On the cross-slide dial")
    factor = case.to_dial

    assert shown["result"]["unit"] == case.dial
    exact = answer["stock_left"]["cross_slide_dial"] * factor
    assert shown["result"]["value"] == pytest.approx(exact, rel=1e-6)
    inputs = {each["symbol"]: float(each["text"]) for each in shown["inputs"]}
    assert value_of(shown["formula"], inputs) == pytest.approx(exact, rel=1e-4)


@pytest.mark.parametrize("case", MIXED)
def test_the_lot_says_what_to_dial_in_the_unit_of_the_dial(shop: Workshop, case: Mixed) -> None:
    job = case.job(shop)
    job.read(case.past, **COLD)
    job.finish(**{"as": "scrap", "reason": "cut too far", "initials": "RT"})
    text = words_of(str(shop.client.get(f"/parts/{job.part_id}/lot").text))

    assert re.search(rf"finish [0-9.]+ {case.dial} less far in on the cross-slide dial", text)


def test_sizes_stay_in_the_unit_of_the_drawing(shop: Workshop) -> None:
    job = shop.job("24.98/25.00", "mm", material="steel")
    job.read("26.000", **COLD)
    inch = job.in_unit("in")
    inch.read("1.0000", "0.02", **COLD)  # 25.400 mm, and 0.6 mm came off

    history = words_of(screen(job, "history"))
    assert "1.0000 in" in history, "as it was read"
    row = history[history.index("1.0000 in") :]
    assert re.search(r"0\.02 in +0\.600 +25\.400 ± 0\.", row), row[:120]
    lathe = words_of(screen(job))
    assert re.search(
        r"1\.0000 in size 25\.400 ± [0-9.]+ mm dialled 0\.02 in, took 0\.600 mm", lathe
    )


@pytest.mark.parametrize("slide", ["cross_slide", "compound"])
def test_nothing_names_a_unit_where_there_is_but_one(shop: Workshop, slide: str) -> None:
    job = shop.job("24.98/25.00", "mm", slide=slide)
    job.read("26.000", **COLD)
    text = words_of(screen(job))

    assert re.search(r"Cut as advised [0-9.]+ Spring pass", text)
    assert re.search("or dial moved by(?!,)", text)


def test_a_pass_to_come_is_dialled_on_the_slide_that_has_its_lines(shop: Workshop) -> None:
    """A compound 5.74 degrees from the axis (sine 0.1) divides a line of its dial by ten."""
    job = shop.job("24.98/25.00", "mm", {"unit": "in"})
    job.read("26.000", **COLD)
    told = shop.get(f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working")["plan"]
    plan = words_of(screen(job, "working")).partition("Passes to come")[2]
    lines = {"0.001 in on the cross-slide": 0.0254, "0.001 in on the compound": 2 * 0.00254}
    steps = [each for each in told if each["graduations"]]
    dialled = re.findall(r"([0-9.]+) in on the (cross-slide|compound as a fine feed)", plan)

    assert len(steps) == len(dialled) >= 1
    for each, (step, slide) in zip(steps, dialled, strict=True):
        line_mm = lines[f"0.001 in on the {slide.split(' as')[0]}"]
        assert float(step) / 0.001 * line_mm == pytest.approx(each["step"], rel=1e-3)


def expectation(answer: Json) -> float:
    expected: float = answer["next_cut"]["landing"]["expected"]
    return expected


def test_a_miss_is_said_once_and_against_what_was_shown_with_the_advice(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    told = job.read("27.000", **COLD)
    step, value = told["next_cut"]["dial_step"], expectation(told) - 0.03
    answer = job.read(f"{value:.3f}", f"{step:.2f}", **COLD)
    text = words_of(screen(job))
    miss = float(f"{value:.3f}") - expectation(told)

    assert f"landed −{abs(miss):.3f} from expected" in text
    assert "Last landing" not in text
    assert answer["compared"]["words"] not in text
    assert text.count("from expected") == 1


def test_a_surprise_gives_no_second_figure(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    told = job.read("27.000", **COLD)
    step, value = told["next_cut"]["dial_step"], expectation(told) + 0.9
    answer = job.read(f"{value:.3f}", f"{step:.2f}", confirm=True, **COLD)
    text = words_of(screen(job))

    assert answer["compared"]["surprise"]
    assert "That reading shows more metal than the cut can explain: measure again" in text
    assert "landed +0.900 from expected, outside the 90 % range" in text
    assert text.count("more metal") == 1


def warm_job(shop: Workshop) -> tuple[Job, Json]:
    """A size that warmth makes a range, safely inside wide limits."""
    job = shop.job("24.90/25.10", "mm")
    return job, job.read("25.000", temperature={"touch": "warm"})


def test_history_and_record_say_the_range_that_warmth_makes(shop: Workshop) -> None:
    job, answer = warm_job(shop)
    low, high = answer["size"]["low"], answer["size"]["high"]
    assert high - low > 0.001
    ends = f"{low:.3f} to {high:.3f}"
    assert ends in words_of(screen(job))
    for state in ("open", "finished"):
        assert f"warm: {ends}" in words_of(screen(job, "history"))
        assert f"warm: {ends}" in words_of(screen(job, "record"))
        found = shop.get(f"/api/pieces/{job.piece_id}/record")["features"][0]
        assert (found["size_low"], found["size_high"]) == pytest.approx((low, high))
        if state == "open":
            job.finish(initials="RT")
    sheet = shop.client.get(f"/pieces/{job.piece_id}/record.csv").text.splitlines()
    cells = next(csv.DictReader(sheet))
    assert float(cells["size low"]) == pytest.approx(low, abs=1e-6)


def test_a_reading_at_a_known_temperature_is_no_range(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    job.read("25.000", **COLD)

    assert "warm:" not in words_of(screen(job, "history"))
    assert "warm:" not in words_of(screen(job, "record"))
