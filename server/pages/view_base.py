"""What every page shares.  Fields are ready to show: no arithmetic is left to the templates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from server.wording import say


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One option of a select or a row of buttons."""

    value: str
    word: str


@dataclass(frozen=True, kw_only=True)
class Fact:
    """One named number: label, value, unit, and a short remark."""

    label: str
    value: str
    unit: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong with what was sent; field is the form field's name, "" for the whole form."""

    field: str
    message: str


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """code: stock_left, in_limits, too_close, past_limit, or none (no reading yet)."""

    code: str
    word: str
    note: str = ""  # what it speaks of: "pitch diameter over wires"


NO_VERDICT = Verdict(code="none", word=say("No reading yet"))


@dataclass(frozen=True, kw_only=True)
class Page:
    """Top-level names that base.html reads on every page.

    nav      which main link is the current one: parts, targets, crib, shop, or ""
    help     the section of /help that speaks of this screen
    theme    auto, light or dark, from the cookie "theme"
    notice   one line said once, after something was done ("Saved.")
    typed    what the person typed, by field name, to be kept after a refusal; "form" in it names
             the form that was sent (each form carries a hidden field "form")
    problems what was wrong with it
    """

    title: str
    nav: str = ""
    help: str = "parts"
    theme: str = "auto"
    notice: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


def context(view: object) -> dict[str, Any]:
    """The fields of a view as top-level template names (shallow)."""
    return {f.name: getattr(view, f.name) for f in fields(view)}  # type: ignore[arg-type]


@dataclass(frozen=True, kw_only=True)
class Finish:
    """The finish form: shown at the lathe, on the history and on its own page after a refusal."""

    action: str  # "/pieces/3/finish"
    missing: tuple[str, ...] = ()  # what stands in the way of "good", one sentence each
    suggested: str = "good"  # good, scrap or concession
    needs_reason: bool = False  # true where good asks for initials and a reason (too close)
    initials: str = ""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A line of a pass history: one reading, one pass without a reading, or one event."""

    entry_id: int
    type: str  # reading, pass or event
    number: str  # "4"
    when: str  # "10:42"
    own_unit: str = ""  # the drawing's: size, doubt, removed, predicted and off are in it
    value: str = ""  # exactly as typed
    unit: str = ""  # what it was typed in
    size: str = ""  # the feature's own size at 20 °C
    size_low: str = ""  # where warmth makes it a range
    size_high: str = ""
    doubt: str = ""  # "0.0002"; shown as ± 0.0002
    dialled: str = ""  # as typed; "" for a spring pass
    dial_unit: str = ""
    is_spring: bool = False  # the dial stayed where it was
    slide: str = ""  # "cross-slide"
    removed: str = ""
    predicted: str = ""
    off: str = ""  # actual less what was expected when the cut was advised, signed: "+0.0003"
    is_outside: bool = False  # of the 90 % range that went with it
    temperature: str = ""  # "warm in the hand", "31.0 °C", "not noted"
    warm_state: str = ""  # settled, drifting, wait, ""
    warm_word: str = ""  # "Drifting"
    verdict: Verdict | None = None
    words: str = ""  # an event in words: "Tool changed"
    who: str = ""
    station: str = ""
    instrument: str = ""
    note: str = ""
    wrong: str = ""  # what this cut did wrong, where it took the feature past its limit
    is_struck: bool = False
    struck_reason: str = ""
    struck_at: str = ""
    strike_action: str = ""  # "/readings/17/strike"; "" where it can't be struck


@dataclass(frozen=True, kw_only=True)
class ErrorPage(Page):
    """error.html: 404, 405, 500 and refusals that have no page of their own."""

    status: int
    heading: str
    message: str
    remedy: str = ""  # what to do now


@dataclass(frozen=True, kw_only=True)
class FinishPage(Page):
    """finish.html: the finish form alone, after a refusal (409) or on GET."""

    help: str = "lathe"
    piece_name: str
    piece_url: str
    finish: Finish
