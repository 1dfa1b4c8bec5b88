"""The audit trail is kept in English and told in any language."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator

import pytest

from server.demo import fill_if_empty
from server.logbook.entries import ANY_ENTRY, FINISHED_AS
from server.logbook.trail import trail
from server.pages.audit_words import ACTIONS, WORDS, about_told, as_told
from server.pages.entry_lines import UNDONE
from server.records.database import Database
from server.settings import Settings
from server.wording import Said, told
from tests.messages import ROOT
from tests.web.other_words import WORD, WideWords, wide

IN_PLACE: dict[str, Iterable[str]] = {  # what an f-string of an action may hold, as the code writes
    "row.type": ANY_ENTRY,
    "asked.closed_as": FINISHED_AS,
    "was": FINISHED_AS,
}


def actions_noted() -> Iterator[str]:
    """Every action that is noted anywhere."""
    for path in (ROOT / "server").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and "note_change" in ast.unparse(node.func):
                yield from actions_of(node.args[3])


def actions_of(noted: ast.expr) -> Iterator[str]:
    match noted:
        case ast.Constant(value=str(action)):
            yield action
        case ast.JoinedStr():
            text = ast.unparse(noted)[2:-1]
            (place,) = re.findall(r"\{(.*?)\}", text)
            yield from (text.replace(f"{{{place}}}", each) for each in IN_PLACE[place])
        case _:
            pytest.fail(f"an action this test can't read: {ast.unparse(noted)}")


def test_every_action_that_is_noted_can_be_told_and_no_other() -> None:
    actions = list(actions_noted())

    assert len(actions) > 30
    assert set(actions) == set(ACTIONS)


@pytest.mark.parametrize(
    ("action", "about", "english", "names"),
    [
        ("reading logged", "entry 7, piece 3", "entry 7, piece 3", []),
        ("reading struck", "7: Chip", "7: Chip", ["Chip"]),
        ("pass struck", f"7: {UNDONE}", "7: Undone at the lathe", []),
        ("piece finished as good", "piece 3: ", "piece 3", []),
        ("piece finished as scrap", "piece 3: Slip", "piece 3: Slip", ["Slip"]),
        ("piece finished as good reworked", "piece 3: Tight", "piece 3: Tight", ["Tight"]),
        ("piece opened", "Pin, piece 9, piece 3", "Pin, piece 9, piece 3", ["Pin, piece 9"]),
        ("part copied", "Pin to Pin 2", "Pin to Pin 2", ["Pin"]),
        (
            "part copied",
            "A to B to C",
            "A to B to C",
            ["A to B to C"],
        ),  # where the first name ends is lost
        ("set-up changed", "feature 3: cross_slide", "feature 3: Cross-slide", []),
        (
            "shop settings",
            "in, u_guard, 0.0050",
            "inch; ISO 14253-1, guard band of the whole doubt (g = U); chance past a limit 0.5 %",
            [],
        ),
        ("shop settings", "as it was", "as it was", ["as it was"]),
        ("pairing code made", "role log", "role log", []),
        ("pairing code ended", "too many wrong tries", "too many wrong tries", []),
        ("device paired", "Tablet, role look", "Tablet, role look", ["Tablet"]),
        ("lathe added", "Little lathe", "Little lathe", ["Little lathe"]),
    ],
)
def test_what_a_line_is_about_is_told(
    action: str, about: str, english: str, names: list[str]
) -> None:
    found = about_told(action, about)

    assert found == english
    shown = told(found, WideWords())
    for name in names:
        assert name in shown
        shown = shown.replace(name, "")
    assert WORD.findall(shown.replace("ISO", "")) == []


def test_the_lines_of_the_demo_are_told(database: Database, settings: Settings) -> None:
    fill_if_empty(database, settings)

    with database.reading() as session:
        lines = trail(session)

    assert {row.action for row in lines} <= set(ACTIONS)
    assert all(isinstance(as_told(row.device), Said) for row in lines)
    assert {told(as_told(row.action), WideWords()) for row in lines} <= set(map(wide, WORDS))
