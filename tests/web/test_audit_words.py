"""The audit trail is kept in English and told in any language."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from server.demo import fill_if_empty
from server.logbook.trail import WORDS, about_told, as_told, trail
from server.records.database import Database
from server.settings import Settings
from server.wording import Said
from tests.messages import ROOT


def actions_noted() -> Iterator[str]:
    """Every action that is noted under a name of its own."""
    for path in (ROOT / "server").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "note_change":
                yield from (each.value for each in node.args[3:4] if isinstance(each, ast.Constant))


def test_every_action_that_is_noted_can_be_told() -> None:
    actions = list(actions_noted())

    assert len(actions) > 10
    assert set(actions) <= set(WORDS)


def test_the_lines_of_the_demo_are_told_as_they_were_kept(
    database: Database, settings: Settings
) -> None:
    fill_if_empty(database, settings)

    with database.reading() as session:
        lines = trail(session)
    about = {row.action: about_told(row.action, row.about) for row in lines}

    assert {row.action for row in lines} <= set(WORDS)
    assert all(isinstance(as_told(row.device), Said) for row in lines)
    kept = [row.about.removesuffix(": ") for row in lines]  # no reason was given
    assert [about_told(row.action, row.about) for row in lines] == kept
    assert isinstance(about["reading logged"], Said)
    assert isinstance(about["piece finished as good"], Said)
    assert not isinstance(about["lathe added"], Said)
