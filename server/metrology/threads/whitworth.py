"""Whitworth threads BSW and BSF, 55 degrees, from a designation to limits."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.tables import rows
from server.metrology.threads.spelling import (
    INCH_SIZE,
    inch_mm,
    inch_shown,
    inch_size,
    refuse_plain,
    rounded_in,
    tail,
)
from server.wording import say

ACCEPTED = say("1/2 BSW medium, 1/4-20 BSW, 3/8 BSF close, or with LH")
SOURCE = say("BS 84:1956 and 2007, clause on tolerances")
HEIGHT = Decimal("0.640327")  # basic depth of thread per pitch, rounded crest and root
BOLT_CLASSES = ("close", "medium", "free")
NUT_CLASSES = ("close", "medium", "normal")
_OF_MEDIUM = {
    "close": Decimal(2) / 3,
    "medium": Decimal(1),
    "free": Decimal("1.5"),
    "normal": Decimal("1.5"),
}
_SERIES = re.compile(r"B\.?\s?S\.?\s?(?:W|F)\b\.?|WHIT(?:WORTH)?\b\.?")
_FORM = re.compile(
    rf"(?P<size>{INCH_SIZE})"
    r"(?:\s*[- X]\s*(?P<tpi>[0-9]{1,2}(?:\.[0-9]{1,4}|[ ]1/2)?)(?:\s*TPI)?)?"
    rf"[ -]*(?P<series>{_SERIES.pattern})(?P<tail>.*)"
)


@dataclass(frozen=True)
class _Spec:
    """What a designation asks for.  Lengths [in]."""

    diameter: Decimal
    pitch: Decimal
    series: str  # BSW or BSF
    is_in_series: bool
    fit: str
    kind: Kind
    starts: int
    hand: str
    notes: tuple[str, ...]


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The Whitworth thread that text names, or None where it names none.

    kind  where None: from the words bolt or nut and the class, else external_thread
    Source: BS 84 (tolerance formulas, length of engagement equal to the diameter).
    Raises DesignationError where it is a Whitworth thread and a part is wrong.
    """
    upper = " ".join(text.upper().replace('"', " ").replace("INCH", " ").split())
    if not _SERIES.search(upper):
        return None
    refuse_plain(text, kind)
    form = _FORM.fullmatch(upper)
    if form is None:
        raise DesignationError(
            say("“{text}” can't be read as a Whitworth thread", text=upper),
            part=upper,
            accepted=ACCEPTED,
        )
    return _target(_spec(form, kind))


def _spec(form: re.Match[str], kind: Kind | None) -> _Spec:
    series = "BSF" if re.sub(r"[^A-Z]", "", form["series"]) == "BSF" else "BSW"
    diameter = inch_size(form["size"])
    ending = tail(form["tail"])
    tpi, is_in_series = _threads_per_inch(form["tpi"], diameter, series)
    fit, wanted, notes = _fit(ending.words, kind, f"{inch_shown(diameter)} {series}")
    _check(diameter, tpi, series)
    if not is_in_series:
        notes += (
            say("outside the standard's range: not a {series} size, by formula", series=series),
        )
    if wanted is Kind.EXTERNAL_THREAD and fit != "close" and diameter <= Decimal("0.75"):
        notes += (say("allowance of 0.3 of the medium tolerance recalled, unchecked"),)
    notes += (say("formula recalled, unchecked"),)
    return _Spec(
        *(diameter, 1 / tpi, series, is_in_series, fit, wanted),
        *(ending.starts, ending.hand, notes),
    )


def _threads_per_inch(written: str | None, diameter: Decimal, series: str) -> tuple[Decimal, bool]:
    standard = _table(series).get(diameter)
    if written is None:
        if standard is None:
            raise DesignationError(
                say("{series} has no size {size}", series=series, size=inch_shown(diameter)),
                code="not_in_standard",
                part=inch_shown(diameter),
                accepted=say(
                    "a size of {series}, or the threads per inch as {example}",
                    series=series,
                    example=f"1/4-20 {series}",
                ),
                nearest=_nearest(diameter, series),
            )
        return standard, True
    tpi = Decimal(written.replace(" 1/2", ".5"))
    if tpi <= 0:
        raise DesignationError(say("no threads per inch"), part=written, accepted=ACCEPTED)
    return tpi, tpi == standard


def _fit(words: tuple[str, ...], kind: Kind | None, size: str) -> tuple[str, Kind, tuple[str, ...]]:
    fit: str | None = None
    side: Kind | None = None
    for word in words:
        if word.lower() in _OF_MEDIUM:
            fit = word.lower()
        elif word in ("BOLT", "EXTERNAL", "SCREW"):
            side = Kind.EXTERNAL_THREAD
        elif word in ("NUT", "INTERNAL"):
            side = Kind.INTERNAL_THREAD
        elif word not in ("CLASS", "FIT"):
            raise DesignationError(
                say("BS 84 has no class “{word}”", word=word.lower()),
                code="not_in_standard",
                part=word,
                accepted=say("close, medium, free (bolts) or normal (nuts), LH"),
                nearest=(f"{size} medium", f"{size} close"),
            )
    by_class = {"normal": Kind.INTERNAL_THREAD, "free": Kind.EXTERNAL_THREAD}.get(fit or "")
    wanted = kind or side or by_class or Kind.EXTERNAL_THREAD
    if fit is None:
        return "medium", wanted, (say("no class written: taken as {taken}", taken="medium"),)
    allowed = NUT_CLASSES if wanted is Kind.INTERNAL_THREAD else BOLT_CLASSES
    if fit not in allowed:
        raise DesignationError(
            _no_class_for(fit, wanted),
            code="not_in_standard",
            part=fit,
            accepted=", ".join(allowed),
            nearest=(f"{size} {allowed[-1]}", f"{size} medium"),
        )
    return fit, wanted, ()


def _no_class_for(fit: str, wanted: Kind) -> str:
    if wanted is Kind.INTERNAL_THREAD:
        return say("BS 84 has no {fit} class for nuts", fit=fit)
    return say("BS 84 has no {fit} class for bolts", fit=fit)


def _check(diameter: Decimal, tpi: Decimal, series: str) -> None:
    if not Decimal("0.0625") <= diameter <= 6 or not 2 <= tpi <= 60:
        why = say("diameters go from 1/16 to 6 in, 2 to 60 threads per inch")
    elif diameter - 2 * HEIGHT / tpi < diameter * Decimal("0.5"):
        why = say("the thread would cut away more than half of the core")
    else:
        return
    size = f"{inch_shown(diameter)}-{tpi:f}"
    raise DesignationError(
        say("{size} can't be: {why}", size=f"{size} {series}", why=why),
        code="not_in_standard",
        part=size,
        accepted=ACCEPTED,
        nearest=_nearest(diameter, series),
    )


def _nearest(diameter: Decimal, series: str) -> tuple[str, ...]:
    sizes = sorted(_table(series), key=lambda each: abs(each - diameter))
    return tuple(f"{inch_shown(each)} {series} medium" for each in sizes[:2])


@cache
def _table(series: str) -> dict[Decimal, Decimal]:
    return {
        Decimal(row["diameter_in"]): Decimal(row["threads_per_inch"])
        for row in rows("whitworth_series")
        if row["series"] == series
    }


def _medium_tolerance(diameter: Decimal, pitch: Decimal) -> Decimal:
    """T of BS 84 with the length of engagement equal to the diameter.  [in]"""
    d, p = float(diameter), float(pitch)
    return Decimal(repr(0.002 * d ** (1 / 3) + 0.003 * math.sqrt(d) + 0.005 * math.sqrt(p)))


def _allowance(spec: _Spec) -> Decimal:
    """0.3 T on medium and free bolts up to 3/4 in; below 1/4 in that of 1/4 in.  [in]"""
    if spec.kind is Kind.INTERNAL_THREAD or spec.fit == "close":
        return Decimal(0)
    if spec.diameter > Decimal("0.75"):
        return Decimal(0)
    if spec.diameter < Decimal("0.25"):
        quarter_inch = Decimal(1) / (20 if spec.series == "BSW" else 26)
        return rounded_in(Decimal("0.3") * _medium_tolerance(Decimal("0.25"), quarter_inch))
    return rounded_in(Decimal("0.3") * _medium_tolerance(spec.diameter, spec.pitch))


def _target(spec: _Spec) -> ThreadTarget:
    pitch_basic = spec.diameter - HEIGHT * spec.pitch
    minor_basic = spec.diameter - 2 * HEIGHT * spec.pitch
    if spec.kind is Kind.INTERNAL_THREAD:
        diameters = _nut(spec, pitch_basic, minor_basic)
    else:
        diameters = _bolt(spec, pitch_basic, minor_basic)
    return ThreadTarget(
        designation=_designation(spec),
        family="whitworth",
        kind=spec.kind,
        nominal_mm=inch_mm(spec.diameter),
        pitch_mm=inch_mm(spec.pitch),
        lead_mm=inch_mm(spec.pitch * spec.starts),
        starts=spec.starts,
        half_angle_rad=math.radians(27.5),
        hand=spec.hand,
        tolerance_class=spec.fit,
        major_diameter=diameters[0],
        pitch_diameter=diameters[1],
        minor_diameter=diameters[2],
        basic_pitch_diameter_mm=inch_mm(rounded_in(pitch_basic)),
        allowance_mm=inch_mm(_allowance(spec)),
        unit="in",
        decimals=4,
        source=SOURCE,
        notes=spec.notes,
    )


def _bolt(spec: _Spec, pitch_basic: Decimal, minor_basic: Decimal) -> tuple[Limits, ...]:
    tolerance = _OF_MEDIUM[spec.fit] * _medium_tolerance(spec.diameter, spec.pitch)
    root = spec.pitch.sqrt()
    of_minor = Decimal("0.013") if spec.fit == "close" else Decimal("0.02")
    widths = (
        rounded_in(tolerance + Decimal("0.01") * root),
        rounded_in(tolerance),
        rounded_in(tolerance + of_minor * root),
    )
    highs = [
        rounded_in(each) - _allowance(spec) for each in (spec.diameter, pitch_basic, minor_basic)
    ]
    return tuple(
        Limits(inch_mm(high - width), inch_mm(high))
        for high, width in zip(highs, widths, strict=True)
    )


def _nut(spec: _Spec, pitch_basic: Decimal, minor_basic: Decimal) -> tuple[Limits, ...]:
    tolerance = rounded_in(_OF_MEDIUM[spec.fit] * _medium_tolerance(spec.diameter, spec.pitch))
    tpi = 1 / spec.pitch
    added = Decimal("0.004") if tpi >= 26 else Decimal("0.005") if tpi >= 22 else Decimal("0.007")
    pitch_low, minor_low = rounded_in(pitch_basic), rounded_in(minor_basic)
    minor_high = minor_low + rounded_in(Decimal("0.2") * spec.pitch + added)
    return (
        Limits(inch_mm(rounded_in(spec.diameter)), None),
        Limits(inch_mm(pitch_low), inch_mm(pitch_low + tolerance)),
        Limits(inch_mm(minor_low), inch_mm(minor_high)),
    )


def _designation(spec: _Spec) -> str:
    name = inch_shown(spec.diameter)
    if not spec.is_in_series:
        name += f"-{float(round(1 / spec.pitch, 6)):g}"
    name += f" {spec.series} {spec.fit}"
    if spec.kind is Kind.INTERNAL_THREAD and spec.fit != "normal":
        name += " nut"
    if spec.hand == "left":
        name += " LH"
    return f"{name} {spec.starts} START" if spec.starts > 1 else name
