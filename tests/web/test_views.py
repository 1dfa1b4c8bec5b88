"""Every screen on invented views: names, escaping, policy, weight, and the drawings."""

from __future__ import annotations

import gzip
import re
from dataclasses import fields, replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from jinja2 import meta, nodes
from markupsafe import escape

from server.pages import view_render
from server.pages.drawings import Ladder, Plot, Point, Rung, draw_ladder, draw_plot
from server.pages.parts import chip_words
from server.pages.views import FRAGMENTS, TEMPLATES, NextCut, Page
from tests.web.lathe_samples import lathe, lathe_ask, lathe_refused
from tests.web.parts_samples import parts
from tests.web.view_samples import SAMPLES

ROOT = Path(__file__).parents[2]
TEMPLATE_FOLDER = ROOT / "templates"
STATIC = ROOT / "static"
LOCAL = {"caller", "e", "f", "p"}  # loop names that an included file reads
ENV = view_render.environment(TEMPLATE_FOLDER, STATIC)


def names_read(template: str, seen: set[str] | None = None) -> set[str]:
    """Top-level names that a template and everything it includes, extends or imports read."""
    seen = set() if seen is None else seen
    if template in seen:
        return set()
    seen.add(template)
    tree = ENV.parse((TEMPLATE_FOLDER / template).read_text())
    own_macros = {macro.name for macro in tree.find_all(nodes.Macro)}
    names = meta.find_undeclared_variables(tree) - own_macros
    for other in meta.find_referenced_templates(tree):
        assert other is not None, f"{template} names another file by a variable"
        names |= names_read(other, seen)
    return names


class Elements(HTMLParser):
    """Start tags with their attributes, in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


@pytest.mark.parametrize("view_type", TEMPLATES, ids=lambda t: t.__name__)
def test_a_template_reads_only_what_its_view_has(view_type: type[Page]) -> None:
    allowed = {field.name for field in fields(view_type)} | set(ENV.globals) | LOCAL
    templates = [TEMPLATES[view_type], *filter(None, [FRAGMENTS.get(view_type)])]
    for template in templates:
        read = names_read(template) - {"bits"}
        assert read - allowed == set(), f"{template} reads names that {view_type.__name__} lacks"


@pytest.mark.parametrize("name", SAMPLES)
def test_a_page_renders_and_keeps_the_content_policy(name: str) -> None:
    text = view_render.page(ENV, SAMPLES[name])
    elements = Elements(text).found
    assert ("html", {"lang": "en", "data-theme": "auto"}) in elements
    for tag, attributes in elements:
        assert "style" not in attributes, f"a style attribute on {tag}"
        assert not [a for a in attributes if a.startswith("on")], f"an inline handler on {tag}"
        assert tag != "style"
        assert tag != "script" or attributes.get("src"), "an inline script"
        assert attributes.get("type") != "number"


@pytest.mark.parametrize("name", SAMPLES)
def test_ids_are_single_and_every_field_has_a_label(name: str) -> None:
    elements = Elements(view_render.page(ENV, SAMPLES[name])).found
    ids = [a["id"] for _, a in elements if a.get("id")]
    assert len(ids) == len(set(ids))
    labelled = {a["for"] for tag, a in elements if tag == "label" and a.get("for")}
    assert labelled <= set(ids)
    for tag, attributes in elements:
        is_field = tag == "select" or (
            tag == "input" and attributes.get("type") in ("text", "search")
        )
        assert not is_field or attributes.get("id") in labelled


@pytest.mark.parametrize("name", SAMPLES)
def test_every_form_posts_somewhere_and_says_which_form_it_is(name: str) -> None:
    text = view_render.page(ENV, SAMPLES[name])
    for form in re.findall(r"<form.*?</form>", text, re.S):
        assert 'action="/' in form
        if 'method="post"' in form and 'id="undo"' not in form:
            assert 'name="form"' in form


@pytest.mark.parametrize("name", SAMPLES)
def test_typed_html_is_shown_as_text(name: str) -> None:
    view = SAMPLES[name]
    if "problems" not in {f.name for f in fields(view)}:
        pytest.fail("every page has problems")
    attack = '"><script>alert(1)</script>'
    view = replace(
        view, notice=attack, typed={"form": "log", "value": attack, "designation": attack}
    )
    text = view_render.page(ENV, view)
    assert attack not in text
    assert str(escape(attack)) in text or name.startswith("lathe")


def test_the_log_form_names_its_fields_as_the_contract_does() -> None:
    text = view_render.fragment(ENV, lathe())
    elements = Elements(text).found
    names = {a.get("name") for tag, a in elements if tag in ("input", "select", "button")}
    wanted = (
        "feature_id value unit dial_step slide temperature_value temperature_unit touch entry_key"
        " station note instrument_id cut advised_step last_seq"
    )
    assert set(wanted.split()) <= names
    cuts = [a["value"] for _, a in elements if a.get("name") == "cut"]
    assert cuts == ["advised", "spring", "none"]
    chosen = [a["name"] for _, a in elements if a.get("type") == "radio" and "checked" in a]
    assert chosen == ["as"], "nothing about the cut or the warmth is chosen for the user"


def test_a_refused_reading_keeps_what_was_typed_beside_its_message() -> None:
    text = view_render.fragment(ENV, lathe_refused())
    elements = Elements(text).found
    value = next(a for _, a in elements if a.get("id") == "log-value")
    assert value["value"] == "6.460"
    assert value["aria-invalid"] == "true"
    assert value["aria-describedby"] in {a.get("id") for _, a in elements}
    assert (
        "input",
        {"type": "radio", "name": "cut", "value": "advised", "checked": None},
    ) in elements


def test_a_question_is_answered_by_sending_the_same_form_again() -> None:
    text = view_render.fragment(ENV, lathe_ask())
    buttons = [a for tag, a in Elements(text).found if tag == "button"]
    assert {"class": "main", "name": "confirm", "value": "true"} in buttons


def test_no_advice_means_no_button_for_it() -> None:
    text = view_render.fragment(ENV, replace(lathe(), advised_step=""))
    assert 'value="advised"' not in text


def test_a_verdict_has_a_word_and_a_shape_of_its_own() -> None:
    shapes = (TEMPLATE_FOLDER / "_shapes.html").read_text()
    bodies = re.findall(r'<symbol id="v-(\w+)"[^>]*>(.*?)</symbol>', shapes)
    assert {code for code, _ in bodies} == {
        "stock_left",
        "in_limits",
        "too_close",
        "past_limit",
        "none",
    }
    assert len({body for _, body in bodies}) == len(bodies)
    text = view_render.page(ENV, parts())
    for word in ("Stock left", "In limits", "Too close to call", "Past the limit"):
        assert word in text


def test_the_first_load_of_the_lathe_is_light() -> None:
    text = view_render.page(ENV, lathe())
    weight = len(gzip.compress(text.encode()))
    for address in re.findall(r'(?:src|href)="/static/([^"?]+)', text):
        weight += len(gzip.compress((STATIC / address).read_bytes()))
    assert weight < 100_000


SHAFT = Ladder(
    low_mm=24.98,
    high_mm=25.0,
    aim_mm=24.99,
    low="24.980",
    high="25.000",
    aim="24.990",
    unit="mm",
    rungs=(
        Rung(size_mm=26.0, doubt_mm=0.002, number="1"),
        Rung(size_mm=25.1, doubt_mm=0.002, number="2", is_last=True),
    ),
    landing_mm=(24.992, 24.988, 24.996),
)


def test_cutting_goes_to_the_right_on_the_ladder_of_a_shaft() -> None:
    drawing = draw_ladder(SHAFT)
    first, last = drawing.marks
    assert first.at < last.at < drawing.metal < drawing.aim < drawing.gone < drawing.width
    assert (drawing.metal_label, drawing.gone_label) == ("25.000", "24.980")
    assert drawing.landing is not None
    expected, near, far = drawing.landing
    assert drawing.metal < near < expected < far < drawing.gone


def test_cutting_goes_to_the_right_on_the_ladder_of_a_bore_too() -> None:
    bore = replace(
        SHAFT,
        is_internal=True,
        rungs=(Rung(size_mm=24.0, doubt_mm=0.002, number="1", is_last=True),),
    )
    drawing = draw_ladder(bore)
    assert drawing.marks[0].at < drawing.metal < drawing.aim < drawing.gone
    assert (drawing.metal_label, drawing.gone_label) == ("24.980", "25.000")


@pytest.mark.parametrize("stock_mm", [0.0, 0.001, 0.5, 10.0, 200.0])
def test_the_band_stays_readable_however_much_metal_is_on(stock_mm: float) -> None:
    rung = Rung(size_mm=24.99 + stock_mm, doubt_mm=0.001, number="1")
    drawing = draw_ladder(replace(SHAFT, rungs=(rung,)))
    assert drawing.band >= 70
    assert 0 <= drawing.marks[0].at <= drawing.width


def test_a_size_far_past_the_limit_stays_on_the_ladder() -> None:
    rung = Rung(size_mm=20.0, doubt_mm=0.001, number="1")
    drawing = draw_ladder(replace(SHAFT, rungs=(rung,)))
    assert drawing.gone < drawing.marks[0].at <= drawing.width


def test_numbers_that_would_cover_each_other_give_way_to_the_newer() -> None:
    rungs = tuple(Rung(size_mm=25.1, doubt_mm=0.001, number=str(n)) for n in (1, 2, 3))
    assert [m.number for m in draw_ladder(replace(SHAFT, rungs=rungs)).marks] == ["", "", "3"]


def test_the_history_plot_goes_down_as_metal_comes_off() -> None:
    sizes = (26.0, 25.2, 25.03, 24.991)
    points = tuple(
        Point(number=str(n), size_mm=s, doubt_mm=0.002, is_struck=n == 1)
        for n, s in enumerate(sizes)
    )
    plot = Plot(low_mm=24.98, high_mm=25.0, aim_mm=24.99, unit="mm", places=3, points=points)
    drawing = draw_plot(plot)
    heights = [m.y for m in drawing.marks]
    assert heights == sorted(heights)
    assert drawing.band_top < heights[-1] < drawing.band_top + drawing.band_height
    assert len(drawing.path.split()) == 3, "a struck reading is off the line"
    labels = {line.label: line.y for line in drawing.grid}
    assert labels["25.000"] == drawing.band_top
    assert labels["24.990"] == drawing.aim


def test_an_empty_plot_is_still_a_drawing() -> None:
    plot = Plot(low_mm=24.98, high_mm=25.0, aim_mm=24.99, unit="mm", places=3, points=())
    assert draw_plot(plot).marks == ()


@pytest.mark.parametrize(
    ("action", "headline", "is_number", "words"),
    [
        ("finer_feed", "5.74°", True, "compound at 5.74°"),
        ("cut", "0.010", True, "dial 0.010"),
        ("wait", "Wait", False, "Wait"),
    ],
)
def test_an_angle_is_nothing_to_dial(
    action: str, headline: str, is_number: bool, words: str
) -> None:
    unit = "mm" if action == "cut" else ""
    cut = NextCut(action=action, headline=headline, is_number=is_number, unit=unit, say="")
    assert chip_words(cut, "mm") == words


def test_the_lathe_screen_names_its_limits() -> None:
    view = lathe()
    text = view_render.fragment(ENV, view)
    assert f"{view.designation}, {view.low} to {view.high} {view.unit}, aim {view.aim}" in text


def test_the_lathe_screen_leads_to_the_readings_it_leaves_out() -> None:
    assert "3 earlier in the pass history" in view_render.fragment(ENV, replace(lathe(), earlier=3))
