"""What guide.html and help.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.view_base import Choice, Page


@dataclass(frozen=True, kw_only=True)
class GuidePage(Page):
    """guide.html at /start: the first part in three steps, one plain form.

    GET  /start?unit=in|mm  the unit that the empty fields start with
    POST /start  lathe_id or lathe_name, lathe_unit, cross_slide_counts, cross_slide_graduation,
                 compound_counts, compound_graduation, compound_angle_deg, angle_from;
                 instrument_id or instrument_name, instrument_unit, instrument_kind, resolution,
                 max_error; part_name, material, unit, designation, kind, wire, slide.
                 303 to the lathe, or 422 with this page.
    """

    help: str = "start"
    unit: str
    other_unit_words: str  # "Work in millimetres instead"
    other_unit_url: str
    lathes: tuple[Choice, ...] = ()
    instruments: tuple[Choice, ...] = ()
    units: tuple[Choice, ...]
    counts: tuple[Choice, ...]
    angle_conventions: tuple[Choice, ...]
    instrument_kinds: tuple[Choice, ...]
    kinds: tuple[Choice, ...]
    slides: tuple[Choice, ...]
    materials: tuple[str, ...]
    graduation: str
    resolution: str
    example: str  # "5/8-18 UNF-2A, .500 +.000/-.002"


@dataclass(frozen=True, kw_only=True)
class Answered:
    """A question that people ask of a screen, and its answer."""

    question: str
    answer: str


@dataclass(frozen=True, kw_only=True)
class HelpSection:
    """Help on one screen; key is its place on the page and Page.help of its views."""

    key: str
    title: str
    purpose: str
    steps: tuple[str, ...]
    questions: tuple[Answered, ...]


def help_section(
    key: str, title: str, purpose: str, steps: tuple[str, ...], *asked: tuple[str, str]
) -> HelpSection:
    return HelpSection(
        key=key,
        title=title,
        purpose=purpose,
        steps=steps,
        questions=tuple(Answered(question=each, answer=answer) for each, answer in asked),
    )


@dataclass(frozen=True, kw_only=True)
class Term:
    word: str
    meaning: str


@dataclass(frozen=True, kw_only=True)
class HelpPage(Page):
    """help.html at /help: a section a screen, then the words."""

    help: str = "words"
    sections: tuple[HelpSection, ...]
    terms: tuple[Term, ...]
