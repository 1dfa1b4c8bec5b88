"""The guided first part, and help on every screen."""

from __future__ import annotations

from typing import Annotated
from unicodedata import normalize

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from server.logbook import shop
from server.logbook.first_use import FirstPart, open_first_part
from server.logbook.problems import Refused
from server.logbook.shop_instruments import NewInstrument
from server.logbook.shop_materials import material_names
from server.pages.crib import new_lathe
from server.pages.forms import Fields, optional_number
from server.pages.glossary import MEANINGS
from server.pages.help_sections import SECTIONS
from server.pages.language import ENGLISH, language_of, teller
from server.pages.parts import (
    NO_PROBLEMS,
    instrument_choices,
    lathe_choices,
)
from server.pages.render import book, page, problems_of, see_other, theme_of
from server.pages.views import GuidePage, HelpPage, Problem, Term
from server.pages.words import ANGLE_CONVENTIONS, COUNTS, INSTRUMENT_KINDS, KINDS, SLIDES, UNITS
from server.wording import say

router = APIRouter()

GRADUATION = {"in": "0.001", "mm": "0.02"}  # common practice
RESOLUTION = {"in": "0.0001", "mm": "0.001"}
EXAMPLE = {"in": "5/8-18 UNF-2A, .500 +.000/-.002", "mm": "M20x2.5-6g, 25 h6, 12.7 +0/-0.02"}
OTHER_UNIT = {
    "in": ("mm", say("Work in millimetres instead")),
    "mm": ("in", say("Work in inches instead")),
}


@router.get("/start")
def get_start(request: Request, unit: Annotated[str, Query(max_length=10)] = "") -> Response:
    return guide_page(request, unit)


def guide_page(
    request: Request,
    unit: str = "",
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    with book(request).reading() as session:
        chosen = unit if unit in GRADUATION else shop.shop_row(session).unit
        other, other_words = OTHER_UNIT[chosen]
        view = GuidePage(
            title=say("A guided first part"),
            nav="parts",
            theme=theme_of(request),
            typed=typed or {},
            problems=problems,
            unit=chosen,
            other_unit_words=other_words,
            other_unit_url=f"/start?unit={other}",
            lathes=lathe_choices(session),
            instruments=instrument_choices(session),
            units=UNITS,
            counts=COUNTS,
            angle_conventions=ANGLE_CONVENTIONS,
            instrument_kinds=INSTRUMENT_KINDS,
            kinds=KINDS,
            slides=SLIDES,
            materials=material_names(session),
            graduation=GRADUATION[chosen],
            resolution=RESOLUTION[chosen],
            example=EXAMPLE[chosen],
        )
    return page(request, view, status)


@router.post("/start")
def post_start(request: Request, fields: Fields) -> Response:
    try:
        with book(request).writing() as (session, now):
            piece_id = open_first_part(session, first_part(request, fields), now).id
    except Refused as refused:
        typed = fields | {"form": "start"}
        return guide_page(
            request, fields.get("unit", ""), typed, problems_of(refused.problems), refused.status
        )
    return see_other(f"/pieces/{piece_id}/lathe")


def first_part(request: Request, fields: dict[str, str]) -> FirstPart:
    return FirstPart(
        lathe=optional_number(fields, "lathe_id") or new_lathe(fields, "lathe_name", "lathe_unit"),
        instrument=optional_number(fields, "instrument_id") or new_instrument(fields),
        name=fields.get("part_name", ""),
        material=fields.get("material", ""),
        unit=fields.get("unit", ""),
        designation=fields.get("designation", ""),
        kind=fields.get("kind", ""),
        wire=fields.get("wire", ""),
        slide=fields.get("slide", ""),
        tell=teller(language_of(request)),
    )


def new_instrument(fields: dict[str, str]) -> NewInstrument:
    return NewInstrument(
        name=fields.get("instrument_name", ""),
        kind=fields.get("instrument_kind", ""),
        unit=fields.get("instrument_unit", ""),
        resolution=fields.get("resolution", ""),
        max_error=fields.get("max_error", ""),
    )


@router.get("/help")
def get_help(request: Request) -> Response:
    return page(request, help_page(theme_of(request), language_of(request)))


def help_page(theme: str = "auto", language: str = ENGLISH) -> HelpPage:
    """The words stand as they sort in the language."""
    tell = teller(language)

    def place(word: str) -> str:
        return normalize("NFKD", tell(word)).casefold()

    return HelpPage(
        title=say("Help"),
        nav="help",
        theme=theme,
        sections=SECTIONS,
        terms=tuple(
            Term(word=word, meaning=MEANINGS[word]) for word in sorted(MEANINGS, key=place)
        ),
    )
