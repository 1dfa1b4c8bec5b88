"""A size that can't be, said in the unit that the reader works in, with open ends left open."""

from __future__ import annotations

from gettext import NullTranslations

import pytest

from server.metrology.model import OutOfRange
from server.wording import Catalogue, say, told, words_of
from tests.web.other_words import WideWords, wide

WIRE = say("wire diameter")


@pytest.mark.parametrize(
    ("lower", "upper", "unit", "words"),
    [
        (5.08, 12.7, "mm", "the wire diameter is 2.540 mm; it must be 5.080 to 12.700 mm"),
        (5.08, 12.7, "in", "the wire diameter is 0.1000 in; it must be 0.2000 to 0.5000 in"),
        (5.08, None, "mm", "the wire diameter is 2.540 mm; it must be above 5.080 mm"),
        (0, None, "in", "the wire diameter is 0.1000 in; it must be above 0.0000 in"),
        (None, 2.0, "in", "the wire diameter is 0.1000 in; it must be below 0.0787 in"),
        (None, None, "mm", "the wire diameter 2.540 mm can't be"),
        (22.456789123456, None, "mm", "the wire diameter is 2.540 mm; it must be above 22.457 mm"),
    ],
)
def test_it_is_said_in_the_unit_asked_for(
    lower: float | None, upper: float | None, unit: str, words: str
) -> None:
    assert OutOfRange(WIRE, 2.54, lower, upper, "mm").words(unit) == words


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("rpm", "the speed is 99999 rpm; it must be 0 to 5000 rpm"),
        ("deg", "the speed is 99999 deg; it must be 0 to 5000 deg"),
        ("°C", "the speed is 99999 °C; it must be 0 to 5000 °C"),
        ("in", "the speed is 99999 in; it must be 0 to 5000 in"),
        ("", "the speed is 99999; it must be 0 to 5000"),
    ],
)
def test_what_is_no_length_in_mm_keeps_its_unit(unit: str, words: str) -> None:
    error = OutOfRange("speed", 99999, 0, 5000, unit)
    assert error.words("in") == words
    assert str(error) == words


@pytest.mark.parametrize("unit", ["rpm", "deg"])
def test_units_that_are_words_are_told(unit: str) -> None:
    error = OutOfRange(WIRE, 7, 0, 5, unit)
    english: Catalogue = NullTranslations()
    assert told(words_of(error), english) == error.words("mm")
    assert str(told(words_of(error), WideWords())).count(wide(unit)) == 2
