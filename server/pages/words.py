"""Stored codes in the words of the screens, numbers as a person reads them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from server.logbook.evaluate import Evaluation
from server.logbook.setup import Setup
from server.metrology.decision import VERDICT_WORDS, GuardRule
from server.metrology.decision import Verdict as Code
from server.metrology.dials import Slide
from server.metrology.instruments import InstrumentKind
from server.metrology.model import Kind
from server.metrology.units import shown
from server.pages.views import NO_VERDICT, Choice, Verdict

KIND_WORDS = {
    Kind.OUTSIDE_DIAMETER: "Outside diameter",
    Kind.BORE: "Bore",
    Kind.EXTERNAL_THREAD: "External thread",
    Kind.INTERNAL_THREAD: "Internal thread",
    Kind.GROOVE_DIAMETER: "Groove diameter",
    Kind.LENGTH: "Length",
}
METHOD_WORDS = {
    "direct": "Direct",
    "over_wires": "Over three wires",
    "thread_micrometer": "Thread micrometer",
    "over_balls": "Over two balls",
    "gauges": "GO and NOT GO gauges",
}
SLIDE_WORDS = {
    "cross_slide": "Cross-slide",
    "compound": "Compound",
    "carriage": "Carriage",
}
SLIDE_OF = {
    "cross_slide": "the cross-slide",
    "compound": "the compound",
    "carriage": "the carriage",
}
EVENT_WORDS = {
    "tool_changed": "Tool changed",
    "rezeroed": "Dial re-zeroed",
    "rechucked": "Re-chucked",
}
GAUGE_WORDS = {
    ("go", True): "GO enters",
    ("go", False): "GO does not enter",
    ("not_go", True): "NOT GO enters",
    ("not_go", False): "NOT GO does not enter",
}
WARM_WORDS = {"settled": "Settled", "drifting": "Drifting", "wait": "Wait"}
TOUCH_WORDS = {
    "shop": "as the shop",
    "barely_warm": "barely warm",
    "warm": "warm in the hand",
    "too_hot": "too hot to hold",
}
INSTRUMENT_WORDS = {
    InstrumentKind.MICROMETER: "Micrometer",
    InstrumentKind.CALLIPER: "Calliper, outside jaws",
    InstrumentKind.CALLIPER_INSIDE: "Calliper, inside jaws",
    InstrumentKind.DEPTH_MICROMETER: "Depth micrometer",
    InstrumentKind.INSIDE_MICROMETER: "Inside micrometer",
    InstrumentKind.BORE_GAUGE: "Bore gauge",
    InstrumentKind.THREAD_MICROMETER: "Thread micrometer",
    InstrumentKind.INDICATOR: "Indicator",
    InstrumentKind.LIMIT_GAUGE: "GO and NOT GO gauge",
    InstrumentKind.OTHER: "Other",
}
STATE_WORDS = {
    "": "In work",
    "good": "Good",
    "scrap": "Scrap",
    "concession": "Concession",
    "rework": "Reworked",
}
UNITS = (Choice(value="in", word="inch"), Choice(value="mm", word="mm"))
TEMPERATURE_UNITS = (Choice(value="C", word="°C"), Choice(value="F", word="°F"))
ANGLE_CONVENTIONS = (
    Choice(value="cross_slide", word="0° along the cross-slide"),
    Choice(value="axis", word="0° along the lathe axis"),
)
COUNTS = (
    Choice(value="diameter", word="diameter: as much comes off"),
    Choice(value="travel", word="slide travel: twice comes off"),
)
WIRE_RULES = (
    Choice(value="", word="by the thread"),
    Choice(value="handbook", word="handbook rule"),
    Choice(value="exact", word="exact contact"),
)
DECISION_RULES = tuple(Choice(value=rule.value, word=rule.words) for rule in GuardRule)


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
    note = ""
    if setup is not None and setup.method in ("over_wires", "over_balls"):
        note = f"pitch diameter {setup.method.replace('_', ' ')}"
    return Verdict(code=code, word=VERDICT_WORDS[Code(code)], note=note)


def standing_view(found: Evaluation, setup: Setup | None = None) -> Verdict:
    """The verdict as the work stands; where a cut came after the last reading, that reading."""
    if found.verdict is None and found.known is not None:
        last = size_text(found.setup, found.known.size_mm)
        return Verdict(code="none", word=f"Last {last}, cut since not read")
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
        return "under 0.1 %" if chance > 1e-9 else "0 %"
    if chance >= 0.9995:
        return "over 99.9 %"
    return f"{chance * 100:.1f} %" if chance < 0.02 or chance > 0.98 else f"{chance * 100:.0f} %"


def clock(at: str) -> str:
    """The time of day where the server stands."""
    return local(at).strftime("%H:%M")


def day(at: str) -> str:
    when = local(at)
    return f"{when.day} {when:%B %Y}"


def local(at: str) -> datetime:
    return datetime.fromisoformat(at).astimezone()


def joined(parts: Iterable[str]) -> str:
    return ", ".join(part for part in parts if part)
