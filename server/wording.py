"""Text for people that can be shown in another language later.

`say` makes a text that is its English self to everything that handles strings, and still knows
what it was made of.  The screen that shows it asks for it in the reader's language; stored text,
JSON and logs stay English.  The English text is the key of the catalogue, so that the code reads
as the screen does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from typing import Protocol, TypeVar

T = TypeVar("T")


class Catalogue(Protocol):
    """One language: gettext.NullTranslations and its kin."""

    def gettext(self, message: str, /) -> str: ...
    def ngettext(self, one: str, many: str, count: int, /) -> str: ...
    def pgettext(self, context: str, message: str, /) -> str: ...


class Said(str):
    """An English text with a way to say it in another language.  Added to text it stays one."""

    __slots__ = ("_retell",)
    _retell: Callable[[Catalogue], str]

    def __new__(cls, english: str, retell: Callable[[Catalogue], str]) -> Said:
        made = super().__new__(cls, english)
        made._retell = retell
        return made

    def retold(self, catalogue: Catalogue) -> str:
        return self._retell(catalogue)

    def __add__(self, other: str) -> Said:
        return joined((self, other), "")

    def __radd__(self, other: str) -> Said:
        return joined((other, self), "")

    def __copy__(self) -> Said:
        return self

    def __deepcopy__(self, memo: object) -> Said:
        return self

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        return str, (str(self),)  # what leaves the process is plain text


def say(message: str, /, **values: object) -> Said:
    """The message with its {names} filled in.  Values that were said are told anew as well.

    >>> say("Wait {minutes} min.", minutes=5)
    'Wait 5 min.'
    """
    if not values:
        return _plain(message)
    return _filled(message, values, lambda catalogue: catalogue.gettext(message))


def say_as(context: str, message: str, /, **values: object) -> Said:
    """As say, for a short word that means two things: context tells the translator which."""
    return _filled(message, values, lambda catalogue: catalogue.pgettext(context, message))


def say_n(count: int, one: str, many: str, /, **values: object) -> Said:
    """As say, with the form that goes with a count; {n} is the count.

    >>> say_n(1, "{n} reading", "{n} readings")
    '1 reading'
    """
    english = one if count == 1 else many
    return _filled(
        english, {"n": count, **values}, lambda catalogue: catalogue.ngettext(one, many, count)
    )


@cache
def _plain(message: str) -> Said:
    """Most messages have no values, and there are only so many: each is made once."""
    return Said(message, lambda catalogue: catalogue.gettext(message))


def _filled(english: str, values: dict[str, object], find: Callable[[Catalogue], str]) -> Said:
    return Said(
        english.format(**values) if values else english,
        lambda catalogue: (
            find(catalogue).format(
                **{name: told(value, catalogue) for name, value in values.items()}
            )
            if values
            else find(catalogue)
        ),
    )


def told(value: T, catalogue: Catalogue) -> T | str:
    """A value in that language if it was said, else the value itself."""
    return value.retold(catalogue) if isinstance(value, Said) else value


def joined(parts: Iterable[str], separator: str = ", ") -> Said:
    """The parts that are not empty, in a row."""
    kept = [part for part in parts if part]
    return Said(
        separator.join(kept),
        lambda catalogue: told(separator, catalogue).join(told(part, catalogue) for part in kept),
    )


def changed(text: str, change: Callable[[str], str]) -> Said:
    """The text put through a function of text, in whichever language it is shown."""
    return Said(change(str(text)), lambda catalogue: change(told(text, catalogue)))


def sentence(text: str) -> Said:
    """With a capital first letter and a full stop, unless it ends as a sentence; "" stays "".

    >>> sentence("measure again")
    'Measure again.'
    """
    return changed(text, _as_sentence)


def _as_sentence(plain: str) -> str:
    trimmed = plain.strip()
    if not trimmed:
        return ""
    return trimmed[0].upper() + trimmed[1:] + ("" if trimmed[-1] in ".!?" else ".")


def either(ways: Iterable[str]) -> Said:
    """The ways in a row with "or" before the last."""
    *others, last = ways
    return say("{others} or {last}", others=joined(others), last=last) if others else joined([last])


def words_of(error: Exception) -> str:
    """The message of an error as it was said; str(error) would be English for good."""
    first = error.args[0] if error.args else ""
    return first if isinstance(first, Said) else str(error)
