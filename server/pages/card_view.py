"""The numbers of a target card as its template shows them."""

from __future__ import annotations

import math

from server.logbook.cards import CardNumbers, Gauges
from server.logbook.measuring import OVER_BALLS, Measured, Squeeze, method_of
from server.logbook.parts import KIND_WORDS
from server.metrology.aim import Fit, ThreadBeforePlating
from server.metrology.fits import FitPair
from server.metrology.model import Kind, Limits, Rule, ThreadTarget
from server.metrology.units import MM_PER_INCH, shown, usual_decimals
from server.pages import card_infeed_view
from server.pages.views import Aim, Card, Fact, LimitRow, ScheduleRow, Wires
from server.pages.words import with_minus
from server.wording import joined, say, say_n, sentence

RULE_WORDS = {Rule.HANDBOOK: say("Handbook rule"), Rule.EXACT: say("Exact contact")}
AIM_WORDS = {Fit.TIGHT: say("Tight aim"), Fit.MID: say("Middle aim"), Fit.FREE: say("Free aim")}
HANDS = {"right": say("right hand"), "left": say("left hand")}
TIGHT, FREE = say("tight"), say("free")
ENDS = {  # what a part at the low and at the high limit is like
    Kind.GROOVE_DIAMETER: (say("deep"), say("shallow")),
    Kind.LENGTH: (say("short"), say("long")),
}


def card_view(card: CardNumbers) -> Card:
    text = Sizes(card)
    target = card.target
    thread = target if isinstance(target, ThreadTarget) else None
    cut = card_infeed_view.cutting(card, thread, text) if thread and card.infeed else None
    turned: tuple[tuple[ScheduleRow, ...], str] = ((), "")
    if card.turning is not None:
        turned = card_infeed_view.turned_passes(card, card.turning, text)
    return Card(
        heading=target.designation,
        kind_word=KIND_WORDS[target.kind],
        unit=card.unit,
        source=target.source,
        limits=_limit_rows(card, text),
        aim=_aim(card, text),
        aims=_aims(card, text),
        facts=_thread_facts(thread, text) if thread else _plain_facts(card, text),
        wires=_wires(card.gauges, card, text) if card.gauges else None,
        groove=cut.facts if cut else (),
        swing=cut.swing if cut else "",
        seconds=cut.seconds if cut else (),
        caution=cut.caution if cut else "",
        schedule=cut.schedule if cut else turned[0],
        schedule_words=cut.schedule_words if cut else turned[1],
        plating=_plating(card, text),
        notes=tuple(sentence(note) for note in card.notes),
        set_words=cut.set_words if cut else (),
        method=method_of(thread) if thread else "direct",
    )


class Sizes:
    """Lengths in the card's unit: the usual places, more where limits are finer."""

    def __init__(self, card: CardNumbers) -> None:
        self.unit = card.unit
        self.usual = usual_decimals(card.unit)
        target = card.target
        own = target.decimals if target.unit == card.unit else 5 if card.unit == "in" else 0
        self.places = min(6, max(self.usual, own))

    def size(self, value_mm: float | None) -> str:
        return "" if value_mm is None else shown(value_mm, self.unit, self.places)

    def usual_size(self, value_mm: float) -> str:
        return shown(value_mm, self.unit, self.usual)

    def fine(self, value_mm: float) -> str:
        """Corrections of micrometres."""
        return with_minus(shown(value_mm, self.unit, self.usual + 2))

    def short(self, value_mm: float) -> str:
        """One place more than usual, zeros at the end left off: a pitch of 1.5, of 0.05556."""
        return shown(value_mm, self.unit, self.usual + 1).rstrip("0").rstrip(".")

    def span(self, limits: Limits) -> str:
        low, high = self.size(limits.low_mm), self.size(limits.high_mm)
        if low and high:
            return say("{low} to {high}", low=low, high=high)
        if high:
            return say("at most {size}", size=high)
        return say("at least {size}", size=low) if low else ""


def _limit_rows(card: CardNumbers, text: Sizes) -> tuple[LimitRow, ...]:
    target = card.target
    if isinstance(target, ThreadTarget):
        return (
            _row(say("Major diameter"), target.major_diameter, text),
            _row(say("Pitch diameter"), target.pitch_diameter, text, is_aimed=True),
            _row(say("Minor diameter"), target.minor_diameter, text),
        )
    if card.pair is None:
        return (_row(say("Size"), target.size, text, is_aimed=True),)
    hole, shaft, is_hole = card.pair.hole, card.pair.shaft, target.kind.is_internal
    hole_label = say("Hole {tolerance_class}", tolerance_class=hole.tolerance_class)
    shaft_label = say("Shaft {tolerance_class}", tolerance_class=shaft.tolerance_class)
    return (
        _row(hole_label, hole.size, text, is_aimed=is_hole),
        _row(shaft_label, shaft.size, text, is_aimed=not is_hole),
    )


def _row(label: str, limits: Limits, text: Sizes, is_aimed: bool = False) -> LimitRow:
    both = limits.low_mm is not None and limits.high_mm is not None
    return LimitRow(
        label=label,
        low=text.size(limits.low_mm),
        high=text.size(limits.high_mm),
        tolerance=text.size(limits.tolerance_mm) if both else "",
        is_aimed=is_aimed,
    )


def _aim(card: CardNumbers, text: Sizes) -> Aim:
    low_mm, high_mm = card.limits.both()
    share = round(100 * (card.aim_mm - low_mm) / (high_mm - low_mm))
    low_word, high_word = ENDS.get(
        card.target.kind, (TIGHT, FREE) if card.target.kind.is_internal else (FREE, TIGHT)
    )
    return Aim(
        value=text.size(card.aim_mm),
        share_from_low=min(100, max(0, share)),
        low_word=low_word,
        high_word=high_word,
        is_moved=card.aim_is_moved,
    )


def _aims(card: CardNumbers, text: Sizes) -> tuple[Fact, ...]:
    measured = card.gauges.measured if card.gauges else None
    return tuple(
        Fact(
            label=AIM_WORDS[fit],
            value=text.size(measured.reads(card.aims_mm[fit]) if measured else card.aims_mm[fit]),
            note=(
                say("pitch diameter {size}", size=text.size(card.aims_mm[fit])) if measured else ""
            ),
        )
        for fit in Fit
    )


def _thread_facts(target: ThreadTarget, text: Sizes) -> tuple[Fact, ...]:
    per_inch = say("{count} to the inch", count=f"{MM_PER_INCH / target.pitch_mm:.5g}")
    pitch, lead = text.short(target.pitch_mm), text.short(target.lead_mm)
    starts = joined([say_n(target.starts, "one start", "{n} starts"), HANDS[target.hand]])
    facts = [
        Fact(label=say("Pitch"), value=pitch, unit=text.unit, note=per_inch),
        Fact(label=say("Lead"), value=lead, unit=text.unit, note=starts),
        Fact(label=say("Half angle"), value=f"{math.degrees(target.half_angle_rad):.4g}°"),
        Fact(label=say("Class"), value=target.tolerance_class),
        Fact(label=say("Allowance"), value=text.size(target.allowance_mm), unit=text.unit),
    ]
    return tuple(fact for fact in facts if fact.value)


def _plain_facts(card: CardNumbers, text: Sizes) -> tuple[Fact, ...]:
    is_stated = card.target.family == "stated"
    facts = [
        Fact(label=say("Nominal"), value=text.size(card.target.nominal_mm), unit=text.unit),
        Fact(label=say("Class"), value=say("stated") if is_stated else card.target.tolerance_class),
    ]
    return tuple(facts) + (_pair_facts(card.pair, text) if card.pair else ())


def _pair_facts(pair: FitPair, text: Sizes) -> tuple[Fact, ...]:
    def clearance(label: str, value_mm: float) -> Fact:
        word = say("clearance") if value_mm >= 0 else say("interference")
        return Fact(label=label, value=text.size(abs(value_mm)), unit=text.unit, note=word)

    return (
        Fact(label=say("Fit"), value=pair.character),
        clearance(say("Tightest"), pair.smallest_clearance_mm),
        clearance(say("Loosest"), pair.largest_clearance_mm),
    )


def _wires(gauges: Gauges, card: CardNumbers, text: Sizes) -> Wires:
    fits, measured, other = gauges.fits, gauges.measured, gauges.other
    is_balls = card.target.kind.is_internal
    view = {
        "title": say("Balls") if is_balls else say("Wires"),
        "best": text.usual_size(fits.best_mm),
        "smallest": text.usual_size(fits.smallest_mm),
        "largest": text.usual_size(fits.largest_mm),
        "why_smallest": sentence(fits.smallest_because),
        "why_largest": sentence(fits.largest_because),
    }
    crib = _crib(gauges, text)
    if measured is None or other is None:
        return Wires(**view, wire="", crib=crib, problem=gauges.problem)
    wire = text.usual_size(measured.wire_mm)
    squeeze = measured.squeeze
    return Wires(
        **view,
        crib=crib,
        wire=wire,
        wire_name=_wire_name(gauges),
        over_words=over_words(measured, wire),
        constant=text.usual_size(measured.constant_mm),
        low=text.size(measured.low_mm),
        high=text.size(measured.high_mm),
        aim=text.size(measured.reads(card.aim_mm)),
        rule_word=RULE_WORDS[measured.rule],
        rule_why=_rule_why(card, measured, text),
        lead_correction=text.fine(measured.lead_correction_mm),
        flattening=text.fine(squeeze.flattening.total_mm) if squeeze else "",
        flattening_note=_squeeze_words(squeeze) if squeeze else "",
        other_rule_word=RULE_WORDS[other.rule],
        other_low=text.size(other.low_mm),
        other_high=text.size(other.high_mm),
    )


def over_words(measured: Measured, wire: str) -> str:
    if measured.measured == OVER_BALLS:
        return say("Across two {wire} balls", wire=wire)
    return say("Over {wire} wires", wire=wire)


def _squeeze_words(squeeze: Squeeze) -> str:
    force = f"{squeeze.force_n:.3g}"
    if squeeze.is_applied:
        return say("at {force} N; applied", force=force)
    return say("at {force} N; shown only", force=force)


def _wire_name(gauges: Gauges) -> str:
    if gauges.chosen is None:
        return say("as typed") if gauges.origin == "typed" else say("the best size, as written")
    return joined(
        [
            gauges.chosen.name,
            say("measured") if gauges.chosen.is_measured else say("nominal"),
            say("certified to zero force") if gauges.chosen.at_zero_force else "",
        ]
    )


def _rule_why(card: CardNumbers, measured: Measured, text: Sizes) -> str:
    if card.asked.rule is not None:
        return say("as chosen")
    limit = f"{text.fine(0.00015 * MM_PER_INCH).rstrip('0')} {text.unit}"
    if measured.rule is Rule.HANDBOOK:
        return say(
            "the lead correction is below {limit}, so the limits agree with a wall chart",
            limit=limit,
        )
    return say("the lead correction is {limit} or more", limit=limit)


def _crib(gauges: Gauges, text: Sizes) -> tuple[Fact, ...]:
    if gauges.crib is None:
        return ()
    usable = [
        Fact(
            label=owned.name,
            value=text.usual_size(owned.wires.effective_mm),
            note=say("nearest to best") if number == 0 else say("fits"),
        )
        for number, owned in enumerate(gauges.crib.usable)
    ]
    unusable = [
        Fact(
            label=owned.name,
            value=text.usual_size(owned.wires.effective_mm),
            note=say("too small") if fault.is_too_small else say("too large"),
        )
        for owned, fault in gauges.crib.unusable
    ]
    return tuple(usable + unusable)


def _plating(card: CardNumbers, text: Sizes) -> tuple[Fact, ...]:
    before = card.before_plating
    if before is None:
        return ()
    if isinstance(before, Limits):
        return (Fact(label=say("Size"), value=text.span(before), unit=text.unit),)
    return _thread_plating(before, card, text)


def _thread_plating(
    before: ThreadBeforePlating, card: CardNumbers, text: Sizes
) -> tuple[Fact, ...]:
    lines = [
        (say("Major diameter"), before.major_diameter),
        (say("Pitch diameter"), before.pitch_diameter),
        (say("Minor diameter"), before.minor_diameter),
    ]
    facts = [
        Fact(label=label, value=text.span(limits), unit=text.unit)
        for label, limits in lines
        if text.span(limits)
    ]
    measured = card.gauges.measured if card.gauges else None
    if measured is not None:
        low_mm, high_mm = before.pitch_diameter.both()
        span = Limits(measured.reads(low_mm), measured.reads(high_mm))
        wire = text.usual_size(measured.wire_mm)
        facts.append(Fact(label=over_words(measured, wire), value=text.span(span), unit=text.unit))
    shift = text.size(before.pitch_shift_mm)
    facts.append(
        Fact(label=say("Pitch diameter moves"), value=shift, unit=text.unit, note="2 t / sin a")
    )
    return tuple(facts)
