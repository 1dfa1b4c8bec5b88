"""Tool crib: the shop's lathes, instruments and wires."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session

from server.logbook import shop, shop_instruments, shop_wires
from server.logbook.around import Around
from server.logbook.problems import not_found
from server.metrology.units import from_mm
from server.pages.forms import Fields, row_number
from server.pages.parts import NO_PROBLEMS, degrees_typed
from server.pages.render import book, carried_out, page, theme_of
from server.pages.views import CribPage, InstrumentRow, LatheRow, Problem, SlideLine, WireRow
from server.pages.words import (
    ANGLE_CONVENTIONS,
    COUNTED,
    COUNTS,
    INSTRUMENT_KINDS,
    INSTRUMENT_WORDS,
    SLIDE_WORDS,
    UNITS,
    date_words,
    day,
)
from server.records import tables
from server.wording import joined, say, say_n

router = APIRouter()
ALWAYS = "9"  # later than any time
WAYS = {  # of measuring
    "direct": say("direct"),
    "over_wires": say("over wires"),
    "thread_micrometer": say("thread micrometer"),
    "over_balls": say("over balls"),
    "gauges": say("gauges"),
}


def lathe_row(row: tables.LatheRow) -> LatheRow:
    def words(counts: str, graduation: str) -> str:
        return say(
            "dial counts {what}, {graduation} {unit} a line",
            what=COUNTED[counts],
            graduation=graduation,
            unit=row.unit,
        )

    angle = f"{row.compound_angle_deg:g}°"
    slides = [
        SlideLine(
            name=SLIDE_WORDS["cross_slide"],
            words=words(row.cross_slide_counts, row.cross_slide_graduation),
        ),
        SlideLine(
            name=SLIDE_WORDS["compound"],
            words=words(row.compound_counts, row.compound_graduation),
            angle=say("{angle} from the cross-slide", angle=angle)
            if row.compound_angle_from == "cross_slide"
            else say("{angle} from the lathe axis", angle=angle),
        ),
    ]
    if row.carriage_graduation:
        slides.append(
            SlideLine(name=SLIDE_WORDS["carriage"], words=words("travel", row.carriage_graduation))
        )
    return LatheRow(lathe_id=row.id or 0, name=row.name, slides=tuple(slides))


def instrument_row(
    session: Session, row: tables.InstrumentRow, others: list[tables.InstrumentRow], today: date
) -> InstrumentRow:
    check = shop_instruments.last_zero_check(session, row.id or 0)
    return InstrumentRow(
        instrument_id=row.id or 0,
        name=shop_instruments.instrument_label(row, others),
        kind_word=INSTRUMENT_WORDS[shop_instruments.kind_of(row)],
        resolution=row.resolution,
        max_error=f"{row.max_error} {row.unit}" if row.max_error else say("by its kind"),
        unit=row.unit,
        zero=f"{check.value} {check.unit}" if check else "",
        checked=joined([day(check.at), check.operator]) if check else "",
        due=say("due {date}", date=spoken(row.due)) if row.due else "",
        is_due=is_due(row.due, today),
        repeats=joined(repeats_words(session, row)),
    )


def repeats_words(session: Session, row: tables.InstrumentRow) -> list[str]:
    """How far one reading with it scatters, as its repeats in finished jobs showed."""
    around, number = Around(session), row.id or 0
    said: list[str] = []
    for method in around.methods(number):
        record = around.record(number, ALWAYS, method)
        said.append(
            say_n(
                round(record.dof),
                "{scatter} {unit} {way}, by {n} repeat",
                "{scatter} {unit} {way}, by {n} repeats",
                scatter=f"{from_mm(record.s_mm, row.unit):.{4 if row.unit == 'mm' else 6}f}",
                unit=row.unit,
                way=WAYS[method],
            )
        )
    return said


def spoken(text: str) -> str:
    return date_words(date.fromisoformat(text))


def due_words(count: int) -> str:
    return say_n(count, "{n} instrument due for a check", "{n} instruments due for a check")


def is_due(text: str | None, today: date) -> bool:
    return bool(text) and date.fromisoformat(text or "") <= today


def wire_row(row: tables.WireSetRow) -> WireRow:
    return WireRow(
        wire_id=row.id or 0,
        name=row.name,
        nominal=row.nominal,
        measured=joined(row.measured.split()),
        unit=row.unit,
        words=say("certified to zero force") if row.sized == "zero_force" else "",
    )


@router.get("/crib")
def get_crib(request: Request) -> Response:
    return crib_page(request)


def crib_page(
    request: Request,
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    logbook = book(request)
    today = logbook.now().date()
    with logbook.reading() as session:
        instruments = shop.instrument_rows(session)
        due = sum(is_due(row.due, today) for row in instruments)
        view = CribPage(
            title=say("Tool crib"),
            nav="crib",
            theme=theme_of(request),
            typed=typed or {},
            problems=problems,
            lathes=tuple(lathe_row(row) for row in shop.lathe_rows(session)),
            instruments=tuple(
                instrument_row(session, row, instruments, today) for row in instruments
            ),
            wires=tuple(wire_row(row) for row in shop.wire_rows(session)),
            due_words=due_words(due) if due else "",
            units=UNITS,
            unit=shop.shop_row(session).unit,
            counts=COUNTS,
            angle_conventions=ANGLE_CONVENTIONS,
            instrument_kinds=INSTRUMENT_KINDS,
        )
    return page(request, view, status)


def added(
    request: Request,
    form: str,
    fields: dict[str, str],
    add: Callable[[Session, datetime], object],
) -> Response:
    return carried_out(request, {"form": form} | fields, add, partial(crib_page, request), "/crib")


def new_lathe(
    fields: dict[str, str], name_field: str = "name", unit_field: str = "unit"
) -> shop.NewLathe:
    return shop.NewLathe(
        name=fields.get(name_field, ""),
        unit=fields.get(unit_field, ""),
        cross_slide_counts=fields.get("cross_slide_counts", ""),
        cross_slide_graduation=fields.get("cross_slide_graduation", "").strip(),
        compound_counts=fields.get("compound_counts", ""),
        compound_graduation=fields.get("compound_graduation", "").strip(),
        compound_angle_deg=degrees_typed(fields.get("compound_angle_deg", "") or "0"),
        compound_angle_from=fields.get("angle_from", ""),
        carriage_graduation=fields.get("carriage_graduation", "").strip(),
    )


@router.post("/crib/lathes")
def post_lathe(request: Request, fields: Fields) -> Response:
    return added(
        request,
        "lathe",
        fields,
        lambda session, now: shop.add_lathe(session, new_lathe(fields), now),
    )


@router.post("/crib/instruments")
def post_instrument(request: Request, fields: Fields) -> Response:
    def add(session: Session, now: datetime) -> None:
        new = shop_instruments.NewInstrument(
            name=fields.get("name", ""),
            kind=fields.get("kind", ""),
            unit=fields.get("unit", ""),
            resolution=fields.get("resolution", ""),
            max_error=fields.get("max_error", ""),
            last_checked=fields.get("last_checked"),
            due=fields.get("due"),
        )
        shop_instruments.check_new_name(session, new.name)
        shop_instruments.add_instrument(session, new, now)

    return added(request, "instrument", fields, add)


@router.post("/crib/wires")
def post_wires(request: Request, fields: Fields) -> Response:
    def add(session: Session, now: datetime) -> None:
        new = shop_wires.NewWireSet(
            name=fields.get("name", ""),
            unit=fields.get("unit", ""),
            nominal=fields.get("nominal", ""),
            measured=tuple(fields.get("measured", "").split()),
            sized="zero_force" if fields.get("zero_force") == "true" else "under_load",
        )
        shop_wires.add_wire_set(session, new, now)

    return added(request, "wire", fields, add)


@router.post("/crib/checks")
def post_check(request: Request, fields: Fields) -> Response:
    """What the instrument shows on its standard; an empty standard is the closed zero."""

    def add(session: Session, now: datetime) -> None:
        number = row_number(fields, "instrument_id")
        instrument = next((row for row in shop.instrument_rows(session) if row.id == number), None)
        if instrument is None:
            raise not_found(say("instrument"), number)
        shop_instruments.add_zero_check(
            session,
            instrument,
            fields.get("value", ""),
            fields.get("unit", ""),
            fields.get("operator", ""),
            now,
            standard=fields.get("standard", ""),
        )

    return added(request, f"check-{fields.get('instrument_id', '')}", fields, add)
