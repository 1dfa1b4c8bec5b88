"""From an empty database to the first reading through one form; and help on every screen."""

from __future__ import annotations

import re
from dataclasses import fields as fields_of

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from server.logbook.parts import KIND_WORDS
from server.logbook.setup import METHOD_WORDS
from server.metrology.decision import VERDICT_WORDS
from server.metrology.thermal import TOUCH_WORDS
from server.pages.glossary import MEANINGS
from server.pages.help_sections import SECTIONS
from server.pages.views import NO_VERDICT, TEMPLATES, HelpPage
from server.pages.words import (
    EVENT_WORDS,
    SLIDE_WORDS,
    STATE_WORDS,
    WARM_WORDS,
)
from server.records.database import Database
from server.records.tables import FeatureRow, InstrumentRow, LatheRow, PartRow, PieceRow

DESIGN_WORDS = (
    "part piece feature limits aim reading pass event size doubt landing crest root flank lead "
    "pitch infeed burr"
).split()
TRADE_WORDS = (
    "Stock left",
    "Next cut",
    "Target card",
    "Tool crib",
    "At the lathe",
    "Pass history",
    "Pitch diameter",
    "Over wires",
    "Spring pass",
    "GO",
    "NOT GO",
)


def typed_form(text: str) -> dict[str, str]:
    """The fields of the guide as a browser would send them untouched."""
    form = re.search(r'<form method="post" action="/start".*?</form>', text, re.S)
    assert form is not None
    fields = {
        name: value
        for tag in re.findall(r"<input[^>]*>", form[0])
        for name, value in [(attribute(tag, "name"), attribute(tag, "value"))]
    }
    for name, options in re.findall(r'<select[^>]*name="(\w+)"[^>]*>(.*?)</select>', form[0], re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else attribute(options, "value")
    return fields


def attribute(tag: str, name: str) -> str:
    found = re.search(rf'\b{name}="([^"]*)"', tag)
    return found[1] if found else ""


def kept_rows(database: Database) -> list[int]:
    with database.reading() as session:
        tables = (LatheRow, InstrumentRow, PartRow, FeatureRow, PieceRow)
        return [len(session.exec(select(table)).all()) for table in tables]


def test_an_empty_shop_is_led_to_the_guide(client: TestClient) -> None:
    assert 'href="/start"' in client.get("/").text


@pytest.mark.parametrize(
    ("unit", "designation", "wire", "measured"),
    [
        ("in", "5/8-18 UNF-2A", "0.032", "over three wires"),
        ("mm", "25 h6", "", ""),
    ],
)
def test_what_the_guide_fills_in_and_a_drawing_are_enough(
    client: TestClient,
    database: Database,
    unit: str,
    designation: str,
    wire: str,
    measured: str,
) -> None:
    fields = typed_form(client.get(f"/start?unit={unit}").text)
    fields |= {"designation": designation, "wire": wire}
    answer = client.post("/start", data=fields, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/pieces/1/lathe"
    assert kept_rows(database) == [1, 1, 1, 1, 1]
    screen = client.get(answer.headers["location"]).text
    assert designation in screen
    assert "Nothing logged on this feature yet" in screen
    with database.reading() as session:
        feature = session.exec(select(FeatureRow)).one()
        assert feature.unit == unit
        assert METHOD_WORDS[feature.method].lower() == (measured or "direct")


def test_a_refusal_names_each_field_keeps_what_was_typed_and_stores_nothing(
    client: TestClient, database: Database
) -> None:
    fields = typed_form(client.get("/start").text)
    fields |= {
        "lathe_name": " ",
        "compound_angle_deg": "17.5",
        "instrument_name": "My <old> micrometer",
        "resolution": "fine",
        "designation": "5/8-18 UNF-9A",
        "part_name": "Gland",
    }
    answer = client.post("/start", data=fields)
    assert answer.status_code == 422
    for name in ("lathe_name", "resolution", "designation"):
        assert f'id="start-{name}-problem"' in answer.text
    again = typed_form(answer.text)
    assert again["instrument_name"] == "My &lt;old&gt; micrometer"
    assert {name: again[name] for name in fields if name != "instrument_name"} == {
        name: text for name, text in fields.items() if name != "instrument_name"
    }
    assert kept_rows(database) == [0, 0, 0, 0, 0]


def test_a_thread_without_wires_is_told_the_best_wire(
    client: TestClient, database: Database
) -> None:
    fields = typed_form(client.get("/start?unit=in").text) | {"designation": "5/8-18 UNF-2A"}
    answer = client.post("/start", data=fields)
    assert answer.status_code == 422
    assert 'id="start-wire-problem"' in answer.text
    assert "0.0321" in answer.text  # P / (2 cos 30°) of 18 TPI
    assert kept_rows(database) == [0, 0, 0, 0, 0]
    assert client.post("/start", data=fields | {"wire": "0.032"}).status_code == 200


def test_an_angle_that_is_no_number_stands_beside_its_field(client: TestClient) -> None:
    fields = typed_form(client.get("/start").text)
    fields |= {"designation": "25 h6", "unit": "mm", "compound_angle_deg": "steep"}
    answer = client.post("/start", data=fields)
    assert answer.status_code == 422
    assert 'id="start-compound_angle_deg-problem"' in answer.text


def test_the_next_time_what_the_crib_has_is_taken(client: TestClient, database: Database) -> None:
    first = typed_form(client.get("/start").text) | {"designation": "25 h6", "unit": "mm"}
    client.post("/start", data=first)
    second = typed_form(client.get("/start").text)
    assert second["lathe_id"] == "1"
    assert second["instrument_id"] == "1"
    second |= {"designation": "30 H7", "unit": "mm", "part_name": "Bush"}
    assert client.post("/start", data=second).status_code == 200
    assert kept_rows(database) == [1, 1, 2, 2, 2]
    gone = client.post("/start", data=second | {"lathe_id": "99"})
    assert gone.status_code == 422
    assert 'id="start-lathe_id-problem"' in gone.text
    assert kept_rows(database) == [1, 1, 2, 2, 2]


@pytest.mark.parametrize(
    ("kind", "designation", "method"),
    [
        ("thread_micrometer", "M20x2.5-6g", "thread_micrometer"),
        ("limit_gauge", "M20x2.5-6H", "gauges"),
        ("limit_gauge", "25 h6", "gauges"),
    ],
)
def test_the_instrument_says_how_a_feature_is_measured(
    client: TestClient, database: Database, kind: str, designation: str, method: str
) -> None:
    fields = typed_form(client.get("/start?unit=mm").text)
    fields |= {"designation": designation, "instrument_kind": kind}
    assert client.post("/start", data=fields, follow_redirects=False).status_code == 303
    with database.reading() as session:
        assert session.exec(select(FeatureRow)).one().method == method


# ---- help


def test_every_screen_has_its_section() -> None:
    keys = {section.key for section in SECTIONS}
    assert len(keys) == len(SECTIONS)
    for view in TEMPLATES:
        help_of = next(each.default for each in fields_of(view) if each.name == "help")
        assert help_of in keys or view is HelpPage, view.__name__


def test_every_section_says_what_for_what_to_do_and_answers_three_questions() -> None:
    for section in SECTIONS:
        assert section.purpose
        assert section.steps
        assert len(section.questions) == 3, section.key
        assert all(each.question.endswith(("?", ".")) and each.answer for each in section.questions)


def test_every_word_of_the_screens_is_in_the_glossary() -> None:
    shown = [
        NO_VERDICT.word,
        *VERDICT_WORDS.values(),
        *WARM_WORDS.values(),
        *(word.capitalize() for word in TOUCH_WORDS.values()),
        *METHOD_WORDS.values(),
        *KIND_WORDS.values(),
        *SLIDE_WORDS.values(),
        *EVENT_WORDS.values(),
        *STATE_WORDS.values(),
        *(word.capitalize() for word in DESIGN_WORDS),
        *TRADE_WORDS,
    ]
    known = {word.lower() for word in MEANINGS}
    assert [word for word in shown if word.lower() not in known] == []
    for word, meaning in MEANINGS.items():
        assert meaning.endswith("."), word
        assert meaning.count(". ") <= 1, f"more than two sentences on {word}"


def test_each_screen_links_to_its_own_section(client: TestClient) -> None:
    fields = typed_form(client.get("/start").text) | {"designation": "25 h6", "unit": "mm"}
    client.post("/start", data=fields)
    text = client.get("/help").text
    for path, key in (
        ("/", "parts"),
        ("/start", "start"),
        ("/parts/1", "part"),
        ("/parts/1/lot", "lot"),
        ("/parts/1/record", "record"),
        ("/targets", "targets"),
        ("/pieces/1/lathe", "lathe"),
        ("/pieces/1/history", "history"),
        ("/pieces/1/working", "working"),
        ("/crib", "crib"),
        ("/shop", "shop"),
        ("/shop/sharing", "sharing"),
        ("/shop/audit", "sharing"),
    ):
        assert f'href="/help#{key}"' in client.get(path).text, path
        assert f'id="{key}"' in text
