"""Sizes whose limits the drawing states in figures: 12.70 +0.00/-0.02, 12.7 ±0.01, 24.98/25.00."""

from __future__ import annotations

import re
from decimal import Decimal

from server.metrology.model import DesignationError, Kind, Limits, PlainTarget
from server.metrology.units import NotANumber, decimals_typed, read_number, to_mm
from server.wording import either, say, words_of

ACCEPTED = either(("12.70 +0.00/-0.02", "12.7 ±0.01", "12.7 +0.02 -0.01", "24.98/25.00", "25 h6"))
LARGEST_MM = 3150.0  # the largest size ISO 286 speaks of
SOURCE = say("limits stated on the drawing")

_NUMBER = r"(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_SIGNED = rf"[+-]\s*{_NUMBER}|0+(?:[.,]0*)?"
_EITHER_SIDE = re.compile(rf"({_NUMBER})\s*±\s*({_NUMBER})")
_TWO_SIDES = re.compile(
    rf"({_NUMBER})(?:\s+|(?=[+-]))({_SIGNED})(?:\s*/\s*|\s+|(?=[+-]))({_SIGNED})"
)
_ONE_SIDE = re.compile(rf"({_NUMBER})(\s*\+|\s+-)\s*({_NUMBER})")
_TWO_LIMITS = re.compile(rf"({_NUMBER})\s*(/|-|to)\s*({_NUMBER})")
_FIGURES_ONLY = re.compile(r"[\d.,±+\-/ ]+")
_UNIT = re.compile(r"(?<=[\d. ])\s*(?:(mm)|inches|inch|in)\b(?!\.\w)|(?<=[\d. ])\s*\"", re.I)
_PLAIN_FORMS = str.maketrans(
    {"−": "-", "–": "-", "″": '"', "”": '"', "“": '"', "Ø": "", "⌀": "", "ø": "", "∅": ""}
)


def unit_written(text: str) -> tuple[str | None, str]:
    """The unit that text itself writes ("in", "mm" or None), and the text without it.

    Raises DesignationError where it writes both.
    """
    plain = text.translate(_PLAIN_FORMS).replace("+/-", "±").replace("+-", "±")
    found = {"mm" if match[1] else "in" for match in _UNIT.finditer(plain)}
    if len(found) > 1:
        raise DesignationError(
            say("the size is written in both inches and mm"),
            part=text.strip(),
            accepted=say("one unit"),
        )
    bare = " ".join(_UNIT.sub(" ", plain).split())
    return (found.pop() if found else None), bare


def read(text: str, kind: Kind | None, unit: str) -> PlainTarget | None:
    """The size that text states in figures, or None where it states none.

    text  without its unit, as unit_written leaves it
    unit  "in" or "mm"
    Raises DesignationError for a tolerance of zero, an absurd size or a missing tolerance.
    """
    if re.fullmatch(_NUMBER, text):
        raise DesignationError(
            say("“{text}” has no tolerance", text=text),
            part=text,
            accepted=ACCEPTED,
            nearest=_examples(text),
        )
    limits = _stated(text)
    if limits is None:
        if _FIGURES_ONLY.fullmatch(text) and ("±" in text or "+" in text):
            raise DesignationError(
                say("“{text}” can't be read as a size with its tolerance", text=text),
                part=text,
                accepted=ACCEPTED,
            )
        return None
    name, nominal, low, high, notes = limits
    checked = _checked_kind(kind, text)
    _check(text, nominal, low, high, unit)
    places = max(decimals_typed(each) for each in re.findall(_NUMBER, text))
    return PlainTarget(
        designation=f"{name} {unit}",
        family="stated",
        kind=checked,
        nominal_mm=to_mm(nominal, unit),
        tolerance_class="stated",
        size=Limits(to_mm(low, unit), to_mm(high, unit)),
        unit=unit,
        decimals=places,
        source=SOURCE,
        notes=notes,
    )


_Stated = tuple[str, Decimal, Decimal, Decimal, tuple[str, ...]]


def _stated(text: str) -> _Stated | None:
    if either := _EITHER_SIDE.fullmatch(text):
        nominal, half = _number(either[1]), _number(either[2])
        return f"{nominal:f} ±{half:f}", nominal, nominal - half, nominal + half, ()
    if two := _TWO_SIDES.fullmatch(text):
        nominal = _number(two[1])
        return _with_deviations(nominal, _number(two[2]), _number(two[3]), ())
    one = _ONE_SIDE.fullmatch(text)
    if one and ("+" in one[2] or _number(one[3]) * 10 < _number(one[1])):
        nominal, size = _number(one[1]), _number(one[3])
        step = size if "+" in one[2] else -size
        note = (
            say("no upper deviation written: taken as 0")
            if step < 0
            else say("no lower deviation written: taken as 0")
        )
        return _with_deviations(nominal, step, size * 0, (note,))
    limits = _TWO_LIMITS.fullmatch(text)
    if limits and (limits[2] == "to" or _has_mark(limits[1]) or _has_mark(limits[3])):
        if limits[2] == "-" and not (_has_mark(limits[1]) and _has_mark(limits[3])):
            return None
        low, high = sorted((_number(limits[1]), _number(limits[3])))
        return f"{low:f}/{high:f}", high, low, high, ()
    return None


def _with_deviations(nominal: Decimal, a: Decimal, b: Decimal, notes: tuple[str, ...]) -> _Stated:
    lower, upper = sorted((a, b))
    places = max(0, *(-int(each.as_tuple().exponent) for each in (lower, upper)))
    name = f"{nominal:f} {_signed(upper, places, '+')}/{_signed(lower, places, '-')}"
    return name, nominal, nominal + lower, nominal + upper, notes


def _signed(value: Decimal, places: int, sign_of_zero: str) -> str:
    if value == 0:
        return f"{sign_of_zero}{abs(value):.{places}f}"
    return f"{value:+.{places}f}"


def _has_mark(number: str) -> bool:
    return "." in number or "," in number


def _number(text: str) -> Decimal:
    try:
        return read_number(text.replace(" ", ""))
    except NotANumber as wrong:
        raise DesignationError(words_of(wrong), part=text, accepted=ACCEPTED) from None


def _checked_kind(kind: Kind | None, text: str) -> Kind:
    if kind is not None and kind.is_thread:
        raise DesignationError(
            say("“{text}” is a plain size, not a thread", text=text),
            part=text,
            accepted=say("a thread designation"),
        )
    return kind or Kind.OUTSIDE_DIAMETER


def _check(text: str, nominal: Decimal, low: Decimal, high: Decimal, unit: str) -> None:
    if low == high:
        raise DesignationError(
            say("“{text}” leaves a tolerance of zero", text=text), part=text, accepted=ACCEPTED
        )
    if low <= 0 or nominal <= 0:
        raise DesignationError(
            say(
                "“{text}” reaches down to {low} {unit}; a size stays over zero",
                text=text,
                low=low,
                unit=unit,
            ),
            part=text,
            accepted=ACCEPTED,
        )
    if high > low * Decimal("1.5") and high - low > nominal / 2:
        raise DesignationError(
            say(
                "“{text}” lets the size go from {low} to {high} {unit}; is a sign or a point "
                "missing?",
                text=text,
                low=low,
                high=high,
                unit=unit,
            ),
            part=text,
            accepted=ACCEPTED,
        )
    if to_mm(high, unit) > LARGEST_MM:
        raise DesignationError(
            say(
                "“{text}” is {size} mm; sizes end at {most} mm",
                text=text,
                size=f"{to_mm(high, unit):.0f}",
                most=f"{LARGEST_MM:.0f}",
            ),
            part=text,
            accepted=say("a size up to {most} mm", most=f"{LARGEST_MM:.0f}"),
        )


def _examples(text: str) -> tuple[str, ...]:
    return (f"{text} ±0.05", f"{text} +0.00/-0.05", f"{text} h7")
