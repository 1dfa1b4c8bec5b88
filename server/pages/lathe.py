"""At the lathe: the screen of one feature, and everything that is logged from it."""

from __future__ import annotations

import re
from collections.abc import Callable, Coroutine
from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response
from fastapi.routing import APIRoute

from server.logbook import parts
from server.logbook.entries import ANY_ENTRY, entry_place
from server.logbook.problems import Refused
from server.logbook.replay import PieceLog
from server.logbook.setup import feature_of, piece_of
from server.logbook.shop import stamp
from server.logbook.typed import EventTyped, GaugeTyped, PassTyped, ReadingTyped, TemperatureTyped
from server.metrology.units import UNIT_WORDS, NotANumber, read_number
from server.pages.entry_lines import UNDONE
from server.pages.forms import Fields, optional_number, row_number, wants_fragment
from server.pages.language import writes_comma
from server.pages.lathe_view import NOTHING_SENT, Sent, lathe_page
from server.pages.parts import degrees_typed
from server.pages.render import (
    book,
    error_page,
    fragment,
    page,
    problems_of,
    see_other,
    theme_of,
)
from server.pages.sharing import caller_of
from server.pages.views import Ask, AskChoice, LathePage, Problem
from server.sharing.roles import Role
from server.wording import say, words_of

ENTRY_MARK = "midlimit-entry"  # names the entry that is sent, and in the answer what was decided on
KEY = re.compile(r"[0-9A-Za-z-]{1,64}")


class EntryRoute(APIRoute):
    """Marks an answer that stored or refused an entry with the key of that entry.

    A browser keeps what it logged until it sees the mark: a sign-in page, a proxy's fault or ours
    carries none.
    """

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()

        async def marked(request: Request) -> Response:
            key = request.headers.get(ENTRY_MARK, "")
            if not KEY.fullmatch(key):
                return await handle(request)
            try:
                answer = await handle(request)
            except Refused as refused:
                answer = error_page(request, refused.status, refused.problems)
            answer.headers[ENTRY_MARK] = key
            return answer

        return marked


router = APIRouter(route_class=EntryRoute)
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]
MM_PER_INCH = Decimal("25.4")
LOOKS_ONLY = say(
    "This device was paired to look. Pair it again with a code for log to log from it."
)


def show(
    request: Request,
    piece_id: int,
    feature_id: int | None,
    *,
    status: int = 200,
    notice: str = "",
    sent: Sent = NOTHING_SENT,
    known: PieceLog | None = None,
) -> Response:
    logbook = book(request)
    with logbook.reading() as session:
        view = lathe_page(
            session,
            piece_id,
            feature_id,
            theme=theme_of(request),
            at=stamp(logbook.now()),
            notice=notice,
            sent=sent,
            known=known,
        )
    if caller_of(request).role < Role.LOG:
        view = looked_at(view)
    return (fragment if wants_fragment(request) else page)(request, view, status)


def looked_at(view: LathePage) -> LathePage:
    """The screen for a device that may not log: nothing on it that would be refused."""
    return replace(
        view,
        is_closed=True,
        closed_words=view.closed_words or LOOKS_ONLY,
        undo_action="",
        finish=None,
        entries=tuple(replace(entry, strike_action="") for entry in view.entries),
    )


@router.get("/pieces/{piece_id}/lathe")
def get_lathe(
    request: Request,
    piece_id: Id,
    feature: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
) -> Response:
    return show(request, piece_id, feature)


def in_unit(step: str, from_unit: str, to_unit: str) -> str:
    """An advised step as it would be typed in the reading's unit."""
    if from_unit == to_unit or not step:
        return step
    value = read_number(step) * (MM_PER_INCH if from_unit == "in" else 1 / MM_PER_INCH)
    return f"{value:.6f}"


def feature_unit(request: Request, piece_id: int, feature_id: int) -> str:
    with book(request).reading() as session:
        piece = piece_of(session, piece_id)
        return feature_of(session, feature_id, piece.part_id).unit


def dial_step_of(fields: dict[str, str], unit_of_feature: Callable[[], str]) -> str | None:
    """What the dial moved: typed, else by the button; None where nothing was cut."""
    typed = fields.get("dial_step", "")
    if typed.strip():
        return typed
    cut = fields.get("cut", "")
    if cut == "spring":
        return "0"
    if cut == "advised" and fields.get("dial_step_unit"):
        return fields.get("advised_step", "")
    if cut == "advised":  # a page shown before dials had their own unit
        unit = unit_of_feature()
        return in_unit(fields.get("advised_step", ""), unit, fields.get("unit", unit))
    return None


def reading_typed(
    fields: dict[str, str], unit_of_feature: Callable[[], str], *, is_comma_decimal: bool
) -> ReadingTyped:
    return ReadingTyped(
        feature_id=row_number(fields, "feature_id"),
        value=fields.get("value", ""),
        unit=fields.get("unit", ""),
        entry_key=fields.get("entry_key", ""),
        dial_step=dial_step_of(fields, unit_of_feature),
        dial_step_unit=fields.get("dial_step_unit", ""),
        slide=fields.get("slide", ""),
        temperature=TemperatureTyped(
            fields.get("temperature_value", ""),
            fields.get("temperature_unit", "C"),
            "" if fields.get("temperature_value", "").strip() else fields.get("touch", ""),
        ),
        instrument_id=optional_number(fields, "instrument_id"),
        wire=fields.get("wire", ""),
        station=fields.get("station", ""),
        note=fields.get("note", ""),
        operator=fields.get("operator", ""),
        confirm=fields.get("confirm") == "true",
        last_seq=int(seq) if (seq := fields.get("last_seq", "")).isdigit() and seq != "0" else None,
        is_comma_decimal=is_comma_decimal,
    )


@router.post("/pieces/{piece_id}/readings")
def post_reading(request: Request, piece_id: Id, fields: Fields) -> Response:
    logbook = book(request)
    feature_id = row_number(fields, "feature_id")
    try:
        typed = reading_typed(
            fields,
            lambda: feature_unit(request, piece_id, feature_id),
            is_comma_decimal=writes_comma(request),
        )
        answer = logbook.log_reading(piece_id, typed)
    except Refused as refused:
        if refused.status == 404:
            raise
        return refused_page(request, piece_id, feature_id, fields, refused)
    except NotANumber as error:
        problem = Problem(field="cut", message=words_of(error))
        sent = Sent(fields | {"form": "log"}, (problem,))
        return show(request, piece_id, feature_id, status=422, sent=sent)
    if wants_fragment(request):
        return show(request, piece_id, feature_id, known=answer.log)
    return see_other(f"/pieces/{piece_id}/lathe?feature={feature_id}")


def refused_page(
    request: Request, piece_id: int, feature_id: int, fields: dict[str, str], refused: Refused
) -> Response:
    """The page again, with what was typed and what was wrong beside it."""
    asks = refused.problem.code == "needs_confirmation"
    sent = Sent(
        fields | {"form": "log"},
        () if asks else problems_of(refused.problems),
        ask_of(refused.problem.message, fields) if asks else None,
    )
    return show(request, piece_id, feature_id, status=refused.status, sent=sent)


def ask_of(message: str, fields: dict[str, str]) -> Ask:
    """The question, and the answers that send the same form again."""
    choices = []
    says_nothing_cut = not fields.get("dial_step", "").strip() and not fields.get("cut")
    if says_nothing_cut and fields.get("advised_step"):
        unit, step = fields.get("dial_step_unit", ""), fields["advised_step"]
        if unit not in ("", fields.get("unit")):
            step = f"{step} {unit}"
        choices.append(
            AskChoice(word=say("Cut as advised, {step}", step=step), name="cut", value="advised")
        )
    other = {"in": "mm", "mm": "in"}.get(fields.get("unit", ""))
    if other and "is it" in message:
        choices.append(
            AskChoice(
                word=say("It was in {unit}", unit=UNIT_WORDS[other]), name="unit", value=other
            )
        )
    choices.append(AskChoice(word=say("Yes, that is what it reads"), name="confirm", value="true"))
    return Ask(message=message, choices=tuple(choices))


@router.post("/pieces/{piece_id}/passes")
def post_pass(request: Request, piece_id: Id, fields: Fields) -> Response:
    feature_id = row_number(fields, "feature_id")
    typed = PassTyped(
        feature_id=feature_id,
        dial_step=fields.get("dial_step", ""),
        entry_key=fields.get("entry_key", ""),
        unit=fields.get("unit", ""),
        slide=fields.get("slide", ""),
        note=fields.get("note", ""),
        operator=fields.get("operator", ""),
        is_comma_decimal=writes_comma(request),
    )
    return logged(
        request,
        piece_id,
        feature_id,
        fields,
        "pass",
        lambda: book(request).log_pass(piece_id, typed),
    )


@router.post("/pieces/{piece_id}/events")
def post_event(request: Request, piece_id: Id, fields: Fields) -> Response:
    feature_id = row_number(fields, "feature_id")
    typed = EventTyped(
        event=fields.get("event", ""),
        entry_key=fields.get("entry_key", ""),
        feature_id=feature_id if fields.get("event") == "tool_changed" else None,
        note=fields.get("note", ""),
        operator=fields.get("operator", ""),
    )
    return logged(
        request,
        piece_id,
        feature_id,
        fields,
        "event",
        lambda: book(request).log_event(piece_id, typed),
    )


@router.post("/pieces/{piece_id}/gauges")
def post_gauge(request: Request, piece_id: Id, fields: Fields) -> Response:
    """The button says both: which gauge, and what it did."""
    feature_id = row_number(fields, "feature_id")
    gauge, _, result = fields.get("tried", "").partition(" ")
    typed = GaugeTyped(
        feature_id=feature_id,
        gauge=gauge,
        enters=result == "enters",
        entry_key=fields.get("entry_key", ""),
        note=fields.get("note", ""),
        operator=fields.get("operator", ""),
    )
    return logged(
        request,
        piece_id,
        feature_id,
        fields,
        "gauge",
        lambda: book(request).log_gauge(piece_id, typed),
    )


@router.post("/pieces/{piece_id}/setup")
def post_setup(request: Request, piece_id: Id, fields: Fields) -> Response:
    """Another slide or compound angle for the cuts still to come."""
    feature_id = row_number(fields, "feature_id")

    def change() -> None:
        angle = fields.get("compound_angle_deg", "")
        with book(request).writing() as (session, now):
            feature_of(session, feature_id, piece_of(session, piece_id).part_id)
            parts.change_setup(
                session,
                feature_id,
                fields.get("slide", ""),
                degrees_typed(angle) if angle.strip() else None,
                fields.get("angle_from", ""),
                now,
            )

    return logged(request, piece_id, feature_id, fields, "setup", change)


@router.post("/pieces/{piece_id}/undo")
def post_undo(request: Request, piece_id: Id, fields: Fields) -> Response:
    """Strikes the newest entry through; its cut, if it was a reading, stays."""
    feature_id = row_number(fields, "feature_id")
    entry_id = row_number(fields, "entry_id")
    return logged(
        request,
        piece_id,
        feature_id,
        fields,
        "undo",
        lambda: book(request).strike(entry_id, str(UNDONE), fields.get("operator", ""), ANY_ENTRY),
    )


@router.post("/readings/{entry_id}/strike")
def post_strike(request: Request, entry_id: Id, fields: Fields) -> Response:
    logbook = book(request)
    with logbook.reading() as session:
        piece_id, feature_id = entry_place(session, entry_id)
    return logged(
        request,
        piece_id,
        feature_id,
        fields,
        f"strike-{entry_id}",
        lambda: logbook.strike(entry_id, fields.get("reason", ""), fields.get("operator", "")),
    )


def logged(
    request: Request,
    piece_id: int,
    feature_id: int,
    fields: dict[str, str],
    form: str,
    act: Callable[[], object],
) -> Response:
    """Carry out one of the small forms of the screen, and show the screen again."""
    try:
        act()
    except Refused as refused:
        if refused.status == 404:
            raise
        sent = Sent(fields | {"form": form}, problems_of(refused.problems))
        return show(request, piece_id, feature_id, status=refused.status, sent=sent)
    if wants_fragment(request):
        return show(request, piece_id, feature_id)
    return see_other(f"/pieces/{piece_id}/lathe?feature={feature_id}")
