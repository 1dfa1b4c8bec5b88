"""How drawings write ISO metric threads: text to its parts, before any table is looked at."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from server.metrology.model import DesignationError
from server.wording import say

TAIL_ACCEPTED = say("a class such as 6g, 5g6g, 6H or 4H5H, the engagement S, N or L, and LH")
_NUMBER = r"[0-9]{1,4}(?:[.,][0-9]{1,4})?|[.,][0-9]{1,4}"
_CLASS = r"[0-9]{1,2}(?:[aA][zZ]|[A-Za-z])(?:[0-9]{1,2}(?:[aA][zZ]|[A-Za-z]))?"
_SIZE = re.compile(rf"[Mm] ?(?P<diameter>{_NUMBER})(?![0-9.,])")
_PITCH = re.compile(
    r"(?: ?[xX*] ?| ?- ?| )"
    rf"(?:[Pp][Hh] ?(?P<lead>{_NUMBER}) ?-? ?[Pp] ?(?P<part>{_NUMBER})(?![0-9.,])"
    rf"|(?P<pitch>{_NUMBER})(?![0-9.,]))(?: ?mm(?![A-Za-z]))?"
)
_TAIL = re.compile(
    rf"[ ,;-]*(?:(?P<klass>{_CLASS})(?:/(?P<mate>{_CLASS}))?(?![0-9a-z])"
    r"|(?P<left>(?:LH|lh|Lh|[Ll][Ee][Ff][Tt](?:[ -][Hh][Aa][Nn][Dd])?)(?![A-Za-z]))"
    r"|(?P<right>(?:RH|rh|Rh|[Rr][Ii][Gg][Hh][Tt](?:[ -][Hh][Aa][Nn][Dd])?)(?![A-Za-z]))"
    r"|(?P<engagement>[SNLsnl])(?![A-Za-z0-9])"
    r"|\((?P<starts>two|three|four|[2-9]) starts\))"
)


@dataclass(frozen=True)
class Spelling:
    """The parts of a metric designation as written.  Lengths [mm]."""

    diameter: Decimal
    pitch: Decimal | None
    lead: Decimal | None
    tolerance_class: str | None
    mating_class: str | None  # of a pair such as 6H/6g
    hand: str
    engagement: str | None  # S, N or L


def parts(text: str) -> Spelling | None:
    """The parts of a metric designation; None where it is of another family.

    text  normalised, letter case kept: 6g is not 6G
    Raises DesignationError where it is a metric thread and a part of it can't be read.
    """
    if re.match(r"[Mm][Jj] ?[0-9]", text):
        raise DesignationError(
            say(
                "MJ threads (ISO 5855) are not covered; write M with a class for a plain metric "
                "one."
            ),
            code="not_in_standard",
            part=text[:2],
            accepted=say("M, such as M10x1.5-6g"),
            nearest=("M" + text[2:].strip(),),
        )
    size = _SIZE.match(text)
    if size is None:
        return None
    pitch = _pitch(text, size.end())
    found = _tail(text, pitch.end() if pitch else size.end())
    step = lead = None
    if pitch is not None:
        step = _decimal(pitch["pitch"] or pitch["part"])
        lead = _decimal(pitch["lead"]) if pitch["lead"] else None
    return Spelling(
        diameter=_decimal(size["diameter"]),
        pitch=step,
        lead=lead,
        tolerance_class=found.get("klass"),
        mating_class=found.get("mate"),
        hand="left" if "left" in found else "right",
        engagement=found["engagement"].upper() if "engagement" in found else None,
    )


def _pitch(text: str, at: int) -> re.Match[str] | None:
    """The pitch; None where what follows a dash or space is a class, as in M10-6g."""
    pitch = _PITCH.match(text, at)
    if pitch is None or any(mark in pitch.group() for mark in "xX*"):
        return pitch
    begins_class = re.match(r"[A-Za-z]", text[pitch.end() :]) is not None
    return None if begins_class else pitch


def _tail(text: str, at: int) -> dict[str, str]:
    found: dict[str, str] = {}
    while at < len(text):
        piece = _TAIL.match(text, at)
        if piece is None:
            raise _unread(text[at:].strip(" -,;") or text[at:])
        for name, value in piece.groupdict().items():
            if value is not None:
                if name in found:
                    raise _unread(value)
                found[name] = value
        at = piece.end()
    return found


def _unread(part: str) -> DesignationError:
    return DesignationError(
        say(
            "“{part}” could not be read after the size and pitch; write {accepted}.",
            part=part,
            accepted=TAIL_ACCEPTED,
        ),
        part=part,
        accepted=TAIL_ACCEPTED,
        nearest=("M10x1.5-6g", "M10x1.5-6H"),
    )


def _decimal(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))
