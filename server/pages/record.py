"""The inspection record: on the screen, on paper, as CSV and as a spreadsheet."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from server import __version__
from server.logbook.digest import OVER, OVER_LOT
from server.logbook.record import (
    FeatureRecord,
    LotRecord,
    PieceRecord,
    UsedInstrument,
    record_of_lot,
    record_of_piece,
)
from server.logbook.record_sheets import record_csv, record_xlsx
from server.logbook.setup import METHOD_WORDS
from server.metrology.decision import GuardRule
from server.pages.history import state_words
from server.pages.render import book, page, theme_of
from server.pages.view_record import RecordFeature, RecordPage, RecordPiece
from server.pages.words import (
    day,
    moment,
    moment_words,
    size_text,
    verdict_view,
)
from server.records.tables import PartRow
from server.wording import joined, say, say_n, sentence

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@router.get("/pieces/{piece_id}/record")
def get_piece_record(request: Request, piece_id: Id) -> Response:
    logbook = book(request)
    with logbook.reading() as session:
        record = record_of_piece(session, piece_id)
    title = say(
        "{part}, piece {number}: inspection record",
        part=record.part.name,
        number=record.piece.number,
    )
    base, now = f"/pieces/{piece_id}/record", logbook.now().astimezone()
    return page(request, record_page(title, record.part, (record,), base, now, theme_of(request)))


@router.get("/parts/{part_id}/record")
def get_lot_record(request: Request, part_id: Id) -> Response:
    logbook = book(request)
    with logbook.reading() as session:
        lot = record_of_lot(session, part_id)
    title = say("{part}, the lot: inspection record", part=lot.part.name)
    base, now = f"/parts/{part_id}/record", logbook.now().astimezone()
    return page(
        request, record_page(title, lot.part, lot.pieces, base, now, theme_of(request), lot)
    )


def record_page(
    title: str,
    part: PartRow,
    records: tuple[PieceRecord, ...],
    base: str,
    now: datetime,
    theme: str,
    lot: LotRecord | None = None,
) -> RecordPage:
    return RecordPage(
        title=title,
        nav="parts",
        theme=theme,
        part_name=part.name,
        part_number=part.number,
        part_url=f"/parts/{part.id}",
        material=part.material,
        pieces=tuple(piece_view(record) for record in records),
        lot_words=say_n(len(records), "{n} piece", "{n} pieces") if lot else "",
        lot_digest=lot.digest.groups if lot else "",
        over=joined([sentence(OVER), sentence(OVER_LOT) if lot else ""], " "),
        csv_url=f"{base}.csv",
        json_url=f"/api{base}",
        xlsx_url=f"{base}.xlsx",
        made_with=f"Midlimit {__version__}",
        printed_on=moment_words(now),
    )


def piece_view(record: PieceRecord) -> RecordPiece:
    piece, closing = record.piece, record.closing
    struck = sum(bool(line.struck_at) for line in record.readings)
    rules = {found.rule for found in record.features}
    rule = GuardRule(closing.decision_rule) if closing else next(iter(rules), GuardRule.FULL)
    return RecordPiece(
        name=say("Piece {number}", number=piece.number),
        serial=piece.serial,
        url=f"/pieces/{piece.id}/history",
        state=piece.closed_as or "open",
        state_words=state_words(closing),
        reason=closing.reason if closing else "",
        rule=rule.words,
        features=tuple(feature_view(found, rule) for found in record.features),
        readings_words=joined(
            [
                say_n(len(record.readings), "{n} reading", "{n} readings"),
                say("{n} of them struck", n=struck) if struck else "",
            ]
        ),
        digest=record.digest.groups,
    )


def feature_view(found: FeatureRecord, rule: GuardRule) -> RecordFeature:
    setup = found.setup
    low_mm, high_mm = setup.limits.both()
    names = joined(each.name for each in found.instruments)
    mean = say_n(found.averaged, "mean of {n} reading", "mean of {n} readings")
    ends = ["" if end is None else size_text(setup, end) for end in (found.low_mm, found.high_mm)]
    when = moment(found.measured_at) if found.measured_at else ""
    return RecordFeature(
        label=setup.label,
        designation=found.designation,
        source=setup.target.source,
        low=size_text(setup, low_mm),
        high=size_text(setup, high_mm),
        unit=setup.unit,
        size="" if found.size_mm is None else size_text(setup, found.size_mm),
        doubt="" if found.doubt_mm is None else size_text(setup, found.doubt_mm),
        size_low=ends[0] if ends[0] != ends[1] else "",
        size_high=ends[1] if ends[0] != ends[1] else "",
        verdict=verdict_view(found.verdict or None, setup),
        how=joined([found.wires or METHOD_WORDS.get(setup.method, setup.method), names]),
        checks=tuple(check_words(each) for each in found.instruments),
        temperature=joined(found.temperatures),
        measured=joined([when, *found.operators, mean if found.averaged > 1 else ""]),
        rule="" if found.rule is rule else found.rule.words,
        evidence=found.evidence,
    )


def check_words(used: UsedInstrument) -> str:
    """Check dates as noted in the crib when the instrument was used."""
    no_check, no_zero = say("no check noted"), say("no zero check")
    checks = [
        say("checked {date}", date=used.last_checked) if used.last_checked else no_check,
        say("due {date}", date=used.due) if used.due else "",
        say("overdue when used") if used.is_overdue else "",
        say("zero read {date}", date=day(used.zero_at)) if used.zero_at else no_zero,
    ]
    return say("{instrument}: {checks}", instrument=used.name, checks=joined(checks))


def attachment(body: str | bytes, kind: str, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(body, media_type=kind, headers=headers)


@router.get("/pieces/{piece_id}/record.csv")
def get_piece_csv(request: Request, piece_id: Id) -> Response:
    with book(request).reading() as session:
        text = record_csv([record_of_piece(session, piece_id)])
    return attachment(text, "text/csv; charset=utf-8", f"piece-{piece_id}-record.csv")


@router.get("/pieces/{piece_id}/record.xlsx")
def get_piece_xlsx(request: Request, piece_id: Id) -> Response:
    with book(request).reading() as session:
        record = record_of_piece(session, piece_id)
    return attachment(record_xlsx([record], record.digest), XLSX, f"piece-{piece_id}-record.xlsx")


@router.get("/parts/{part_id}/record.csv")
def get_lot_csv(request: Request, part_id: Id) -> Response:
    with book(request).reading() as session:
        text = record_csv(record_of_lot(session, part_id).pieces)
    return attachment(text, "text/csv; charset=utf-8", f"part-{part_id}-record.csv")


@router.get("/parts/{part_id}/record.xlsx")
def get_lot_xlsx(request: Request, part_id: Id) -> Response:
    with book(request).reading() as session:
        lot = record_of_lot(session, part_id)
    return attachment(record_xlsx(lot.pieces, lot.digest), XLSX, f"part-{part_id}-record.xlsx")
