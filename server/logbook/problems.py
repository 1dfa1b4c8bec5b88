"""What goes wrong in a way that a person can mend, and how it is said."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from server.metrology.model import OutOfRange
from server.metrology.units import NotANumber, read_number
from server.wording import say, words_of


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: a stable code, a sentence, and the field it stands beside."""

    code: str
    message: str
    field: str = ""


class Refused(Exception):
    """A request that was not carried out; nothing was stored."""

    def __init__(self, status: int, problem: Problem, *more: Problem) -> None:
        super().__init__(problem.message)
        self.status = status
        self.problems = (problem, *more)

    @property
    def problem(self) -> Problem:
        return self.problems[0]


def refuse(status: int, code: str, message: str, field: str = "") -> Refused:
    return Refused(status, Problem(code, message, field))


def no_such(what: str, number: int) -> str:
    return say("There is no {what} with number {number}.", what=what, number=number)


def reason_of(error: Exception, unit: str) -> str:
    """What an error says, a size that is out of range in the unit given."""
    return error.words(unit) if isinstance(error, OutOfRange) else words_of(error)


def not_found(what: str, number: int) -> Refused:
    return refuse(404, "not_found", no_such(what, number))


def number_typed(text: str, field: str, *, is_comma_decimal: bool = False) -> Decimal:
    """The number typed into a field, or Refused with what is accepted."""
    try:
        return read_number(text, is_comma_decimal=is_comma_decimal)
    except NotANumber as error:
        raise refuse(422, "not_a_number", words_of(error), field) from error


def positive_typed(text: str, field: str, what: str, *, is_comma_decimal: bool = False) -> Decimal:
    value = number_typed(text, field, is_comma_decimal=is_comma_decimal)
    if value <= 0:
        message = say("{what} is {number}; it must be above 0.", what=what, number=text.strip())
        raise refuse(422, "not_positive", message, field)
    return value


def one_of(text: str, allowed: tuple[str, ...], field: str, what: str) -> str:
    """The text if it is one of the words allowed, or Refused naming them."""
    if text in allowed:
        return text
    shown = text if len(text) <= 40 else text[:40] + "…"
    message = say(
        "{what} “{text}” is not known; use {choices}.",
        what=what,
        text=shown,
        choices=", ".join(allowed),
    )
    raise refuse(422, "not_a_choice", message, field)


def short_text(text: str, field: str, what: str, longest: int = 200) -> str:
    """Trimmed text without control characters, not empty, not endless; or Refused."""
    trimmed = text.strip()
    if not trimmed:
        raise refuse(422, "empty", say("{what} is empty; type a few words.", what=what), field)
    return optional_text(trimmed, field, what, longest)


def optional_text(text: str, field: str, what: str, longest: int = 1000) -> str:
    """Trimmed text without control characters, not endless; or Refused."""
    return exact_text(text.strip(), field, what, longest)


def exact_text(text: str, field: str, what: str, longest: int = 1000) -> str:
    """The text as typed, blanks at its ends included; Refused where it can't be shown or kept."""
    if len(text) > longest:
        message = say(
            "{what} has {count} characters; {longest} fit.",
            what=what,
            count=len(text),
            longest=longest,
        )
        raise refuse(422, "too_long", message, field)
    if any(ord(letter) < 32 and letter not in "\n\r\t" for letter in text) or "\x7f" in text:
        message = say("{what} holds characters that can't be shown.", what=what)
        raise refuse(422, "unprintable", message, field)
    if any(0xD800 <= ord(letter) <= 0xDFFF for letter in text):
        message = say("{what} holds characters that can't be stored.", what=what)
        raise refuse(422, "unprintable", message, field)
    return text
