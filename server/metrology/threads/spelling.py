"""Parts that designations of several thread families share: inch sizes and the words at the end."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from server.metrology.model import DesignationError, Kind
from server.wording import say

INCH_SIZE = r"(?:[0-9]{1,2}[ -])?[0-9]{1,3}/[0-9]{1,3}|[0-9]{0,3}[.,][0-9]{1,6}|[0-9]{1,2}"
_HAND = {"LH": "left", "LEFT": "left", "L.H.": "left", "RH": "right", "RIGHT": "right"}
_STARTS = re.compile(r"\(?([0-9]{1,2})[ -]?STARTS?\)?")
_STARTS_IN_WORDS = {"SINGLE": 1, "DOUBLE": 2, "TRIPLE": 3, "TREBLE": 3, "QUADRUPLE": 4}
MOST_STARTS = 12
_PLAIN_FEATURES = {
    Kind.OUTSIDE_DIAMETER: say("outside diameter"),
    Kind.BORE: say("bore"),
    Kind.GROOVE_DIAMETER: say("groove diameter"),
    Kind.LENGTH: say("length"),
}


@dataclass(frozen=True)
class Tail:
    """What stands after the family of a designation."""

    words: tuple[str, ...]  # the ones not understood here, in order
    hand: str
    starts: int


def refuse_plain(text: str, kind: Kind | None) -> None:
    """Raises DesignationError where the feature that a thread is typed for is no thread."""
    if kind is not None and not kind.is_thread:
        raise DesignationError(
            say(
                "“{text}” is a thread; the feature is given as {feature}",
                text=text,
                feature=_PLAIN_FEATURES[kind],
            ),
            part=text,
            accepted=say("an external or an internal thread, or a plain size as 25 h6"),
        )


def other_side(tolerance_class: str, is_internal: bool, other: str) -> str:
    """What to say of a class of internal threads on an external one, or the other way round."""
    if is_internal:
        return say(
            "Class {written} is for internal threads; the feature is given as external thread. "
            "Write {other}.",
            written=tolerance_class,
            other=other,
        )
    return say(
        "Class {written} is for external threads; the feature is given as internal thread. "
        "Write {other}.",
        written=tolerance_class,
        other=other,
    )


def tail(text: str) -> Tail:
    """Hand and starts out of the end of a designation in capitals, and the words left over.

    Raises DesignationError for no starts or too many.
    """
    starts = 1
    counted = _STARTS.search(text)
    if counted:
        starts = int(counted[1])
        text = text[: counted.start()] + " " + text[counted.end() :]
    hand = "right"
    words: list[str] = []
    for word in re.split(r"[\s,;()-]+", text):
        if word in _HAND:
            hand = _HAND[word]
        elif word in _STARTS_IN_WORDS:
            starts = _STARTS_IN_WORDS[word]
        elif word and word not in ("HAND", "START"):
            words.append(word)
    if not 1 <= starts <= MOST_STARTS:
        raise DesignationError(
            say("{starts} starts can't be read", starts=starts),
            part=str(starts),
            accepted=say("1 to {most} starts", most=MOST_STARTS),
        )
    return Tail(tuple(words), hand, starts)


def inch_size(text: str) -> Decimal:
    """A size in inches as written: 1 1/2, 3/4, .625 or 2.

    Raises DesignationError for a size of zero.
    """
    plain = text.strip().replace(",", ".")
    if "/" in plain:
        whole, _, rest = plain.replace("-", " ").rpartition(" ")
        top, bottom = (int(each) for each in rest.split("/"))
        if bottom == 0:
            raise DesignationError(
                say("“{text}” divides by zero", text=text),
                part=text,
                accepted=say("as 3/4 or .75"),
            )
        exact = Fraction(int(whole or 0)) + Fraction(top, bottom)
        value = Decimal(exact.numerator) / Decimal(exact.denominator)
    else:
        value = Decimal(plain)
    if value <= 0:
        raise DesignationError(
            say("“{text}” is no size", text=text), part=text, accepted=say("as 3/4 or .75")
        )
    return value


def inch_shown(value: Decimal) -> str:
    """A size in inches the way it is usually written: a fraction to 1/32, else decimals.

    >>> inch_shown(Decimal("1.5"))
    '1 1/2'
    """
    exact = Fraction(value)
    if exact.denominator not in (1, 2, 4, 8, 16, 32):
        text = f"{round(value, 6).normalize():f}"
        whole, _, places = text.partition(".")
        return f"{whole}.{places.ljust(3, '0')}"
    whole_part, rest = divmod(exact.numerator, exact.denominator)
    if rest == 0:
        return str(whole_part)
    fraction = f"{rest}/{exact.denominator}"
    return f"{whole_part} {fraction}" if whole_part else fraction


def rounded_in(value: Decimal, rounding: str = ROUND_HALF_UP) -> Decimal:
    """To four decimals of an inch, halves up unless told."""
    return value.quantize(Decimal("0.0001"), rounding)


def inch_mm(value: Decimal) -> float:
    return float(value * Decimal("25.4"))
