"""What was typed beside a designation on the target card, read field by field.

A field that can't be read gives a problem and counts as empty, so that the rest still shows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from server.logbook.problems import Problem, Refused, number_typed, positive_typed, refuse
from server.metrology import aim as aims
from server.metrology import designation
from server.metrology.aim import Coat
from server.metrology.dials import CompoundSetting, MeasuredFrom, Slide
from server.metrology.infeed import ToolTip
from server.metrology.model import (
    DesignationError,
    Kind,
    OutOfRange,
    Rule,
    Target,
    ThreadTarget,
)
from server.metrology.units import radians, to_mm
from server.wording import say, sentence

LARGEST_RPM = 5000  # a slip above it: no thread is cut by hand at such a speed
MOST_PASSES_TYPED = 200
T = TypeVar("T")
_RANGE = re.compile(r"\s*(?:/|–|-|to)\s*")  # noqa: RUF001


@dataclass(frozen=True)
class Asked:
    """What the card is for.  Lengths [mm]; None where nothing usable was typed."""

    target: Target
    text: str
    unit: str
    wire_mm: float | None = None
    wire_set_id: int | None = None
    rule: Rule | None = None
    aim_mm: float | None = None
    tip: ToolTip | None = None
    crest_mm: float | None = None
    blank_mm: float | None = None
    compound: CompoundSetting | None = None
    slide: Slide | None = None
    lathe_id: int | None = None
    passes: int | None = None
    coat: Coat | None = None
    rpm: float | None = None
    tool_width_mm: float | None = None
    groove_width_mm: float | None = None
    problems: tuple[Problem, ...] = ()


def asked(fields: Mapping[str, str], unit: str) -> Asked:
    """Raises model.DesignationError where the designation itself can't be read."""
    reader = _Reader(fields, unit)
    kind = reader.word("kind", tuple(Kind), say("The kind"))
    text = fields.get("designation", "")
    target = designation.read(text, Kind(kind) if kind else None, unit)
    slide = reader.word("slide", tuple(Slide), say("The slide"))
    rule = reader.word("rule", tuple(Rule), say("The rule"))
    return Asked(
        target=target,
        text=text,
        unit=unit,
        wire_mm=reader.length("wire", say("The wire")),
        wire_set_id=reader.row("wire_set_id"),
        rule=Rule(rule) if rule else None,
        aim_mm=reader.tried("aim", lambda text: _aim_mm(text, target, unit)),
        tip=_tip(reader, target),
        crest_mm=reader.tried("crest_diameter", lambda text: _crest_mm(text, target, unit)),
        blank_mm=None
        if isinstance(target, ThreadTarget)
        else reader.length("blank", say("The blank")),
        compound=reader.tried("compound_angle_deg", lambda text: _compound(text, fields)),
        slide=Slide(slide) if slide else None,
        lathe_id=reader.row("lathe_id"),
        passes=reader.tried("passes", _passes),
        coat=reader.tried("plating", lambda text: _coat(text, target, unit)),
        rpm=reader.tried("rpm", _rpm),
        tool_width_mm=reader.length("tool_width", say("The tool width")),
        groove_width_mm=reader.length("groove_width", say("The groove width")),
        problems=tuple(reader.problems),
    )


class _Reader:
    """Fields as typed, and what was wrong with them."""

    def __init__(self, fields: Mapping[str, str], unit: str) -> None:
        self.fields = fields
        self.unit = unit
        self.problems: list[Problem] = []

    def tried(self, name: str, read: Callable[[str], T]) -> T | None:
        text = self.fields.get(name, "").strip()
        if not text:
            return None
        try:
            return read(text)
        except Refused as refused:
            found = refused.problem
            self.problems.append(Problem(found.code, found.message, name))
        except OutOfRange as error:
            message = sentence(error.words(self.unit))
            self.problems.append(Problem("out_of_range", message, name))
        return None

    def length(self, name: str, what: str) -> float | None:
        return self.tried(name, lambda text: to_mm(positive_typed(text, name, what), self.unit))

    def word(self, name: str, allowed: tuple[str, ...], what: str) -> str:
        text = self.fields.get(name, "").strip()
        if not text or text in allowed:
            return text
        message = say(
            "{what} “{text}” is not known; use {choices}.",
            what=what,
            text=text[:40],
            choices=", ".join(allowed),
        )
        self.problems.append(Problem("not_a_choice", message, name))
        return ""

    def row(self, name: str) -> int | None:
        text = self.fields.get(name, "").strip()
        if not text:
            return None
        if text.isascii() and text.isdigit() and 0 < int(text[:12]) < 2**31:
            return int(text)
        message = say("There is no “{text}” to pick.", text=text[:20])
        self.problems.append(Problem("not_a_choice", message, name))
        return None


def _aim_mm(text: str, target: Target, unit: str) -> float:
    limits = target.pitch_diameter if isinstance(target, ThreadTarget) else target.size
    return aims.checked_aim_mm(to_mm(positive_typed(text, "aim", say("The aim")), unit), limits)


def _crest_mm(text: str, target: Target, unit: str) -> float:
    crest_mm = to_mm(positive_typed(text, "crest_diameter", say("The crest diameter")), unit)
    if isinstance(target, ThreadTarget):
        if target.kind.is_internal:
            lowest = target.nominal_mm - 3 * target.pitch_mm
            highest = target.pitch_diameter.both()[0]
        else:
            lowest = target.pitch_diameter.both()[1]
            highest = target.nominal_mm + target.pitch_mm
        if not lowest < crest_mm < highest:
            raise OutOfRange(say("crest diameter"), crest_mm, max(lowest, 0.0), highest, "mm")
    return crest_mm


def _tip(reader: _Reader, target: Target) -> ToolTip | None:
    def read(name: str) -> Callable[[str], ToolTip]:
        def tip(text: str) -> ToolTip:
            size = number_typed(text, name)
            size_mm = to_mm(size, reader.unit)
            found = ToolTip(nose_radius_mm=size_mm) if name == "nose_radius" else ToolTip(size_mm)
            if isinstance(target, ThreadTarget):
                found.check_fits(target.pitch_mm, target.half_angle_rad)
            return found

        return tip

    flat = reader.tried("flat", read("flat"))
    nose = reader.tried("nose_radius", read("nose_radius"))
    if flat is not None and nose is not None:
        message = say("A tool has a nose radius or a flat, not both; the flat is taken.")
        reader.problems.append(Problem("two_tips", message, "nose_radius"))
    return flat or nose


def _compound(text: str, fields: Mapping[str, str]) -> CompoundSetting:
    angle_deg = float(number_typed(text, "compound_angle_deg"))
    is_axis = fields.get("angle_from", "").strip() == "axis"
    measured_from: MeasuredFrom = "axis" if is_axis else "cross_slide"
    return CompoundSetting(radians(angle_deg), measured_from)


def _passes(text: str) -> int:
    value = number_typed(text, "passes")
    if value != int(value) or not 2 <= value <= MOST_PASSES_TYPED:
        raise refuse(
            422,
            "out_of_range",
            say(
                "{text} is no number of passes; type a whole number from 2 to {most}.",
                text=text,
                most=MOST_PASSES_TYPED,
            ),
        )
    return int(value)


def _rpm(text: str) -> float:
    value = positive_typed(text, "rpm", say("The spindle speed"))
    if value > LARGEST_RPM:
        raise OutOfRange(say("spindle speed"), float(value), 0, LARGEST_RPM, "rpm")
    return float(value)


def _coat(text: str, target: Target, unit: str) -> Coat:
    """One thickness, or thinnest and thickest with a stroke or a dash between them."""
    sizes = [to_mm(number_typed(part, "plating"), unit) for part in _RANGE.split(text, maxsplit=1)]
    coat = Coat(min(sizes), max(sizes))
    if not coat.thickest_mm < target.nominal_mm / 4:
        raise OutOfRange(say("plating"), coat.thickest_mm, 0, target.nominal_mm / 4, "mm")
    return coat


def nearest_readable(error: DesignationError, text: str, unit: str) -> tuple[str, ...]:
    """What could be typed in the place of the text, and is sure to be read.

    A family may name only the part that would do, as 3A for 4A: then it is put in its place.
    """
    plain = designation.normalised(text)[: designation.LONGEST]
    found = []
    for near in error.nearest:
        swapped = plain.replace(error.part, near, 1) if error.part else near
        for candidate in (near, swapped):
            if candidate not in found and _reads(candidate, unit):
                found.append(candidate)
                break
    return tuple(found)


def _reads(text: str, unit: str) -> bool:
    try:
        designation.read(text, None, unit)
    except DesignationError:
        return False
    return True
