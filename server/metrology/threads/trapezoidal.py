"""ISO metric trapezoidal threads, 30 degrees, from a designation to limits."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.tables import rows
from server.metrology.threads import trapezoidal_tolerances as tolerances
from server.metrology.threads.spelling import refuse_plain, tail
from server.wording import either, say

ACCEPTED = either(("Tr40x7-7e", "Tr40x7-7H", "Tr40x14(P7)-7e", "Tr40x7LH-8c"))
SOURCE = say("ISO 2901, ISO 2903 and ISO 2904")
CLASSES = ("7e", "8e", "9e", "7c", "8c", "9c", "7H", "8H", "9H")
_NUMBER = r"[0-9]{1,4}(?:[.,][0-9]{1,3})?"
_FORM = re.compile(
    rf"TR\s*(?P<diameter>{_NUMBER})(?:\s*[X*]\s*(?P<lead>{_NUMBER}))?"
    rf"(?:\s*\(?\s*P\s*(?P<pitch>{_NUMBER})\s*\)?)?(?P<tail>.*)"
)


@dataclass(frozen=True)
class _Spec:
    """What a designation asks for.  Lengths [mm]."""

    diameter: Decimal
    pitch: Decimal
    starts: int
    grade: int
    position: str  # e, c or H
    hand: str
    notes: tuple[str, ...]


def crest_clearance_mm(pitch_mm: Decimal) -> Decimal:
    """Crest clearance a_c of ISO 2901.  [mm]"""
    for up_to, value in (("1.5", "0.15"), ("5", "0.25"), ("12", "0.5")):
        if pitch_mm <= Decimal(up_to):
            return Decimal(value)
    return Decimal(1)


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The trapezoidal thread that text names, or None where it names none.

    kind  where None: from the class, else external_thread
    Source: ISO 2901 (profile), ISO 2903 (tolerances), ISO 2904 (basic diameters).
    Raises DesignationError where it is a trapezoidal thread and a part is wrong.
    """
    upper = " ".join(text.upper().split())
    if not re.match(r"TR\s*[0-9]", upper):
        return None
    refuse_plain(text, kind)
    spec = _spec(upper, kind)
    return _internal(spec) if spec.position == "H" else _external(spec)


def _spec(upper: str, kind: Kind | None) -> _Spec:
    form = _FORM.fullmatch(upper)
    if form is None:
        raise DesignationError(
            say("“{text}” can't be read", text=upper), part=upper, accepted=ACCEPTED
        )
    diameter = _number(form["diameter"])
    ending = tail(form["tail"])
    pitch, starts = _pitch(form, diameter, ending.starts)
    tolerance_class, notes = _class(ending.words, kind, f"Tr{form['diameter']}x{form['lead']}")
    _check(diameter, pitch)
    notes += _series_notes(diameter, pitch)
    if starts > 1:
        notes += (say("tolerance factor for several starts recalled, unchecked"),)
    return _Spec(
        diameter, pitch, starts, int(tolerance_class[0]), tolerance_class[1], ending.hand, notes
    )


def _pitch(form: re.Match[str], diameter: Decimal, starts: int) -> tuple[Decimal, int]:
    if form["lead"] is None:
        raise DesignationError(
            say("the pitch is missing"),
            part=form["diameter"],
            accepted=ACCEPTED,
            nearest=_nearest(diameter),
        )
    lead = _number(form["lead"])
    if form["pitch"] is None:
        return lead / starts, starts
    pitch = _number(form["pitch"])
    if lead % pitch != 0 or lead / pitch > 12:
        raise DesignationError(
            say(
                "a lead of {lead} mm is no whole number of pitches of {pitch} mm, up to 12",
                lead=lead,
                pitch=pitch,
            ),
            part=f"{form['lead']}(P{form['pitch']})",
            accepted=say("as Tr40x14(P7)"),
        )
    return pitch, int(lead / pitch)


def _class(words: tuple[str, ...], kind: Kind | None, size: str) -> tuple[str, tuple[str, ...]]:
    for_kind = "7H" if kind is Kind.INTERNAL_THREAD else "7e"
    found = [_class_word(each, size) for word in words for each in word.split("/")]
    classes = [each for each in found if each]
    if not classes:
        return for_kind, (say("no class written: taken as {taken}", taken=for_kind),)
    if kind is None:
        return classes[0], ()
    fitting = [each for each in classes if (each[1] == "H") == (kind is Kind.INTERNAL_THREAD)]
    if not fitting:
        raise DesignationError(
            _not_of_side(classes[0], kind),
            part=classes[0],
            accepted=say("7H, 8H or 9H inside; 7e, 8e, 9e, 7c, 8c or 9c outside"),
            nearest=(f"{size}-{for_kind}",),
        )
    return fitting[0], ()


def _not_of_side(written: str, kind: Kind) -> str:
    if kind is Kind.INTERNAL_THREAD:
        return say("{written} is not a class of an internal thread", written=written)
    return say("{written} is not a class of an external thread", written=written)


def _class_word(word: str, size: str) -> str | None:
    """A tolerance class as ISO writes it; None for an engagement group."""
    if word in ("N", "L"):
        return None
    for each in CLASSES:
        if word == each.upper():
            return each
    if re.fullmatch(r"[0-9]{1,2}[A-Z]", word):
        letter = "H" if word.endswith(("H", "G")) else "e"
        raise DesignationError(
            say("ISO 2903 has no class {word}", word=word),
            code="not_in_standard",
            part=word,
            accepted=", ".join(CLASSES),
            nearest=(f"{size}-7{letter}", f"{size}-8{letter}"),
        )
    raise DesignationError(say("“{text}” can't be read", text=word), part=word, accepted=ACCEPTED)


def _check(diameter: Decimal, pitch: Decimal) -> None:
    if not Decimal(6) <= diameter <= 1200 or not 1 <= pitch <= 44:
        why = say("diameters go from 6 to 1200 mm, pitches from 1 to 44 mm")
    elif diameter - pitch - 2 * crest_clearance_mm(pitch) < diameter * Decimal("0.4"):
        why = say("the thread would cut away more than half of the core")
    else:
        return
    size = f"Tr{_plain(diameter)}x{_plain(pitch)}"
    raise DesignationError(
        say("{size} can't be: {why}", size=size, why=why),
        code="not_in_standard",
        part=size,
        accepted=ACCEPTED,
        nearest=_nearest(diameter),
    )


def _series_notes(diameter: Decimal, pitch: Decimal) -> tuple[str, ...]:
    for row in rows("iso2902_series"):
        if Decimal(row["diameter_mm"]) == diameter:
            pitches = [Decimal(each) for each in row["pitches_mm"].split()]
            return () if pitch in pitches else (say("outside the standard's range of pitches"),)
    return (say("outside the standard's range of diameters"),)


def _nearest(diameter: Decimal) -> tuple[str, ...]:
    table = sorted(
        rows("iso2902_series"), key=lambda row: abs(Decimal(row["diameter_mm"]) - diameter)
    )
    return tuple(f"Tr{row['diameter_mm']}x{row['usual_pitch_mm']}-7e" for row in table[:2])


def _external(spec: _Spec) -> ThreadTarget:
    found = tolerances.external(spec.diameter, spec.pitch, spec.grade, spec.position, spec.starts)
    pitch_high = spec.diameter - spec.pitch / 2 - found.allowance_um / 1000
    minor_high = spec.diameter - spec.pitch - 2 * crest_clearance_mm(spec.pitch)
    return _target(
        spec,
        Kind.EXTERNAL_THREAD,
        Limits(float(spec.diameter - found.crest_um / 1000), float(spec.diameter)),
        Limits(float(pitch_high - found.pitch_um / 1000), float(pitch_high)),
        Limits(float(minor_high - found.root_um / 1000), float(minor_high)),
        found,
    )


def _internal(spec: _Spec) -> ThreadTarget:
    found = tolerances.internal(spec.diameter, spec.pitch, spec.grade, spec.starts)
    pitch_low = spec.diameter - spec.pitch / 2
    minor_low = spec.diameter - spec.pitch
    return _target(
        spec,
        Kind.INTERNAL_THREAD,
        Limits(float(spec.diameter + 2 * crest_clearance_mm(spec.pitch)), None),
        Limits(float(pitch_low), float(pitch_low + found.pitch_um / 1000)),
        Limits(float(minor_low), float(minor_low + found.crest_um / 1000)),
        found,
    )


def _target(
    spec: _Spec,
    kind: Kind,
    major: Limits,
    pitch_diameter: Limits,
    minor: Limits,
    found: tolerances.Tolerances,
) -> ThreadTarget:
    return ThreadTarget(
        designation=_designation(spec),
        family="trapezoidal",
        kind=kind,
        nominal_mm=float(spec.diameter),
        pitch_mm=float(spec.pitch),
        lead_mm=float(spec.pitch * spec.starts),
        starts=spec.starts,
        half_angle_rad=math.radians(15),
        hand=spec.hand,
        tolerance_class=f"{spec.grade}{spec.position}",
        major_diameter=major,
        pitch_diameter=pitch_diameter,
        minor_diameter=minor,
        basic_pitch_diameter_mm=float(spec.diameter - spec.pitch / 2),
        allowance_mm=float(found.allowance_um / 1000),
        unit="mm",
        decimals=3,
        source=SOURCE,
        notes=spec.notes + found.notes,
    )


def _designation(spec: _Spec) -> str:
    name = f"Tr{_plain(spec.diameter)}x{_plain(spec.pitch * spec.starts)}"
    if spec.starts > 1:
        name += f"(P{_plain(spec.pitch)})"
    name += f"-{spec.grade}{spec.position}"
    return f"{name} LH" if spec.hand == "left" else name


def _number(text: str) -> Decimal:
    value = Decimal(text.replace(",", "."))
    if value <= 0:
        raise DesignationError(say("“{text}” is no size", text=text), part=text, accepted=ACCEPTED)
    return value


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
