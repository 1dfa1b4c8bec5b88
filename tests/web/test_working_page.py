"""Every number on the page of the working: none is left that nothing here has checked.

The page is read as a person reads it and taken apart: the steps with their formulas, the budget,
the doubt, what was learned, the passes to come, and at the end the numbers in the sentences.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest

from server.advice import learned, plan
from server.logbook.evaluate import Evaluation
from server.logbook.replay import PieceLog
from server.metrology.dials import size_per_dial
from server.metrology.units import from_mm, to_mm
from server.records.database import Database
from tests.web.formula import value_of
from tests.web.random_jobs import SORTS, measured_job, set_up
from tests.web.test_working import check_step, half_unit, number, steps_of, working
from tests.web.workshop import Job, Json, Workshop

NUMBER = re.compile(r"[−-]?\d+(?:\.\d+)?")
DIVISORS = {"normal": "1", "rectangular": "√3", "triangular": "√6", "U-shaped": "√2"}
VOID = {"use", "path", "circle", "input", "link", "meta", "img", "br"}
# Numbers in sentences that are no results: names of standards and clauses, and constants.
FIXED = {"95", "2", "0.00015", "0.00381", "1.645"}


@dataclass
class Node:
    tag: str
    names: set[str]
    parent: Node | None = None
    parts: list[Node | str] = field(default_factory=list)

    @property
    def text(self) -> str:
        words = (part if isinstance(part, str) else part.text for part in self.parts)
        return " ".join(" ".join(words).split())

    def every(self, tag: str = "", name: str = "") -> list[Node]:
        found = []
        for part in self.parts:
            if isinstance(part, Node):
                if (not tag or part.tag == tag) and (not name or name in part.names):
                    found.append(part)
                found += part.every(tag, name)
        return found

    def one(self, tag: str = "", name: str = "") -> Node:
        found = self.every(tag, name)
        assert len(found) == 1, (tag, name, len(found))
        return found[0]

    def take(self) -> str:
        """The text, and the node is off the page: what it says was checked."""
        text = self.text
        if self.parent is not None:
            self.parent.parts.remove(self)
        return text


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.at = self.root = Node("root", set())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, set((dict(attrs).get("class") or "").split()), self.at)
        self.at.parts.append(node)
        if tag not in VOID:
            self.at = node

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID and self.at.parent is not None:
            self.at = self.at.parent

    def handle_data(self, data: str) -> None:
        self.at.parts.append(data)


def page_of(shop: Workshop, job: Job) -> Node:
    answer = shop.client.get(f"/pieces/{job.piece_id}/working?feature={job.feature_id}")
    assert answer.status_code == 200
    reader = Reader()
    reader.feed(answer.text)
    return reader.root.one("article", "working")


def shows(text: str, value: float | None) -> bool:
    """Whether a shown number is that value, to the digits shown."""
    assert value is not None
    return abs(number(text) - value) <= half_unit(text) * 1.001


def check_steps(page: Node, found: Json) -> set[str]:
    """Each step stands on the page as in the JSON, whose formulas are worked out; the texts."""
    told = steps_of(found)[: -len(found["budget"]) or None]
    shown = page.every("li", "step")
    assert len(shown) == len(told) >= 8
    texts: set[str] = set()
    for node, step in zip(shown, told, strict=True):
        check_step(step)
        result = step["result"]
        assert node.one("p", "step-name").take() == step["name"]
        if step["formula"]:
            formula, filled = node.every("p", "formula")
            assert formula.take() == f"{result['symbol']} = {step['formula']}"
            assert filled.take() == f"= {step['filled']}"
        gives = f"{result['symbol']} = {result['text']} {result['unit']} {result['words']}"
        assert node.one("p", "gives").take() == " ".join(gives.split())
        if step["inputs"]:
            spans = [span.text for span in node.one("p", "where").every("span")]
            assert spans == [input_words(each) for each in step["inputs"]]
            node.one("p", "where").take()
        for each in step["inputs"]:
            check_input(each)
        texts |= {result["text"], *(each["text"] for each in step["inputs"])}
        for source in node.every("p", "source"):
            assert source.take() == f"From {step['source']}"
    check_chain(found)
    return texts


def input_words(given: Json) -> str:
    unit = "" if given["unit"] == "°" else given["unit"]
    return " ".join(f"{given['symbol']} {given['words']} {given['text']} {unit}".split())


def check_input(given: Json) -> None:
    if given["value"] is None:
        assert given["text"] == "∞"
        return
    text = given["text"].removesuffix("°")
    assert abs(value_of(text) - given["value"]) <= max(
        half_unit(text) * 1.001, abs(given["value"]) * 1e-6
    ), given


def check_chain(found: Json) -> None:
    """What a step gives goes into the later ones of its part as it is."""
    for part in found["sections"]:
        given: dict[tuple[str, str], float] = {}
        for step in part["steps"]:
            for each in step["inputs"]:
                before = given.get((each["symbol"], each["words"]))
                if before is not None:
                    assert each["value"] == pytest.approx(before, rel=1e-9, abs=1e-12), each
            result = step["result"]
            if result["value"] is not None:
                given[result["symbol"], result["words"]] = result["value"]


def check_leaves(found: Json, target: Json, job: Job, shop: Workshop) -> None:
    """What goes in from outside is what was typed and what the card says."""
    limits = target["limits"]
    own = limits.get("size") or limits["pitch_diameter"]
    wanted = {
        "low limit": own["low"],
        "high limit": own["high"],
        "pitch": target.get("pitch"),
        "lead": target.get("lead"),
        "half angle": target.get("half_angle_deg"),
    }
    met = set()
    for step in steps_of(found):
        for each in step["inputs"]:
            value = wanted.get(each["words"])
            if value is not None and each["unit"] in ("°", target["unit"]):  # not its spread
                assert each["value"] == pytest.approx(value, abs=6e-6), each
                met.add(each["words"])
    assert {"low limit", "high limit"} <= met
    typed = {
        entry["value"]
        for feature in shop.get(f"/api/pieces/{job.piece_id}/history")["features"]
        for entry in feature["entries"]
    }
    for part in found["sections"]:
        if part["code"] in ("reading", "end"):
            assert part["title"].partition(": ")[2].split()[0] in typed


def check_budget(page: Node, found: Json) -> set[str]:
    rows = [row for row in page.one("table", "budget").every("tr") if row.every("td")]
    assert len(rows) == len(found["budget"])
    squares = [line["result"]["value"] ** 2 for line in found["budget"]]
    u = next(
        step["result"]["value"]
        for step in steps_of(found)
        if step["name"] == "Standard uncertainty"
    )
    assert math.sqrt(math.fsum(squares)) == pytest.approx(u, rel=1e-9)
    texts = set()
    for row, line, square in zip(rows, found["budget"], squares, strict=True):
        spread, shape, slope, filled, gives, share, dof = (cell.text for cell in row.every("td"))
        check_step(line)
        c, a, d = line["inputs"]
        assert spread == f"{a['text']} {a['unit']}".strip()
        assert slope == f"{c['text']} {c['unit']}".strip()
        assert shape == line["shape"]
        if line["shape"] != "normal":
            assert d["text"] == DIVISORS[shape]
        assert filled == line["filled"]
        assert gives == line["result"]["text"]
        assert shows(share.removesuffix(" %"), 100 * square / u**2)
        assert dof == line["dof"]
        texts |= {spread, slope, gives, dof}
    page.one("table", "budget").take()
    freedom = next(
        step for step in steps_of(found) if step["name"] == "Effective degrees of freedom"
    )
    for each in freedom["inputs"]:
        if each["words"].startswith("degrees of freedom of "):
            name = each["words"].removeprefix("degrees of freedom of ")
            dofs = [line["dof"] for line in found["budget"] if line["name"] == name]
            assert each["text"] in dofs or any(shows(dof, each["value"]) for dof in dofs)
    return texts


def check_learned(page: Node, found: Json, known: Evaluation) -> None:
    expected = None
    if known.job is not None:
        expected = learned.learned(
            known.lessons, known.job, known.setup.in_words, prior=known.prior
        )
    if expected is None:
        assert found["learned"] is None
        return
    unit = known.setup.unit
    facts = {}
    for fact in page.one("dl", "facts").every("div"):
        facts[fact.one("dt").text] = NUMBER.findall(fact.one("dd").text)
    lengths = {
        "Tool against dial": (expected.offset_mm, expected.offset_uncertainty_mm),
        "A spring pass finds": (expected.standing_mm,),
        "Least cut": (expected.least_cut_mm,),
        "Scatter of one cut": (expected.cut_scatter_mm,),
    }
    percents = (expected.left_behind * 100, expected.left_behind_uncertainty * 100)
    for text, value in zip(facts.pop("Left behind, φ"), percents, strict=True):
        assert shows(text, value)
    for name, values in lengths.items():
        for text, value_mm in zip(facts.pop(name), values, strict=True):
            assert shows(text, from_mm(value_mm, unit))
    assert not facts
    table = page.one("dl", "facts").parent
    assert table is not None
    rows = [row for row in table.every("tr") if row.every("td")]
    for count, (row, each) in enumerate(zip(rows, expected.passes, strict=True), start=1):
        cuts, *shown = (cell.text for cell in row.every("td"))
        assert (row.one("th").text, cuts) == (str(count), str(each.cuts))
        values = (each.dialled_mm, each.removed_mm, each.fitted_mm)
        for text, value_mm in zip(shown, values, strict=True):
            assert shows(text, from_mm(value_mm, unit))
    assert expected.sentence[1:] in table.one("p", "why-words").take()
    page.one("dl", "facts").take()
    table.one("table", "ruled").take()


def check_plan(page: Node, found: Json, known: Evaluation) -> None:
    rows = [row for row in page.every("tr") if row.every("td")]
    assert len(rows) == len(found["plan"])
    if not rows or known.job is None:
        return
    expected = plan.plan(known.lessons, known.job, prior=known.prior)
    for count, (row, each) in enumerate(zip(rows, expected, strict=True), start=1):
        _what, dial, after, _then = (cell.text for cell in row.every("td"))
        assert row.one("th").text == str(count)
        unit = known.setup.unit
        if each.steps:
            step, dial_unit, *where = dial.split()
            on_size = size_per_dial(known.setup.slide, known.setup.slides, known.setup.kind)
            if "fine" in where:  # 5.74 degrees from the axis: a tenth of its travel, on radius
                on_size = 2 * 0.1
            assert to_mm(number(step), dial_unit) * on_size == pytest.approx(each.step_mm)
        assert shows(after.split()[0], from_mm(known.size_at(each.stock_after_mm), unit))
        row.take()


def is_told(text: str, seen: set[str]) -> bool:
    """Whether a number in a sentence is one that was checked, or that one with fewer digits."""
    return text in seen or (
        len(text.strip("−0.")) > 2 and any(shows(text, number(each)) for each in seen)
    )


@pytest.mark.parametrize("seed", range(100, 130))
def test_no_number_on_the_page_is_unchecked(shop: Workshop, database: Database, seed: int) -> None:
    pick = random.Random(seed)
    sort = SORTS[seed % len(SORTS)]
    job, answer = measured_job(shop, sort, pick)
    found, page = working(shop, job), page_of(shop, job)
    with database.reading() as session:
        log = PieceLog.read(session, job.piece_id)
        known = log.evaluation(log.feature(job.feature_id))
    assert known.known is not None

    size, doubt = NUMBER.findall(page.one("p", "final").take())[:2]
    assert shows(size, found["size"]["value"])
    assert shows(doubt, found["size"]["doubt"])
    assert page.one("p", "under").take().startswith(f"Shaft · Piece 1 · {sort.designation}")
    page.one("h1").take()
    texts = check_steps(page, found) | {size, doubt}
    kind = {"kind": sort.kind} if sort.kind else {}
    check_leaves(found, shop.targets(sort.designation, sort.unit, **kind), job, shop)
    texts |= check_budget(page, found)
    check_learned(page, found, known)
    check_plan(page, found, known)

    titles = {part["title"] for part in found["sections"]}
    for title in page.every("h3") + page.every("summary"):
        assert title.take() in titles
    seen = {token for text in texts for token in NUMBER.findall(text)} | FIXED
    left = {each for each in NUMBER.findall(page.text) if not is_told(each, seen)}
    around = [re.findall(f".{{0,60}}{re.escape(each)}.{{0,30}}", page.text) for each in left]
    assert not left, around
    assert answer["size"]["value"] is not None


WITH_TOOL = [sort for sort in SORTS if sort.tool and not sort.kind and sort.method == "over_wires"]


@pytest.mark.parametrize("place", range(len(WITH_TOOL)))
def test_the_passes_from_touch_off_add_up_to_the_infeed(shop: Workshop, place: int) -> None:
    job, _middle = set_up(shop, WITH_TOOL[place], random.Random(place))
    found, page = working(shop, job), page_of(shop, job)
    told, unit = found["from_touch_off"], found["unit"]
    assert told is not None
    assert found["size"] is None

    rows = [row for row in page.every("tr") if row.every("td")]

    assert len(rows) == len(told["passes"]) >= 3
    infeed = next(step for step in steps_of(found) if step["name"] == "Infeed from touch-off")
    check_step(infeed)
    per_dial = told["passes"][0]["depth"] / float(told["passes"][0]["dial_total"])
    total = 0.0
    for row, each in zip(rows, told["passes"], strict=True):
        _what, dial, depth, _then = (cell.text for cell in row.every("td"))
        step = float(each["dial_step"])
        total += step
        assert total == pytest.approx(float(each["dial_total"]), abs=1e-9)
        assert shows(depth.removesuffix(f" {unit}"), each["depth"])
        assert each["depth"] == pytest.approx(total * per_dial, rel=1e-6)
        words = f"{each['dial_step']} {each['dial_unit']} on the "
        assert dial.startswith(words) or (step == 0 and "same setting" in dial)
        assert step == 0 or dial.endswith(f"{each['dial_total']} in all")
    left = infeed["result"]["value"] - told["passes"][-1]["depth"]
    assert told["left_standing"] == pytest.approx(left, abs=1e-8)
    assert 0 <= left
