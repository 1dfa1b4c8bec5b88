"""ISO metric threads: from a designation to limits."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.threads import metric_series as series_table
from server.metrology.threads.metric_limits import (
    EXTERNAL_MAJOR_GRADES,
    EXTERNAL_PITCH_GRADES,
    INTERNAL_GRADES,
    MetricLimits,
    external,
    internal,
)
from server.metrology.threads.metric_spelling import Spelling, parts
from server.metrology.threads.spelling import other_side, refuse_plain
from server.metrology.units import rounded
from server.wording import say

SOURCE = "ISO 965-1:2013, ISO 261"
SOURCE_GALVANIZED = "ISO 965-4, ISO 965-1:2013, ISO 261"
HALF_ANGLE_RAD = math.radians(30)
SMALLEST_MM = Decimal(1)  # ISO 261 begins at M1
LARGEST_MM = Decimal(1000)
FINEST_MM = Decimal("0.2")  # finest pitch that the formulas hold for

_CLASS = re.compile(r"([0-9]{1,2})([a-z]+|[A-Z]+)(?:([0-9]{1,2})([a-z]+|[A-Z]+))?")
_EXTERNAL_POSITIONS = ("e", "f", "g", "h", "az")
_INTERNAL_POSITIONS = ("G", "H")
_ROOT_DEPTH = Decimal("1.265544457")  # x pitch: d - d3 before tolerance, 0.649519 + 0.616025

# ISO 965-1: medium quality for the engagement groups S, N and L.
_DEFAULT = {
    ("external", "S"): "5g6g",
    ("external", "N"): "6g",
    ("external", "L"): "7g6g",
    ("internal", "S"): "5H",
    ("internal", "N"): "6H",
    ("internal", "L"): "7H",
}


@dataclass(frozen=True)
class _Class:
    """A tolerance class: (grade, position) of the pitch and of the crest diameter."""

    pitch: tuple[int, str]
    crest: tuple[int, str]

    @property
    def is_internal(self) -> bool:
        return self.pitch[1].isupper()

    @property
    def written(self) -> str:
        ends = (self.pitch,) if self.pitch == self.crest else (self.pitch, self.crest)
        return "".join(f"{grade}{position}" for grade, position in ends)


@dataclass(frozen=True)
class _Thread:
    """A metric thread with every part known.  Lengths [mm]."""

    diameter: Decimal
    pitch: Decimal
    starts: int
    tolerance_class: _Class
    hand: str
    engagement: str | None

    @property
    def designation(self) -> str:
        size = series_table.written(self.diameter, self.pitch)
        if self.starts > 1:
            lead = f"{(self.pitch * self.starts).normalize():f}"
            size = size.replace("x", f"xPh{lead}P")
        ends = [size, self.tolerance_class.written]
        if self.engagement is not None:
            ends.append(self.engagement)
        if self.hand == "left":
            ends.append("LH")
        return "-".join(ends)


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The metric thread that text names, or None where it is of another family.

    A missing pitch is the coarse one; a missing class the standard's default, 6g or 6H (6h or 5H
    up to M1.4; by engagement group S and L as the standard recommends).  Both are in the notes.
    Raises DesignationError where it is of this family and a part is wrong.
    Source: ISO 965-1, ISO 261, ISO 68-1; position az ISO 965-4.
    """
    spelling = parts(text)
    if spelling is None:
        return None
    refuse_plain(text, kind)
    notes: list[str] = []
    diameter = rounded(spelling.diameter, 3, ROUND_HALF_UP).normalize()
    pitch = _pitch(spelling, diameter, notes)
    _refuse_forbidden(diameter, pitch)
    tolerance_class = _tolerance_class(spelling, diameter, pitch, kind, notes)
    thread = _Thread(
        diameter=diameter,
        pitch=pitch,
        starts=_starts(spelling, pitch),
        tolerance_class=tolerance_class,
        hand=spelling.hand,
        engagement=spelling.engagement,
    )
    found = _limits(thread)
    return _target(thread, found, (*notes, *_range_notes(thread), *found.notes))


def _pitch(spelling: Spelling, diameter: Decimal, notes: list[str]) -> Decimal:
    if spelling.pitch is not None:
        return spelling.pitch.normalize()
    coarse = series_table.coarse_pitch(diameter)
    if coarse is None:
        size = f"M{diameter:f}"
        fault = say("“{part}” has no coarse pitch; write its pitch", part=size)
        raise _not_in_standard(size, fault, diameter, None)
    notes.append(say("pitch not given: coarse pitch {pitch} taken", pitch=f"{coarse:f}"))
    return coarse


def _refuse_forbidden(diameter: Decimal, pitch: Decimal) -> None:
    """DesignationError for a size or pitch that no metric thread can have."""
    pair = f"M{diameter:f}x{pitch:f}"
    if not SMALLEST_MM <= diameter <= LARGEST_MM:
        fault = say(
            "“{part}” is not between {smallest} and {largest}",
            part=pair,
            smallest=f"M{SMALLEST_MM}",
            largest=f"M{LARGEST_MM}",
        )
        raise _not_in_standard(pair, fault, diameter, pitch)
    if pitch < FINEST_MM:
        fault = say(
            "“{part}” is finer than {finest} mm, where the standard's formulas end",
            part=pair,
            finest=FINEST_MM,
        )
        raise _not_in_standard(pair, fault, diameter, pitch)
    if diameter - _ROOT_DEPTH * pitch <= diameter / 10:
        fault = say(
            "“{part}” leaves no core: the thread would be as deep as the part is thick", part=pair
        )
        raise _not_in_standard(pair, fault, diameter, pitch)


def _not_in_standard(
    part: str, fault: str, diameter: Decimal, pitch: Decimal | None
) -> DesignationError:
    near = series_table.nearest(diameter, pitch)
    return DesignationError(
        say("{fault}; near it are {nearest}.", fault=fault, nearest=", ".join(near)),
        code="not_in_standard",
        part=part,
        accepted=say("a diameter and pitch of ISO 261, or a special pair that leaves a core"),
        nearest=near,
    )


def _starts(spelling: Spelling, pitch: Decimal) -> int:
    if spelling.lead is None:
        return 1
    starts = int(spelling.lead / pitch)
    if not 1 <= starts <= 9 or starts * pitch != spelling.lead:
        near = max(1, min(9, starts))
        raise DesignationError(
            say(
                "{written}: the lead is no whole multiple of the pitch {pitch}.",
                written=f"Ph{spelling.lead}",
                pitch=f"{pitch:f}",
            ),
            part=f"Ph{spelling.lead}",
            accepted=say("a lead of 1 to 9 pitches"),
            nearest=(f"Ph{(near * pitch).normalize():f}P{pitch:f}",),
        )
    return starts


def _tolerance_class(
    spelling: Spelling, diameter: Decimal, pitch: Decimal, kind: Kind | None, notes: list[str]
) -> _Class:
    size = series_table.written(diameter, pitch)
    if spelling.tolerance_class is None:
        taken = _default_class(spelling.engagement, diameter, kind)
        notes.append(say("class not given: {taken} taken", taken=taken))
        return _class_of(taken, size)
    first = _class_of(spelling.tolerance_class, size)
    if spelling.mating_class is not None:
        return _half_of_pair(first, _class_of(spelling.mating_class, size), size, kind)
    if kind is not None and kind.is_internal != first.is_internal:
        other = _default_class(None, diameter, kind)
        raise DesignationError(
            other_side(first.written, first.is_internal, other),
            part=first.written,
            accepted=say("e f g h for external, G H for internal threads"),
            nearest=(f"{size}-{other}",),
        )
    return first


def _default_class(engagement: str | None, diameter: Decimal, kind: Kind | None) -> str:
    side = "internal" if kind is Kind.INTERNAL_THREAD else "external"
    group = engagement or "N"
    if group == "N" and diameter <= Decimal("1.4"):
        return "5H" if side == "internal" else "6h"
    return _DEFAULT[side, group]


def _half_of_pair(first: _Class, second: _Class, size: str, kind: Kind | None) -> _Class:
    by_side = {first.is_internal: first, second.is_internal: second}
    if kind is not None and len(by_side) == 2:
        return by_side[kind.is_internal]
    pair = f"{first.written}/{second.written}"
    raise DesignationError(
        say("{pair} names a fit of two threads; write one of them.", pair=pair),
        part=pair,
        accepted=say("one class"),
        nearest=(f"{size}-{first.written}", f"{size}-{second.written}"),
    )


def _class_of(written: str, size: str) -> _Class:
    """The class that a text such as 6g or 4H5H names."""
    match = _CLASS.fullmatch(written)
    if match is None or (match[4] and match[2].isupper() != match[4].isupper()):
        fault = say(
            "Class “{written}” mixes the letters of internal and external threads", written=written
        )
        raise _no_class(written, size, fault)
    pitch = (int(match[1]), match[2])
    crest = (int(match[3]), match[4]) if match[3] else pitch
    positions = _INTERNAL_POSITIONS if pitch[1].isupper() else _EXTERNAL_POSITIONS
    if pitch[1] not in positions or crest[1] not in positions:
        fault = say("Class “{written}” has a position that the standard lacks", written=written)
        raise _no_class(written, size, fault)
    pitch_grades = INTERNAL_GRADES if pitch[1].isupper() else EXTERNAL_PITCH_GRADES
    crest_grades = INTERNAL_GRADES if pitch[1].isupper() else EXTERNAL_MAJOR_GRADES
    if pitch[0] not in pitch_grades or crest[0] not in crest_grades:
        fault = say("Class “{written}” has a grade that the standard lacks", written=written)
        if match[3] is None and pitch[0] in pitch_grades:
            fault = say(
                "Class “{written}” leaves out the crest: there is no grade {grade} for the major "
                "diameter",
                written=written,
                grade=pitch[0],
            )
        raise _no_class(written, size, fault)
    if "az" in (pitch[1], crest[1]) and (pitch, crest) != ((6, "az"), (6, "az")):
        fault = say(
            "Class “{written}” is not 6az, the only class with that position", written=written
        )
        raise _no_class(written, size, fault)
    return _Class(pitch, crest)


def _no_class(written: str, size: str, fault: str) -> DesignationError:
    numbers = [int(number) for number in re.findall("[0-9]+", written)]
    letters = re.findall("[A-Za-z]+", written)
    if letters[0].isupper():
        position = letters[0] if letters[0] in _INTERNAL_POSITIONS else "H"
        names = [f"{min(max(numbers[0], 4), 8)}{position}", "6H", "4H5H"]
    else:
        position = letters[0] if letters[0] in _EXTERNAL_POSITIONS else "g"
        grade = min(max(numbers[0], 3), 9)
        crest = min(EXTERNAL_MAJOR_GRADES, key=lambda given: abs(given - grade - 0.5))
        alone = grade in EXTERNAL_MAJOR_GRADES
        names = [f"{grade}{position}" if alone else f"{grade}{position}{crest}{position}"]
        names += ["6az"] if position == "az" else ["6g", "6h"]
        names = ["6az"] if position == "az" else names
    accepted = say(
        "external: pitch grade 3 to 9 and major grade 4, 6 or 8 with e, f, g, h, or 6az; "
        "internal: grades 4 to 8 with G or H"
    )
    return DesignationError(
        say("{fault}. Accepted: {accepted}.", fault=fault, accepted=accepted),
        code="not_in_standard",
        part=written,
        accepted=accepted,
        nearest=tuple(dict.fromkeys(f"{size}-{name}" for name in names)),
    )


def _limits(thread: _Thread) -> MetricLimits:
    chosen = thread.tolerance_class
    limits_of = internal if chosen.is_internal else external
    found = limits_of(thread.diameter, thread.pitch, chosen.pitch, chosen.crest)
    size = series_table.written(thread.diameter, thread.pitch)
    if found is None:
        raise DesignationError(
            say(
                "Class “{written}” has a position that the standard does not give at pitch "
                "{pitch}; write g or h.",
                written=chosen.written,
                pitch=f"{thread.pitch:f}",
            ),
            code="not_in_standard",
            part=chosen.written,
            accepted=say("g or h at this pitch"),
            nearest=(f"{size}-6g", f"{size}-6h"),
        )
    if not (found.minor_high < found.pitch_low and found.pitch_high < found.major_low):
        raise _no_flank(thread, size)
    return found


def _no_flank(thread: _Thread, size: str) -> DesignationError:
    if not series_table.is_standard(thread.diameter, thread.pitch):
        fault = say(
            "“{part}” is too fine for its size: the tolerances would leave no flank", part=size
        )
        return _not_in_standard(size, fault, thread.diameter, thread.pitch)
    chosen = thread.tolerance_class
    return DesignationError(
        say(
            "Class “{written}” is too coarse for {size}: its tolerances would leave no flank.",
            written=chosen.written,
            size=size,
        ),
        code="not_in_standard",
        part=chosen.written,
        accepted=say("a finer grade"),
        nearest=(f"{size}-{'6H' if chosen.is_internal else '6g'}",),
    )


def _range_notes(thread: _Thread) -> list[str]:
    notes: list[str] = []
    if not series_table.is_standard(thread.diameter, thread.pitch):
        size = series_table.written(thread.diameter, thread.pitch)
        notes.append(
            say("outside the standard's range of sizes: {size} is not in ISO 261", size=size)
        )
    first, crest = thread.tolerance_class.pitch, thread.tolerance_class.crest
    if first[1] != crest[1]:
        notes.append(say("pitch and crest diameter have different positions"))
    if first[1] == "az":
        notes.append(say("position az: before hot-dip galvanizing"))
        if not 10 <= thread.diameter <= 64:
            notes.append(say("outside the standard's range: 6az is given from M10 to M64"))
    return notes


def _target(thread: _Thread, found: MetricLimits, notes: tuple[str, ...]) -> ThreadTarget:
    chosen = thread.tolerance_class
    return ThreadTarget(
        designation=thread.designation,
        family="metric",
        kind=Kind.INTERNAL_THREAD if chosen.is_internal else Kind.EXTERNAL_THREAD,
        nominal_mm=float(thread.diameter),
        pitch_mm=float(thread.pitch),
        lead_mm=float(thread.pitch * thread.starts),
        starts=thread.starts,
        half_angle_rad=HALF_ANGLE_RAD,
        hand=thread.hand,
        tolerance_class=chosen.written,
        major_diameter=Limits(float(found.major_low), float(found.major_high)),
        pitch_diameter=Limits(float(found.pitch_low), float(found.pitch_high)),
        minor_diameter=Limits(float(found.minor_low), float(found.minor_high)),
        basic_pitch_diameter_mm=float(found.basic_pitch),
        allowance_mm=float(found.deviation),
        unit="mm",
        decimals=3,
        source=SOURCE_GALVANIZED if chosen.pitch[1] == "az" else SOURCE,
        notes=notes,
    )
