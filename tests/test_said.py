"""What is said can be found by the translator's tool, and every place in it is given a value.

The rule is a function from a call to the faults in it, so that planted bad calls can show that it
catches them.
"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import pytest
from jinja2 import Environment, nodes

from tests.messages import ROOT, SOURCES, by_key, extracted, of_scripts, places

LITERAL = {"say": (0,), "say_html": (0,), "say_n": (1, 2), "say_as": (0, 1)}  # arguments, from 0
SAID_BY_SCRIPT = re.compile(r'(?<!function )\bsay\(\s*("(?:[^"\\]|\\.)*"(?=\s*[,)]))?')


@dataclass(frozen=True)
class Call:
    """A call of say or its kin.  An argument that is no literal is None."""

    line: int
    name: str
    literals: tuple[str | None, ...]
    values: frozenset[str] | None  # None where they can't be told from the source

    @property
    def key(self) -> tuple[str | None, str | None]:
        """Context and message, as the catalogue knows it."""
        context, *messages = self.literals if self.name == "say_as" else (None, *self.literals)
        return context, messages[0]


def python_calls(source: str) -> Iterator[Call]:
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", None) or getattr(node.func, "attr", "")
        if name in LITERAL:
            texts = [each.value if isinstance(each, ast.Constant) else None for each in node.args]
            given = [each.arg for each in node.keywords]
            yield Call(node.lineno, name, _picked(name, texts), _values(given))


def template_calls(source: str) -> Iterator[Call]:
    for node in Environment().parse(source).find_all(nodes.Call):
        name = getattr(node.node, "name", "")
        if name in LITERAL:
            texts = [each.value if isinstance(each, nodes.Const) else None for each in node.args]
            given = [each.key for each in node.kwargs] + [None] * bool(node.dyn_kwargs)
            yield Call(node.lineno, name, _picked(name, texts), _values(given))


def script_calls(source: str) -> Iterator[Call]:
    for found in SAID_BY_SCRIPT.finditer(source):
        text = json.loads(found[1]) if found[1] else None
        yield Call(source.count("\n", 0, found.start()) + 1, "say", (text,), None)


def _picked(name: str, texts: list[object]) -> tuple[str | None, ...]:
    texts += [None, None, None]
    picked = (texts[place] for place in LITERAL[name])
    return tuple(each if isinstance(each, str) else None for each in picked)


def _values(names: list[str | None]) -> frozenset[str] | None:
    return None if None in names else frozenset(name for name in names if name)


def call_faults(call: Call) -> list[str]:
    """What a tool can't extract, and places that are given no value or the other way round."""
    if None in call.literals:
        return [f"{call.line}: {call.name} of what is no literal"]
    messages = call.literals[1:] if call.name == "say_as" else call.literals
    asked = set().union(*(places(each) for each in messages if each))
    given = call.values
    if given is None or asked == given | ({"n"} & asked if call.name == "say_n" else set()):
        return []
    return [f"{call.line}: {messages[0]!r} is given {sorted(given)}"]


CALLS_IN = {".py": python_calls, ".html": template_calls, ".js": script_calls}


@cache
def calls() -> dict[str, list[Call]]:
    """All of them by file."""
    return {
        str(path.relative_to(ROOT)): list(CALLS_IN[path.suffix](path.read_text()))
        for folder in SOURCES
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in CALLS_IN
    }


def test_hundreds_of_messages_are_extracted() -> None:
    assert len(extracted()) > 500
    assert len(of_scripts(extracted())) > 5


def test_messages_are_literals_and_their_places_have_values() -> None:
    faults = [
        f"{file}:{fault}"
        for file, found in calls().items()
        for call in found
        for fault in call_faults(call)
    ]

    assert faults == []


def test_the_tool_finds_what_the_code_says_and_nothing_else() -> None:
    """It overlooks a call inside brackets inside another call: say the inner text before."""
    said = {call.key for found in calls().values() for call in found}

    assert said - by_key(extracted()).keys() == set()
    assert by_key(extracted()).keys() - said == set()


def test_a_singular_has_one_plural() -> None:
    """A catalogue knows a plural by its singular."""
    plurals: dict[str | None, set[str | None]] = {}
    for call in (each for found in calls().values() for each in found):
        if call.name == "say_n":
            plurals.setdefault(call.literals[0], set()).add(call.literals[1])

    assert [found for found in plurals.items() if len(found[1]) > 1] == []


@pytest.mark.parametrize(
    ("suffix", "source"),
    [
        (".py", "say(text)"),
        (".py", "say(f'{size} mm')"),
        (".py", "say('a' + 'b')"),
        (".py", "say('a' if first else 'b')"),
        (".py", "say()"),
        (".py", "wording.say(text)"),
        (".py", "say_as(context, 'Step')"),
        (".py", "say_n(count, '{n} reading')"),
        (".py", "say_n(count, '{n} reading', many)"),
        (".py", "say('{size} {unit}', size=1)"),
        (".py", "say('{size}', size=1, unit='mm')"),
        (".py", "say('{size:.1f}', size=1)"),
        (".py", "say('{size.mm}', size=1)"),
        (".py", "say('{size', size=1)"),
        (".py", "say_as('stairs', '{size}')"),
        (".py", "say_n(2, '{n} of {all}', '{n} of {all}')"),
        (".html", "{{ say(text) }}"),
        (".html", "<p title=\"{{ say('a' ~ b) }}\">"),
        (".html", "{% set title = say('a' if first else 'b') %}"),
        (".html", "{{ say_html('<b>{size}</b>') }}"),
        (".html", "{{ say('{size}', unit=1) }}"),
        (".html", "{{ say_n(2, one, '{n} readings') }}"),
        (".js", "button.textContent = say(text);"),
        (".js", "say(`a ${b}`)"),
        (".js", 'say("a" + b)'),
    ],
)
def test_the_guard_of_the_calls_catches(suffix: str, source: str) -> None:
    assert [len(call_faults(call)) for call in CALLS_IN[suffix](source)] == [1]


@pytest.mark.parametrize(
    ("suffix", "source"),
    [
        (".py", "say('a long ' 'text')"),
        (".py", "say('{size}', size=say_as('stairs', 'Step'))"),
        (".py", "say_n(2, 'One reading of {all}', '{n} readings of {all}', all=3)"),
        (".py", "say('{size}', **values)"),
        (".html", "{{ say_html('Aim <b>{size}</b>', size=size) }}{{ say('{a}', **values) }}"),
        (".js", 'function say(message) {}\nsay("Wait {n} min.", { n: 5 }); essay(text)'),
    ],
)
def test_the_guard_of_the_calls_lets_pass(suffix: str, source: str) -> None:
    assert [call_faults(call) for call in CALLS_IN[suffix](source) if call_faults(call)] == []
