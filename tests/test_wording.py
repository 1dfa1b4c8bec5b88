"""A text is its English self to everybody, and can be told in another language."""

from __future__ import annotations

import copy
import json
import pickle
import sqlite3
from dataclasses import asdict, dataclass

import pytest

from server.wording import (
    Said,
    changed,
    either,
    joined,
    say,
    say_as,
    say_n,
    sentence,
    told,
    words_of,
)


class Words(dict[str, str]):
    """A small catalogue; a context stands before its message and a bar."""

    def gettext(self, message: str) -> str:
        return self.get(message, message)

    def ngettext(self, one: str, many: str, count: int) -> str:
        return self.gettext(one if count == 1 else many)

    def pgettext(self, context: str, message: str) -> str:
        return self.get(f"{context}|{message}", message)


GERMAN = Words(
    {
        "Wait {minutes} min.": "{minutes} min warten.",
        "measure again": "erneut messen",
        "bore": "Bohrung",
        "{what} is small": "{what} ist klein",
        "{n} reading of {what}": "{n} Messwert: {what}",
        "{n} readings of {what}": "{n} Messwerte: {what}",
        "stairs|Step": "Stufe",
        "cut|Step": "Schritt",
        ", ": "; ",
        "or so": "oder so",
        "{others} or {last}": "{others} oder {last}",
    }
)


def test_a_text_is_its_english_self() -> None:
    text = say("Wait {minutes} min.", minutes=5)

    assert text == "Wait 5 min."
    assert {text: 1}["Wait 5 min."] == 1
    assert f"{text}" == str(text) == "Wait 5 min."
    assert type(str(text)) is str


@pytest.mark.parametrize(
    ("text", "english", "german"),
    [
        (say("Wait {minutes} min.", minutes=5), "Wait 5 min.", "5 min warten."),
        (say("measure again"), "measure again", "erneut messen"),
        (say("not in the catalogue"), "not in the catalogue", "not in the catalogue"),
        (say("{what} is small", what="bore"), "bore is small", "bore ist klein"),
        (say("{what} is small", what=say("bore")), "bore is small", "Bohrung ist klein"),
        (say("{what} is small", what="{what}"), "{what} is small", "{what} ist klein"),
        (say_as("stairs", "Step"), "Step", "Stufe"),
        (say_as("cut", "Step"), "Step", "Schritt"),
        (
            say_n(1, "{n} reading of {what}", "{n} readings of {what}", what=say("bore")),
            "1 reading of bore",
            "1 Messwert: Bohrung",
        ),
        (
            say_n(0, "{n} reading of {what}", "{n} readings of {what}", what="A"),
            "0 readings of A",
            "0 Messwerte: A",
        ),
        (say("bore") + " 3", "bore 3", "Bohrung 3"),
        ("3: " + say("bore"), "3: bore", "3: Bohrung"),
        (say("bore") + say("measure again"), "boremeasure again", "Bohrungerneut messen"),
        (joined([say("bore"), "", "H7"]), "bore, H7", "Bohrung, H7"),
        (joined([say("bore"), "H7"], say(", ")), "bore, H7", "Bohrung; H7"),
        (joined([]), "", ""),
        (sentence(say("measure again")), "Measure again.", "Erneut messen."),
        (sentence(say("Wait {minutes} min.", minutes=5)), "Wait 5 min.", "5 min warten."),
        (sentence(" is it cold? "), "Is it cold?", "Is it cold?"),
        (sentence(""), "", ""),
        (either(["H7"]), "H7", "H7"),
        (either([say("bore"), "H7"]), "bore or H7", "Bohrung oder H7"),
        (either(["a", "b", say("or so")]), "a, b or or so", "a, b oder oder so"),
        (changed(say("bore"), str.upper), "BORE", "BOHRUNG"),
    ],
)
def test_it_is_told_in_another_language(text: Said, english: str, german: str) -> None:
    assert text == english
    assert isinstance(text, Said)
    assert text.retold(GERMAN) == german


def test_a_text_that_is_built_up_goes_on_being_told() -> None:
    text = say("bore")
    text += ": "
    text += say("measure again")

    assert text == "bore: measure again"
    assert told(text, GERMAN) == "Bohrung: erneut messen"


def test_values_that_were_not_said_are_told_as_they_are() -> None:
    assert told("bore", GERMAN) == "bore"
    assert told(5, GERMAN) == 5


def test_an_error_keeps_the_words_of_its_message() -> None:
    class Refused(ValueError):
        def __init__(self, message: str, code: str) -> None:
            super().__init__(message)
            self.code = code

    assert told(words_of(ValueError(say("bore"))), GERMAN) == "Bohrung"
    assert told(words_of(Refused(say("bore"), "no_bore")), GERMAN) == "Bohrung"
    assert words_of(ValueError("bore")) == "bore"
    assert words_of(ValueError()) == ""
    assert words_of(OSError(28, "No space left")) == "[Errno 28] No space left"


def test_what_is_sent_and_stored_is_the_english() -> None:
    text = say("{what} is small", what=say("bore"))
    stored = sqlite3.connect(":memory:").execute("SELECT ?", (text,)).fetchone()

    assert json.loads(json.dumps({"message": text})) == {"message": "bore is small"}
    assert stored == ("bore is small",)
    assert type(stored[0]) is str


def test_a_copy_can_still_be_told() -> None:
    @dataclass(frozen=True)
    class Note:
        text: str

    note = Note(say("bore"))

    assert told(copy.deepcopy(note).text, GERMAN) == "Bohrung"
    assert told(asdict(note)["text"], GERMAN) == "Bohrung"


def test_a_shallow_copy_keeps_it_and_what_leaves_the_process_is_plain_text() -> None:
    said = say("Wait {minutes} min.", minutes=5)
    assert copy.copy(said) is said
    sent = pickle.loads(pickle.dumps(said))
    assert (type(sent), sent) == (str, "Wait 5 min.")
