"""Acme and stub Acme threads, 29 degrees, from a designation to limits."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.threads.spelling import (
    INCH_SIZE,
    inch_mm,
    inch_shown,
    inch_size,
    refuse_plain,
    rounded_in,
    tail,
)
from server.wording import either, say

ACCEPTED = either(
    ("3/4-6 ACME-2G", "1-5 ACME-3G-LH", "1 1/2-4 STUB ACME-2G", "1-10 ACME-2G 2 START")
)
SOURCE = say("ASME B1.5-1997, general purpose")
STUB_SOURCE = "ASME B1.8-1988"
SERIES = {  # preferred diameters and threads per inch, ASME B1.5 table 4
    **{"0.25": 16, "0.3125": 14, "0.375": 12, "0.4375": 12, "0.5": 10, "0.625": 8, "0.75": 6},
    **{"0.875": 6, "1": 5, "1.125": 5, "1.25": 5, "1.375": 4, "1.5": 4, "1.75": 4, "2": 4},
    **{"2.25": 3, "2.5": 3, "2.75": 3, "3": 2, "3.5": 2, "4": 2, "4.5": 2, "5": 2},
}
_ALLOWANCE = {"2G": Decimal("0.008"), "3G": Decimal("0.006"), "4G": Decimal("0.004")}
_TOLERANCE = {  # factor of sqrt(D), factor of sqrt(1/n)
    "2G": (Decimal("0.006"), Decimal("0.030")),
    "3G": (Decimal("0.0028"), Decimal("0.014")),
    "4G": (Decimal("0.002"), Decimal("0.010")),
}
_SMALLEST_CREST_TOLERANCE = Decimal("0.005")
_FORM = re.compile(
    rf"(?P<size>{INCH_SIZE})(?:\s*[- X]\s*(?:(?P<tpi>[0-9]{{1,2}}(?:[.][0-9]{{1,4}}|[ ]1/2)?)"
    r"(?:\s*TPI)?|(?P<pitch>[0-9]?\.[0-9]{1,6})\s*P[ -]*(?P<lead>[0-9]{0,2}\.?[0-9]{1,6})\s*L))?"
    r"[ -]*(?P<stub>STUB[ -]*)?ACME(?P<stub_after>[ -]*STUB)?(?P<tail>.*)"
)


@dataclass(frozen=True)
class _Spec:
    """What a designation asks for.  Lengths [in]."""

    diameter: Decimal
    pitch: Decimal
    starts: int
    is_stub: bool
    tolerance_class: str
    hand: str
    notes: tuple[str, ...]

    @property
    def clearance(self) -> Decimal:
        """Minor and major diameter clearance: 0.020 to 10 threads per inch, 0.010 finer."""
        return Decimal("0.020") if self.pitch >= Decimal("0.1") else Decimal("0.010")

    @property
    def height(self) -> Decimal:
        """Basic height of thread."""
        return self.pitch * (Decimal("0.3") if self.is_stub else Decimal("0.5"))


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The Acme thread that text names, or None where it names none.

    kind  external_thread (taken where it is None) or internal_thread: classes G are both
    Source: ASME B1.5-1997 (formulas; rounding as the printed tables have it), ASME B1.8-1988.
    Raises DesignationError where it is an Acme thread and a part is wrong.
    """
    upper = " ".join(text.upper().replace('"', " ").replace("INCH", " ").split())
    if "ACME" not in upper:
        return None
    spec = _spec(upper)
    wanted = _thread_kind(kind, text)
    return _internal(spec) if wanted is Kind.INTERNAL_THREAD else _external(spec)


def _spec(upper: str) -> _Spec:
    form = _FORM.fullmatch(upper)
    if form is None:
        raise DesignationError(
            say("“{text}” can't be read as an Acme thread", text=upper),
            part=upper,
            accepted=ACCEPTED,
        )
    diameter = inch_size(form["size"])
    is_stub = bool(form["stub"] or form["stub_after"])
    ending = tail(form["tail"])
    pitch, starts = _pitch(form, diameter, ending.starts, is_stub)
    tolerance_class, notes = _class(ending.words, diameter, is_stub)
    _check(diameter, pitch, is_stub)
    if SERIES.get(f"{diameter.normalize():f}") != _tpi_number(pitch):
        notes += (say("outside the standard's range of diameters and pitches: by formula"),)
    if is_stub:
        notes += (say("formula recalled, unchecked"),)
    if starts > 1:
        notes += (say("tolerances of the single start thread"),)
    return _Spec(diameter, pitch, starts, is_stub, tolerance_class, ending.hand, notes)


def _pitch(
    form: re.Match[str], diameter: Decimal, starts: int, is_stub: bool
) -> tuple[Decimal, int]:
    if form["pitch"]:
        pitch, lead = Decimal(form["pitch"]), Decimal(form["lead"])
        if pitch <= 0 or lead <= 0 or lead % pitch != 0:
            raise DesignationError(
                say(
                    "a lead of {lead} is no whole number of pitches of {pitch}",
                    lead=lead,
                    pitch=pitch,
                ),
                part=f"{form['pitch']}P-{form['lead']}L",
                accepted=say("as 0.25P-0.5L"),
            )
        return pitch, int(lead / pitch)
    if not form["tpi"]:
        raise DesignationError(
            say("the threads per inch are missing"),
            part=form["size"],
            accepted=ACCEPTED,
            nearest=_nearest(diameter, is_stub),
        )
    number = Decimal(form["tpi"].replace(" 1/2", ".5"))
    if number <= 0:
        raise DesignationError(
            say("no threads per inch"),
            part=form["tpi"],
            accepted=ACCEPTED,
            nearest=_nearest(diameter, is_stub),
        )
    return 1 / number, starts


def _class(words: tuple[str, ...], diameter: Decimal, is_stub: bool) -> tuple[str, tuple[str, ...]]:
    found: str | None = None
    for word in words:
        if not re.fullmatch(r"[0-9][A-Z]|CLASS", word):
            raise DesignationError(
                say("“{text}” can't be read", text=word), part=word, accepted=ACCEPTED
            )
        if word == "CLASS":
            continue
        if word not in _ALLOWANCE:
            raise DesignationError(
                _no_class(word),
                code="not_in_standard",
                part=word,
                accepted=either(_ALLOWANCE),
                nearest=tuple(
                    near.replace("2G", other)
                    for near in _nearest(diameter, is_stub)[:1]
                    for other in _near_classes(word)
                ),
            )
        found = word
    if found is None:
        return "2G", (say("no class written: taken as {taken}", taken="2G"),)
    if is_stub and found != "2G":
        return found, (say("ASME B1.8 gives class 2G; tolerances of ASME B1.5 used"),)
    return found, ()


def _no_class(word: str) -> str:
    if word.endswith("C"):
        return say("class {word} (centralizing) is not one of 2G, 3G and 4G", word=word)
    return say("class {word} is not one of 2G, 3G and 4G", word=word)


def _near_classes(word: str) -> tuple[str, ...]:
    same_grade = f"{word[0]}G"
    return (same_grade,) if same_grade in _ALLOWANCE else ("2G", "4G")


def _thread_kind(kind: Kind | None, text: str) -> Kind:
    refuse_plain(text, kind)
    return kind or Kind.EXTERNAL_THREAD


def _check(diameter: Decimal, pitch: Decimal, is_stub: bool) -> None:
    deepest = diameter - 2 * pitch * (Decimal("0.3") if is_stub else Decimal("0.5"))
    if not Decimal("0.1") <= diameter <= 10 or pitch > Decimal(1) or pitch < Decimal("0.025"):
        why = say("diameters go from 0.1 to 10 in, pitches from 1 to 40 threads per inch")
    elif deepest < diameter * Decimal("0.4"):
        why = say("the thread would cut away more than half of the core")
    else:
        return
    raise DesignationError(
        say(
            "an Acme thread of {size} in with pitch {pitch} in can't be: {why}",
            size=inch_shown(diameter),
            pitch=f"{pitch:.4f}",
            why=why,
        ),
        code="not_in_standard",
        part=f"{inch_shown(diameter)}-{_tpi(pitch)}",
        accepted=ACCEPTED,
        nearest=_nearest(diameter, is_stub),
    )


def _nearest(diameter: Decimal, is_stub: bool) -> tuple[str, ...]:
    family = "STUB ACME" if is_stub else "ACME"
    by_distance = sorted(SERIES.items(), key=lambda each: abs(Decimal(each[0]) - diameter))
    return tuple(f"{inch_shown(Decimal(d))}-{n} {family}-2G" for d, n in by_distance[:2])


def _tpi_number(pitch: Decimal) -> float:
    return round(float(1 / pitch), 6)


def _tpi(pitch: Decimal) -> str:
    return f"{_tpi_number(pitch):g}"


def _allowance(spec: _Spec) -> Decimal:
    return rounded_in(_ALLOWANCE[spec.tolerance_class] * spec.diameter.sqrt())


def _pitch_tolerance(spec: _Spec) -> Decimal:
    of_diameter, of_pitch = _TOLERANCE[spec.tolerance_class]
    return of_diameter * spec.diameter.sqrt() + of_pitch * spec.pitch.sqrt()


def _crest_tolerance(spec: _Spec) -> Decimal:
    return max(Decimal("0.05") * spec.pitch, _SMALLEST_CREST_TOLERANCE)


def _external(spec: _Spec) -> ThreadTarget:
    tolerance = _pitch_tolerance(spec)
    major_high = rounded_in(spec.diameter)
    major_low = rounded_in(spec.diameter - _crest_tolerance(spec))
    pitch_high = rounded_in(spec.diameter - spec.height) - _allowance(spec)
    pitch_low = pitch_high - rounded_in(tolerance)
    minor_high = rounded_in(spec.diameter - 2 * spec.height - spec.clearance)
    if spec.is_stub:
        minor_low = minor_high - rounded_in(tolerance)
    else:
        minor_low = rounded_in(minor_high - Decimal("1.5") * tolerance, ROUND_HALF_EVEN)
    return _target(
        spec,
        Kind.EXTERNAL_THREAD,
        Limits(inch_mm(major_low), inch_mm(major_high)),
        Limits(inch_mm(pitch_low), inch_mm(pitch_high)),
        Limits(inch_mm(minor_low), inch_mm(minor_high)),
    )


def _internal(spec: _Spec) -> ThreadTarget:
    tolerance = rounded_in(_pitch_tolerance(spec))
    major_low = rounded_in(spec.diameter + spec.clearance)
    major_high = major_low + (tolerance if spec.is_stub else spec.clearance)
    pitch_low = rounded_in(spec.diameter - spec.height)
    minor = spec.diameter - 2 * spec.height
    minor_high = rounded_in(minor + _crest_tolerance(spec))
    return _target(
        spec,
        Kind.INTERNAL_THREAD,
        Limits(inch_mm(major_low), inch_mm(major_high)),
        Limits(inch_mm(pitch_low), inch_mm(pitch_low + tolerance)),
        Limits(inch_mm(rounded_in(minor)), inch_mm(minor_high)),
    )


def _target(
    spec: _Spec, kind: Kind, major: Limits, pitch_diameter: Limits, minor: Limits
) -> ThreadTarget:
    is_external = kind is Kind.EXTERNAL_THREAD
    return ThreadTarget(
        designation=_designation(spec),
        family="stub_acme" if spec.is_stub else "acme",
        kind=kind,
        nominal_mm=inch_mm(spec.diameter),
        pitch_mm=inch_mm(spec.pitch),
        lead_mm=inch_mm(spec.pitch * spec.starts),
        starts=spec.starts,
        half_angle_rad=math.radians(14.5),
        hand=spec.hand,
        tolerance_class=spec.tolerance_class,
        major_diameter=major,
        pitch_diameter=pitch_diameter,
        minor_diameter=minor,
        basic_pitch_diameter_mm=inch_mm(rounded_in(spec.diameter - spec.height)),
        allowance_mm=inch_mm(_allowance(spec)) if is_external else 0.0,
        unit="in",
        decimals=4,
        source=STUB_SOURCE if spec.is_stub else SOURCE,
        notes=spec.notes,
    )


def _designation(spec: _Spec) -> str:
    family = "STUB ACME" if spec.is_stub else "ACME"
    name = f"{inch_shown(spec.diameter)}-{_tpi(spec.pitch)} {family}-{spec.tolerance_class}"
    if spec.hand == "left":
        name += "-LH"
    return f"{name} {spec.starts} START" if spec.starts > 1 else name
