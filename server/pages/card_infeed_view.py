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
from server.pages.words import COUNTED, ON_SLIDE
from server.wording import joined, say, say_as

PURPOSES = {
    Purpose.ROUGH: "",
    Purpose.SEMI_FINISH: say("semi-finish"),
    Purpose.LAST: say("set pass"),
    Purpose.SPRING: say("spring pass"),
}

TURNED = PURPOSES | {
    Purpose.ROUGH: say_as("a pass", "rough"),
    Purpose.LAST: say_as("a pass", "finish"),
}
AS_TYPED = say("as typed")


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
        word = say("{purpose} to {size}", purpose=TURNED[each.purpose], size=size)
        rows.append(replace(_pass(each, text), word=word))
    return tuple(rows), _schedule_words(card, turned)


def _touch_off(target: ThreadTarget, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    touched = fed.touch_off
    tip = _tip(fed, text)
    if touched is None or touched.infeed.radial_mm is None:
        return (tip,)
    radial = touched.infeed.radial_mm
    crest = text.usual_size(fed.crest_mm)
    in_bore = target.kind is Kind.INTERNAL_THREAD
    facts = [
        Fact(
            label=say("Total infeed, plunged"),
            value=text.usual_size(radial),
            unit=text.unit,
            note=say(
                "on radius, {twice} on a dial that counts diameter",
                twice=text.usual_size(2 * radial),
            ),
        )
    ]
    on_compound = _compound_travel(fed, radial)
    if on_compound is not None:
        facts.append(
            Fact(
                label=say("On the compound"),
                value=text.usual_size(on_compound),
                unit=text.unit,
                note=say("travel, {angle} from the cross-slide", angle=_angle(fed)),
            )
        )
    facts.append(
        Fact(
            label=say("Touching off on the bore") if in_bore else say("Touching off on the crest"),
            value=crest,
            unit=text.unit,
            note=say("assumed: middle of its limits") if fed.crest_is_assumed else AS_TYPED,
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
    label = say("Tool nose radius") if nose else say("Tool flat")
    because = fed.tip_because
    note = say("assumed: {because}", because=because) if because else AS_TYPED
    return Fact(
        label=label, value=text.usual_size(nose or fed.tip.flat_mm), unit=text.unit, note=note
    )


def _seat(card: CardNumbers, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    measured = card.gauges.measured if card.gauges else None
    if measured is None:
        return ()
    are_balls = card.target.kind.is_internal
    if fed.seat is None:
        return (
            Fact(
                label=say("Balls seat at") if are_balls else say("Wires seat at"),
                value=say("never"),
                note=say("the tip is too wide for them"),
            ),
        )
    reading = text.usual_size(fed.seat.reading_mm)
    return (
        Fact(
            label=say("Balls seat at infeed") if are_balls else say("Wires seat at infeed"),
            value=text.usual_size(fed.seat.infeed_mm),
            unit=text.unit,
            note=say("reading {reading} and above; rough before that", reading=reading)
            if are_balls
            else say("reading {reading} and below; rough before that", reading=reading),
        ),
    )


def _set(target: ThreadTarget, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    found = fed.set
    if found is None:
        return ()
    internal = target.kind is Kind.INTERNAL_THREAD
    relief, chamfer = found.relief, found.chamfer
    widths = say(
        "{low} to {high}",
        low=text.usual_size(relief.smallest_width_mm),
        high=text.usual_size(relief.usual_width_mm),
    )
    return (
        Fact(
            label=say("Relief groove"),
            value=text.usual_size(relief.diameter_mm),
            unit=text.unit,
            note=say("diameter, at least") if internal else say("diameter, at most"),
        ),
        Fact(
            label=say("Groove width"),
            value=widths,
            unit=text.unit,
            note=say("two to three pitches"),
        ),
        Fact(
            label=say("End chamfer"),
            value=text.usual_size(chamfer.length_mm),
            unit=text.unit,
            note=say(
                "long at {angle}°, to {diameter} at the face",
                angle=f"{math.degrees(chamfer.angle_rad):.3g}",
                diameter=text.usual_size(chamfer.end_diameter_mm),
            ),
        ),
    )


def _seconds(card: CardNumbers, fed: Infeed, text: Sizes) -> tuple[Fact, ...]:
    asked = card.asked
    if fed.seconds is None or asked.rpm is None or fed.groove_width_mm is None:
        return ()
    return (
        Fact(
            label=say("Time in the groove"),
            value=f"{fed.seconds:.2f}",
            unit="s",
            note=say(
                "at {speed} rpm, tool {tool} in a groove {groove} wide",
                speed=f"{asked.rpm:g}",
                tool=text.usual_size(asked.tool_width_mm or 0.0),
                groove=text.usual_size(fed.groove_width_mm),
            ),
        ),
    )


def _pass(each: PlannedPass, text: Sizes) -> ScheduleRow:
    same = each.unit == text.unit
    return ScheduleRow(
        number=str(each.number),
        step=(
            say("dial stays") if each.purpose is Purpose.SPRING else text.usual_size(each.step_mm)
        ),
        total=text.usual_size(each.depth_mm),
        dial=f"{each.dial_total:f}" if same else f"{each.dial_total:f} {each.unit}",
        word=PURPOSES[each.purpose],
    )


def _schedule_words(card: CardNumbers, fed: Infeed | Turning) -> str:
    dial = fed.slides.dial(fed.slide)
    counts = say(
        "dial counts {what} in {graduation} {unit}",
        what=COUNTED[dial.counts],
        graduation=f"{dial.graduation:f}",
        unit=dial.unit,
    )
    standing = fed.plan.left_standing_mm if fed.plan else 0.0
    left = say("leaves {size} {unit}", size=shown(standing, card.unit), unit=card.unit)
    return joined([_on_slide(card, fed), counts, left if standing > 1e-6 else ""])


def _on_slide(card: CardNumbers, fed: Infeed | Turning) -> str:
    lathe = card.lathe_name
    if fed.slide is not Slide.COMPOUND:
        on_slide = ON_SLIDE[fed.slide]
        return say("{on_slide} of {lathe}", on_slide=on_slide, lathe=lathe) if lathe else on_slide
    angle = _angle(fed)
    if not lathe:
        return say("on the compound at {angle} from the cross-slide", angle=angle)
    return say(
        "on the compound of {lathe} at {angle} from the cross-slide", lathe=lathe, angle=angle
    )


def _set_words(
    card: CardNumbers, target: ThreadTarget, fed: Infeed, text: Sizes
) -> tuple[str, ...]:
    found = fed.set
    if found is None:
        return ()
    low, high = (text.usual_size(end_mm) for end_mm in found.blank.both())
    end = text.usual_size(found.chamfer.end_diameter_mm)
    internal = target.kind is Kind.INTERNAL_THREAD
    try:
        relief = relief_words(found, target, card.unit)
    except OutOfRange:
        return ()
    return (
        say("Bore {low} to {high}", low=low, high=high)
        if internal
        else say("Major diameter {low} to {high}", low=low, high=high),
        relief,
        say("End chamfer to {diameter} at the face", diameter=end),
        say("Thread over balls") if internal else say("Thread over wires"),
    )
