"""Stored codes in the words of the screens, numbers as a person reads them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from server.logbook.evaluate import Evaluation
from server.logbook.parts import KIND_WORDS
from server.logbook.setup import METHOD_WORDS, Setup
from server.metrology.decision import VERDICT_WORDS, GuardRule
from server.metrology.decision import Verdict as Code
from server.metrology.dials import Slide
from server.metrology.instruments import InstrumentKind
from server.metrology.units import shown
from server.pages.views import NO_VERDICT, Choice, Verdict
from server.records.tables import ClosingRow
from server.wording import changed, joined, say

MONTHS = (
    say("January"),
    say("February"),
    say("March"),
    say("April"),
    say("May"),
    say("June"),
    say("July"),
    say("August"),
    say("September"),
    say("October"),
    say("November"),
    say("December"),
)
SLIDE_WORDS = {
    "cross_slide": say("Cross-slide"),
    "compound": say("Compound"),
    "carriage": say("Carriage"),
}
WITH_SLIDE = {  # after a step that was dialled
    "cross_slide": say("cross-slide"),
    "compound": say("compound"),
    "carriage": say("carriage"),
}
THE_SLIDE = {
    "cross_slide": say("the cross-slide"),
    "compound": say("the compound"),
    "carriage": say("the carriage"),
}
ON_SLIDE = {
    "cross_slide": say("on the cross-slide"),
    "compound": say("on the compound"),
    "carriage": say("on the carriage"),
}
COUNTED = {"diameter": say("diameter"), "travel": say("travel")}  # what a dial counts
EVENT_WORDS = {
    "tool_changed": say("Tool changed"),
    "rezeroed": say("Dial re-zeroed"),
    "rechucked": say("Re-chucked"),
}
GAUGE_WORDS = {
    ("go", True): say("GO enters"),
    ("go", False): say("GO does not enter"),
    ("not_go", True): say("NOT GO enters"),
    ("not_go", False): say("NOT GO does not enter"),
}
WARM_WORDS = {"settled": say("Settled"), "drifting": say("Drifting"), "wait": say("Wait")}
INSTRUMENT_WORDS = {
    InstrumentKind.MICROMETER: say("Micrometer"),
    InstrumentKind.CALLIPER: say("Calliper, outside jaws"),
    InstrumentKind.CALLIPER_INSIDE: say("Calliper, inside jaws"),
    InstrumentKind.DEPTH_MICROMETER: say("Depth micrometer"),
    InstrumentKind.INSIDE_MICROMETER: say("Inside micrometer"),
    InstrumentKind.BORE_GAUGE: say("Bore gauge"),
    InstrumentKind.THREAD_MICROMETER: say("Thread micrometer"),
    InstrumentKind.INDICATOR: say("Indicator"),
    InstrumentKind.LIMIT_GAUGE: say("GO and NOT GO gauge"),
    InstrumentKind.OTHER: say("Other"),
}
STATE_WORDS = {
    "": say("In work"),
    "good": say("Good"),
    "scrap": say("Scrap"),
    "concession": say("Concession"),
    "rework": say("Reworked"),
}
FINISHED_WORDS = {
    "good": say("Finished: good"),
    "scrap": say("Finished: scrap"),
    "concession": say("Finished: concession"),
    "rework": say("Finished: reworked"),
}
PITCH_DIAMETER = {
    "over_wires": say("pitch diameter over wires"),
    "over_balls": say("pitch diameter over balls"),
}
UNITS = (Choice(value="in", word=say("inch")), Choice(value="mm", word="mm"))
TEMPERATURE_UNITS = (Choice(value="C", word="°C"), Choice(value="F", word="°F"))
ANGLE_CONVENTIONS = (
    Choice(value="cross_slide", word=say("0° along the cross-slide")),
    Choice(value="axis", word=say("0° along the lathe axis")),
)
COUNTS = (
    Choice(value="diameter", word=say("diameter: as much comes off")),
    Choice(value="travel", word=say("slide travel: twice comes off")),
)
WIRE_RULES = (
    Choice(value="", word=say("by the thread")),
    Choice(value="handbook", word=say("handbook rule")),
    Choice(value="exact", word=say("exact contact")),
)
DECISION_RULES = tuple(
    Choice(
        value=rule.value,
        word=changed(rule.words, lambda plain: plain.replace(" = ", "\u00a0=\u00a0")),
    )
    for rule in GuardRule
)


def choices(words: Iterable[tuple[str, str]]) -> tuple[Choice, ...]:
    return tuple(Choice(value=str(value), word=word) for value, word in words)


KINDS = choices(KIND_WORDS.items())
METHODS = choices(METHOD_WORDS.items())
SLIDES = choices(SLIDE_WORDS.items())
INSTRUMENT_KINDS = choices((kind.value, word) for kind, word in INSTRUMENT_WORDS.items())


def verdict_view(code: str | None, setup: Setup | None = None) -> Verdict:
    """A verdict with its word; over wires the label says what it speaks of."""
    if not code:
        return NO_VERDICT
    note = PITCH_DIAMETER.get(setup.method, "") if setup else ""
    return Verdict(code=code, word=VERDICT_WORDS[Code(code)], note=note)


def standing_view(found: Evaluation, setup: Setup | None = None) -> Verdict:
    """The verdict as the work stands; where a cut came after the last reading, that reading."""
    if found.verdict is None and found.known is not None:
        last = size_text(found.setup, found.known.size_mm)
        return Verdict(code="none", word=say("Last {size}, cut since not read", size=last))
    return verdict_view(found.verdict.value if found.verdict else None, setup)


def length(value: float | None, places: int) -> str:
    """A length already in the user's unit; "" for none, no minus before a zero."""
    if value is None:
        return ""
    text = f"{value:.{places}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def signed(value: float | None, places: int) -> str:
    if value is None:
        return ""
    text = length(value, places)
    return with_minus(text) if text.startswith("-") else f"+{text}"


def with_minus(number: str) -> str:
    """A number as it is printed: a minus sign, not a hyphen."""
    return number.replace("-", "\u2212", 1)


def size_text(setup: Setup, value_mm: float) -> str:
    return with_minus(shown(value_mm, setup.unit, setup.decimals))


def dial_text(setup: Setup, slide: Slide, value_mm: float) -> tuple[str, str]:
    """(what a dial would show for a length in its own count, the unit of that dial)."""
    unit = setup.slides.dial(slide).unit
    places = setup.decimals if unit == setup.unit else None
    return with_minus(shown(value_mm, unit, places)), unit


def percent(chance: float) -> str:
    """A chance for the eye: never a rounded 0 or 100 where it is neither."""
    if chance <= 0.0005:
        return say("under 0.1 %") if chance > 1e-9 else "0 %"
    if chance >= 0.9995:
        return say("over 99.9 %")
    return f"{chance * 100:.1f} %" if chance < 0.02 or chance > 0.98 else f"{chance * 100:.0f} %"


def clock(at: str) -> str:
    """The time of day where the server stands."""
    return local(at).strftime("%H:%M")


def day(at: str) -> str:
    return date_words(local(at))


def moment(at: str) -> str:
    return moment_words(local(at))


def date_words(when: date) -> str:
    return say("{day} {month} {year}", day=when.day, month=MONTHS[when.month - 1], year=when.year)


def moment_words(when: datetime) -> str:
    return say("{day} {time}", day=date_words(when), time=f"{when:%H:%M}")


def local(at: str) -> datetime:
    return datetime.fromisoformat(at).astimezone()


def finished_words(closing: ClosingRow) -> str:
    by = say("by {initials}", initials=closing.initials) if closing.initials else ""
    return joined([FINISHED_WORDS[closing.closed_as], day(closing.at), by])
