"""The cutting half of a target card as its template shows it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Protocol

from server.advice.schedule import PlannedPass, Purpose
from server.logbook.card_infeed import Infeed
from server.logbook.card_turning import Turning
from server.logbook.cards import CardNumbers
from server.logbook.thread_sets import relief_words
from server.metrology.dials import Slide, SlideCannotFeed, swing_words
from server.metrology.model import Kind, OutOfRange, ThreadTarget
from server.metrology.thread_set import GROOVE_CAUTION
from server.metrology.units import shown
from server.pages.views import Fact, ScheduleRow
from server.pages.words import SLIDE_OF, joined

PURPOSES = {
    Purpose.ROUGH: "",
    Purpose.SEMI_FINISH: "semi-finish",
    Purpose.LAST: "set pass",
    Purpose.SPRING: "spring pass",
}

TURNED = PURPOSES | {Purpose.ROUGH: "rough", Purpose.LAST: "finish"}


class Sizes(Protocol):
    unit: str

    def usual_size(self, value_mm: float) -> str: ...


@dataclass(frozen=True)
class Cutting:
    facts: tuple[Fact, ...]
    swing: str
    seconds: tuple[Fact, ...]
    caution: str
    schedule: tuple[ScheduleRow, ...]
    schedule_words: str
    set_words: tuple[str, ...]


def cutting(card: CardNumbers, target: ThreadTarget, text: Sizes) -> Cutting:
    fed = card.infeed
    if fed is None:
        raise ValueError("a card without infeed has no cutting half")
    seconds = _seconds(card, fed, text)
    plan = fed.plan
    return Cutting(
        facts=_touch_off(target, fed, text) + _seat(card, fed, text) + _set(target, fed, text),
        swing=swing_words(target.kind, target.hand) if fed.slide is Slide.COMPOUND else "",
        seconds=seconds,
        caution=GROOVE_CAUTION if seconds else "",
        schedule=tuple(_pass(each, text) for each in plan.passes) if plan else (),
        schedule_words=_schedule_words(card, fed) if plan else "",
        set_words=_set_words(card, target, fed, text),
    )


def turned_passes(
    card: CardNumbers, turned: Turning, text: Sizes
) -> tuple[tuple[ScheduleRow, ...], str]:
    """(the passes of a plain size with the size after each, which dial they are on)."""
    if turned.plan is None:
        return (), ""
    rows = []
    for each in turned.plan.passes:
        size = text.usual_size(turned.size_after_mm(each.depth_mm))
        rows.append(replace(_pass(each, text), word=f"{TURNED[each.purpose]} to {size}"))
    return tuple(rows), _schedule_words(card, turned)


def _touch_off(target: ThreadTarget, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    touched = fed.touch_off
    tip = _tip(fed, text)
    if touched is None or touched.infeed.radial_mm is None:
        return (tip,)
    radial = touched.infeed.radial_mm
    crest = text.usual_size(fed.crest_mm)
    what = "bore" if target.kind is Kind.INTERNAL_THREAD else "crest"
    facts = [
        Fact(
            label="Total infeed, plunged",
            value=text.usual_size(radial),
            unit=text.unit,
            note=f"on radius, {text.usual_size(2 * radial)} on a dial that counts diameter",
        )
    ]
    on_compound = _compound_travel(fed, radial)
    if on_compound is not None:
        setting = f"{_angle(fed)} from the cross-slide"
        facts.append(
            Fact(
                label="On the compound",
                value=text.usual_size(on_compound),
                unit=text.unit,
                note=f"travel, {setting}",
            )
        )
    facts.append(
        Fact(
            label=f"Touching off on the {what}",
            value=crest,
            unit=text.unit,
            note="assumed: middle of its limits" if fed.crest_is_assumed else "as typed",
        )
    )
    return (*facts, tip)


def _compound_travel(fed: Infeed, radial_mm: float) -> float | None:
    """Slide travel, whatever the dial counts; None where the compound can't feed this."""
    if fed.touch_off is None or fed.touch_off.infeed.compound_dial_mm is None:
        return None
    try:
        return radial_mm / math.cos(fed.slides.theta_rad())
    except SlideCannotFeed:
        return None


def _angle(fed: Infeed | Turning) -> str:
    return f"{round(math.degrees(fed.slides.theta_rad()), 3):g}°"


def _tip(fed: Infeed, text: Sizes) -> Fact:
    nose = fed.tip.nose_radius_mm
    label = "Tool nose radius" if nose else "Tool flat"
    note = f"assumed: {fed.tip_because}" if fed.tip_because else "as typed"
    return Fact(
        label=label, value=text.usual_size(nose or fed.tip.flat_mm), unit=text.unit, note=note
    )


def _seat(card: CardNumbers, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    measured = card.gauges.measured if card.gauges else None
    if measured is None:
        return ()
    what = "Balls" if card.target.kind.is_internal else "Wires"
    if fed.seat is None:
        return (Fact(label=f"{what} seat at", value="never", note="the tip is too wide for them"),)
    side = "and above" if card.target.kind.is_internal else "and below"
    return (
        Fact(
            label=f"{what} seat at infeed",
            value=text.usual_size(fed.seat.infeed_mm),
            unit=text.unit,
            note=f"reading {text.usual_size(fed.seat.reading_mm)} {side}; rough before that",
        ),
    )


def _set(target: ThreadTarget, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    found = fed.set
    if found is None:
        return ()
    internal = target.kind is Kind.INTERNAL_THREAD
    relief, chamfer = found.relief, found.chamfer
    widths = f"{text.usual_size(relief.smallest_width_mm)} to " + text.usual_size(
        relief.usual_width_mm
    )
    return (
        Fact(
            label="Relief groove",
            value=text.usual_size(relief.diameter_mm),
            unit=text.unit,
            note=f"diameter, at {'least' if internal else 'most'}",
        ),
        Fact(label="Groove width", value=widths, unit=text.unit, note="two to three pitches"),
        Fact(
            label="End chamfer",
            value=text.usual_size(chamfer.length_mm),
            unit=text.unit,
            note=f"long at {math.degrees(chamfer.angle_rad):.3g}°, to "
            f"{text.usual_size(chamfer.end_diameter_mm)} at the face",
        ),
    )


def _seconds(card: CardNumbers, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    asked = card.asked
    if fed.seconds is None or asked.rpm is None or fed.groove_width_mm is None:
        return ()
    tool = text.usual_size(asked.tool_width_mm or 0.0)
    groove = text.usual_size(fed.groove_width_mm)
    return (
        Fact(
            label="Time in the groove",
            value=f"{fed.seconds:.2f}",
            unit="s",
            note=f"at {asked.rpm:g} rpm, tool {tool} in a groove {groove} wide",
        ),
    )


def _pass(each: PlannedPass, text: Sizes) -> ScheduleRow:
    same = each.unit == text.unit
    return ScheduleRow(
        number=str(each.number),
        step="dial stays" if each.purpose is Purpose.SPRING else text.usual_size(each.step_mm),
        total=text.usual_size(each.depth_mm),
        dial=f"{each.dial_total:f}" if same else f"{each.dial_total:f} {each.unit}",
        word=PURPOSES[each.purpose],
    )


def _schedule_words(card: CardNumbers, fed: Infeed | Turning) -> str:
    dial = fed.slides.dial(fed.slide)
    at = f" at {_angle(fed)} from the cross-slide" if fed.slide is Slide.COMPOUND else ""
    of = f" of {card.lathe_name}" if card.lathe_name else ""
    counts = f"dial counts {dial.counts} in {dial.graduation:f} {dial.unit}"
    standing = fed.plan.left_standing_mm if fed.plan else 0.0
    left = f"leaves {shown(standing, card.unit)} {card.unit}" if standing > 1e-6 else ""
    return joined([f"on {SLIDE_OF[fed.slide]}{of}{at}", counts, left])


def _set_words(
    card: CardNumbers, target: ThreadTarget, fed: Infeed, text: Sizes
) -> tuple[str, ...]:
    found = fed.set
    if found is None:
        return ()
    low_mm, high_mm = found.blank.both()
    internal = target.kind is Kind.INTERNAL_THREAD
    blank = "Bore" if internal else "Major diameter"
    how = "over balls" if internal else "over wires"
    try:
        relief = relief_words(found, target, card.unit)
    except OutOfRange:
        return ()
    return (
        f"{blank} {text.usual_size(low_mm)} to {text.usual_size(high_mm)}",
        relief,
        f"End chamfer to {text.usual_size(found.chamfer.end_diameter_mm)} at the face",
        f"Thread {how}",
    )
