"""Target card: type a designation, see everything at once; put it on a part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session

from server.logbook import cards, parts, shop
from server.logbook.card_typed import nearest_readable
from server.logbook.problems import Problem as Fault
from server.logbook.problems import Refused, refuse
from server.logbook.repeat import same_before
from server.logbook.thread_sets import add_thread_set
from server.metrology import designation
from server.metrology.model import DesignationError
from server.pages.card_view import card_view
from server.pages.forms import Fields, row_number, wants_fragment
from server.pages.language import language_of, teller
from server.pages.parts import instrument_choices, lathe_choices, new_feature
from server.pages.render import book, fragment, page, problems_of, see_other, theme_of
from server.pages.views import Card, Choice, TargetsPage
from server.pages.words import ANGLE_CONVENTIONS, KINDS, METHODS, SLIDES, UNITS, WIRE_RULES
from server.records.tables import PartRow
from server.wording import say, sentence

router = APIRouter()

FOLDED = (
    "kind",
    "wire",
    "wire_set_id",
    "rule",
    "aim",
    "plating",
    "flat",
    "nose_radius",
    "crest_diameter",
    "blank",
    "compound_angle_deg",
    "lathe_id",
    "slide",
    "passes",
    "rpm",
    "tool_width",
    "groove_width",
)
DEFAULT_MATERIAL = say("carbon steel")


@router.get("/targets")
def get_targets(request: Request) -> Response:
    fields = {"form": "card"} | dict(request.query_params)
    with book(request).reading() as session:
        view = targets_page(session, fields, theme_of(request))
    if wants_fragment(request):
        return fragment(request, view)  # a swap is only made for an answer of 200
    return page(request, view, 422 if view.message and not view.card else 200)


@router.post("/targets")
def post_targets(request: Request, fields: Fields) -> Response:
    typed = fields | {"form": "make"}
    try:
        with book(request).writing() as (session, now):
            part_id = put_on_part(session, fields, now, teller(language_of(request)))
    except Refused as refused:
        with book(request).reading() as session:
            view = targets_page(session, typed, theme_of(request), refused.problems)
        return page(request, view, refused.status)
    return see_other(f"/parts/{part_id}")


def put_on_part(
    session: Session, fields: dict[str, str], now: datetime, tell: Callable[[str], str]
) -> int:
    """The part's number, after the feature or the whole set was put on it."""
    make = fields.get("make", "").strip()
    if make not in ("feature", "set"):
        raise refuse(422, "not_a_choice", say("Make one feature or the whole set."), "make")
    unit = fields.get("unit", "").strip()
    part = chosen_part(session, fields, unit, now, tell)
    new = new_feature(fields | {"unit": unit})
    if make == "set":
        add_thread_set(session, part, new, now, tell)
    else:
        parts.add_feature(session, part, new, now)
    return part.id or 0


def chosen_part(
    session: Session, fields: dict[str, str], unit: str, now: datetime, tell: Callable[[str], str]
) -> PartRow:
    """The part picked, or a new one by the name typed."""
    if not fields.get("part_id", "").strip():
        name = fields.get("new_part", "")
        if not name.strip():
            message = say("Pick a part, or type the name of a new one.")
            raise refuse(422, "missing", message, "part_id")
        material = fields.get("material", "").strip() or tell(DEFAULT_MATERIAL)
        return named_new_part(session, name, material, unit, now)
    number = row_number(fields, "part_id")
    try:
        return parts.part_of(session, number)
    except Refused as refused:
        raise refuse(404, "not_found", refused.problem.message, "part_id") from refused


def named_new_part(session: Session, name: str, material: str, unit: str, now: datetime) -> PartRow:
    try:
        return parts.add_part(session, name, "", material, unit or shop.shop_row(session).unit, now)
    except Refused as refused:
        field = "new_part" if refused.problem.field == "name" else refused.problem.field
        raise refuse(
            refused.status, refused.problem.code, refused.problem.message, field
        ) from refused


@dataclass(frozen=True)
class Found:
    """What a designation came to: a card with what was wrong beside it, or why there is none."""

    card: Card | None = None
    faults: tuple[Fault, ...] = ()
    message: str = ""
    accepted: str = ""
    nearest: tuple[str, ...] = ()


def found_card(session: Session, fields: Mapping[str, str], unit: str) -> Found:
    try:
        numbers = cards.look_up(session, fields, unit)
    except DesignationError as error:
        message = sentence(error.message)
        said = error.accepted and error.accepted in message
        return Found(
            message=message,
            accepted="" if said else error.accepted,
            nearest=nearest_readable(error, fields.get("designation", ""), unit),
        )
    return Found(card_view(numbers), numbers.problems)


def targets_page(
    session: Session,
    fields: Mapping[str, str],
    theme: str,
    refused: tuple[Fault, ...] = (),
) -> TargetsPage:
    """The page for what was typed; refused is what was wrong with a form that was sent."""
    wanted = fields.get("unit", "").strip()
    unit = wanted if wanted in ("in", "mm") else shop.shop_row(session).unit
    found = Found()
    if fields.get("designation", "").strip():
        found = found_card(session, fields, unit)
    faults = refused or found.faults
    if wanted not in ("", "in", "mm") and not refused:
        message = say(
            "The unit “{text}” is not known; use in or mm. Taken as {unit}.",
            text=wanted[:20],
            unit=unit,
        )
        faults = (*faults, Fault("not_a_choice", message, "unit"))
    before = None
    if found.card is not None:
        before = same_before(session, fields["designation"], fields.get("kind", "").strip(), unit)
    return TargetsPage(
        title=say("Target card"),
        nav="targets",
        theme=theme,
        typed=dict(fields) | {"unit": unit},
        problems=problems_of(faults),
        designation=fields.get("designation", ""),
        card=found.card,
        before=before.words if before else "",
        before_url=f"/pieces/{before.last_piece_id}/history" if before else "",
        message=found.message,
        accepted=found.accepted,
        nearest=found.nearest,
        examples=designation.EXAMPLES,
        unfolded=any(fields.get(name, "").strip() for name in FOLDED),
        units=UNITS,
        kinds=KINDS,
        rules=WIRE_RULES[1:],
        angle_conventions=ANGLE_CONVENTIONS,
        parts=tuple(
            Choice(value=str(part.id), word=part.name) for part in parts.newest_parts(session)
        ),
        lathes=lathe_choices(session),
        wire_sets=tuple(
            Choice(value=str(row.id), word=row.name) for row in shop.wire_rows(session)
        ),
        instruments=instrument_choices(session),
        methods=METHODS,
        slides=SLIDES,
    )
