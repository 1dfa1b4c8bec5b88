"""Parts: what is in work and what each piece still needs; one part with its features."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response
from sqlmodel import Session

from server.logbook import overview, parts, shop
from server.logbook.problems import Refused, refuse
from server.logbook.repeat import same_before
from server.logbook.setup import setup_of
from server.logbook.shop_instruments import instrument_label
from server.logbook.shop_materials import material_names
from server.metrology.units import NotANumber, read_number
from server.pages.cut_view import next_cut_view
from server.pages.forms import Fields, optional_number, row_number
from server.pages.language import language_of
from server.pages.lathe_view import measured_over, stock_text
from server.pages.render import book, page, problems_of, see_other, theme_of
from server.pages.search_words import ways_of
from server.pages.views import (
    Choice,
    FeatureChip,
    FeatureRow,
    NextCut,
    PartPage,
    PartRow,
    PartsPage,
    PieceRow,
    Problem,
)
from server.pages.words import (
    ANGLE_CONVENTIONS,
    FINISHED_WORDS,
    KINDS,
    METHODS,
    SLIDES,
    STATE_WORDS,
    THE_SLIDE,
    UNITS,
    WIRE_RULES,
    day,
    moment,
    size_text,
    standing_view,
)
from server.records import tables
from server.wording import joined, say, say_n, words_of

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]
NO_PROBLEMS: tuple[Problem, ...] = ()


def chip(piece_id: int, found: overview.Standing) -> FeatureChip:
    setup = found.evaluation.setup
    cut = next_cut_view(found.evaluation)
    return FeatureChip(
        label=setup.label,
        url=f"/pieces/{piece_id}/lathe?feature={setup.feature_id}",
        verdict=standing_view(found.evaluation),
        stock_left=f"{text} {setup.unit}" if (text := stock_text(found.evaluation)) else "",
        next_cut=chip_words(cut, setup.unit),
        is_waiting=found.is_waiting,
    )


def chip_words(cut: NextCut, unit: str) -> str:
    """unit: of the drawing; a dial of another says its own."""
    if not cut.is_number:
        return cut.headline
    if cut.action == "finer_feed":
        return say("compound at {angle}", angle=cut.headline)
    step = cut.headline if cut.unit == unit else f"{cut.headline} {cut.unit}"
    return say("dial back {step}", step=step) if cut.is_back else say("dial {step}", step=step)


def piece_rows(
    session: Session, found: Sequence[tuple[tables.PieceRow, tables.PartRow]]
) -> tuple[PieceRow, ...]:
    pieces = [piece for piece, _ in found]
    closings = overview.closings(session, pieces)
    last = overview.last_readings(session, pieces)
    standings = overview.standings(session, [piece for piece in pieces if not piece.closed_as])
    return tuple(
        piece_row(
            piece,
            part,
            closings.get(piece.id or 0),
            last.get(piece.id or 0, ""),
            standings.get(piece.id or 0, []),
        )
        for piece, part in found
    )


def piece_row(
    piece: tables.PieceRow,
    part: tables.PartRow,
    closing: tables.ClosingRow | None,
    last: str,
    standings: Sequence[overview.Standing],
) -> PieceRow:
    state = piece.closed_as or "open"
    return PieceRow(
        piece_id=piece.id or 0,
        part_name=part.name,
        part_number=part.number,
        part_url=f"/parts/{part.id}",
        piece_name=joined([say("Piece {number}", number=piece.number), piece.serial]),
        url=f"/pieces/{piece.id}/lathe",
        history_url=f"/pieces/{piece.id}/history",
        state=state,
        state_words=(
            joined([FINISHED_WORDS[closing.closed_as], day(closing.at)])
            if closing
            else STATE_WORDS[""]
        ),
        last_words=say("last reading {when}", when=moment(last)) if last else say("no reading yet"),
        features=tuple(chip(piece.id or 0, found) for found in standings),
    )


@router.get("/")
def get_parts(request: Request, q: Annotated[str, Query(max_length=200)] = "") -> Response:
    return parts_page(request, q)


def parts_page(
    request: Request,
    search: str = "",
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    with book(request).reading() as session:
        ways = ways_of(language_of(request))
        found = overview.finished_pieces(session, search, ways) if search.strip() else []
        view = PartsPage(
            title=say("Parts"),
            nav="parts",
            theme=theme_of(request),
            typed=typed or {},
            problems=problems,
            open_pieces=piece_rows(session, overview.open_pieces(session)),
            parts=tuple(part_row(row) for row in overview.parts_at_rest(session)),
            search=search,
            found=piece_rows(session, found),
            found_words=found_words(search, len(found)),
            materials=material_names(session),
            units=UNITS,
            unit=shop.shop_row(session).unit,
        )
    return page(request, view, status)


def found_words(search: str, count: int) -> str:
    if not search.strip():
        return ""
    if count == 0:
        return say("Nothing finished found for “{text}”.", text=search.strip())
    if count == overview.MOST_FOUND:
        return say("{n} or more finished pieces", n=count)
    return say_n(count, "{n} finished piece", "{n} finished pieces")


def part_row(row: overview.PartCount) -> PartRow:
    return PartRow(
        part_id=row.part.id or 0,
        name=row.part.name,
        number=row.part.number,
        url=f"/parts/{row.part.id}",
        words=joined(
            [
                say_n(row.features, "{n} feature", "{n} features"),
                say_n(row.pieces, "{n} piece", "{n} pieces"),
            ]
        ),
    )


@router.post("/parts")
def post_part(request: Request, fields: Fields) -> Response:
    try:
        with book(request).writing() as (session, now):
            part = parts.add_part(
                session,
                fields.get("name", ""),
                fields.get("number", ""),
                fields.get("material", ""),
                fields.get("unit", ""),
                now,
            )
            part_id = part.id
    except Refused as refused:
        return parts_page(request, "", fields, problems_of(refused.problems), refused.status)
    return see_other(f"/parts/{part_id}")


@router.get("/parts/{part_id}")
def get_part(request: Request, part_id: Id) -> Response:
    return part_page(request, part_id)


def part_page(
    request: Request,
    part_id: int,
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    with book(request).reading() as session:
        part = parts.part_of(session, part_id)
        view = PartPage(
            title=part.name,
            nav="parts",
            theme=theme_of(request),
            typed=typed or {},
            problems=problems,
            part_id=part_id,
            name=part.name,
            number=part.number,
            material=part.material,
            unit=part.unit,
            features=tuple(
                feature_row(session, feature) for feature in parts.features_of(session, part_id)
            ),
            pieces=piece_rows(
                session, [(piece, part) for piece in overview.pieces_of(session, part_id)]
            ),
            feature_action=f"/parts/{part_id}/features",
            piece_action=f"/parts/{part_id}/pieces",
            copy_action=f"/parts/{part_id}/copy",
            kinds=KINDS,
            methods=METHODS,
            slides=SLIDES,
            lathes=lathe_choices(session),
            instruments=instrument_choices(session),
            rules=WIRE_RULES,
            angle_conventions=ANGLE_CONVENTIONS,
        )
    return page(request, view, status)


def lathe_choices(session: Session) -> tuple[Choice, ...]:
    return tuple(Choice(value=str(row.id), word=row.name) for row in shop.lathe_rows(session))


def instrument_choices(session: Session) -> tuple[Choice, ...]:
    rows = shop.instrument_rows(session)
    return tuple(Choice(value=str(row.id), word=instrument_label(row, rows)) for row in rows)


def feature_row(session: Session, feature: tables.FeatureRow) -> FeatureRow:
    setup = setup_of(session, feature)
    low_mm, high_mm = setup.limits.both()
    lathe = session.get_one(tables.LatheRow, feature.lathe_id)
    instrument = session.get_one(tables.InstrumentRow, feature.instrument_id)
    before = same_before(
        session, feature.designation, feature.kind, feature.unit, not_part=feature.part_id
    )
    return FeatureRow(
        feature_id=setup.feature_id,
        label=feature.label,
        kind_word=parts.KIND_WORDS[setup.kind],
        designation=feature.designation,
        low=size_text(setup, low_mm),
        high=size_text(setup, high_mm),
        aim=size_text(setup, setup.aim_mm),
        unit=setup.unit,
        how=joined(
            [
                measured_over(setup)[0],
                say("{slide} of {lathe}", slide=THE_SLIDE[feature.slide], lathe=lathe.name),
                instrument_label(instrument, shop.instrument_rows(session)),
            ]
        ),
        card_url=card_url(feature),
        before=before.words if before else "",
        before_url=f"/pieces/{before.last_piece_id}/history" if before else "",
    )


def card_url(feature: tables.FeatureRow) -> str:
    query = {
        "designation": feature.designation,
        "unit": feature.unit,
        "kind": feature.kind,
        "wire": feature.wire,
        "rule": feature.rule,
        "aim": feature.aim,
        feature.tool_shape or "flat": feature.tool_size,
    }
    return "/targets?" + urlencode({name: text for name, text in query.items() if text})


def new_feature(fields: dict[str, str]) -> parts.NewFeature:
    angle = fields.get("compound_angle_deg", "")
    return parts.NewFeature(
        label=fields.get("label", ""),
        designation=fields.get("designation", ""),
        method=fields.get("method", ""),
        slide=fields.get("slide", ""),
        lathe_id=row_number(fields, "lathe_id"),
        instrument_id=row_number(fields, "instrument_id"),
        kind=fields.get("kind", ""),
        unit=fields.get("unit", ""),
        wire=fields.get("wire", ""),
        wire_set_id=optional_number(fields, "wire_set_id"),
        aim=fields.get("aim", ""),
        nose_radius=fields.get("nose_radius", ""),
        flat=fields.get("flat", ""),
        crest_diameter=fields.get("crest_diameter", ""),
        compound_angle_deg=degrees_typed(angle) if angle.strip() else None,
        compound_angle_from=fields.get("angle_from", "") if angle.strip() else "",
        rule=fields.get("rule", ""),
    )


def degrees_typed(text: str) -> float:
    try:
        return float(read_number(text))
    except NotANumber as error:
        raise refuse(422, "not_a_number", words_of(error), "compound_angle_deg") from error


@router.post("/parts/{part_id}/features")
def post_feature(request: Request, part_id: Id, fields: Fields) -> Response:
    try:
        with book(request).writing() as (session, now):
            part = parts.part_of(session, part_id)
            parts.add_feature(session, part, new_feature(fields), now)
    except Refused as refused:
        if refused.status == 404:
            raise
        typed = {"form": "feature"} | fields
        return part_page(request, part_id, typed, problems_of(refused.problems), refused.status)
    return see_other(f"/parts/{part_id}")


@router.post("/parts/{part_id}/pieces")
def post_piece(request: Request, part_id: Id, fields: Fields) -> Response:
    try:
        with book(request).writing() as (session, now):
            part = parts.part_of(session, part_id)
            if not parts.features_of(session, part_id):
                message = say("Add a feature first: a piece needs a size to reach.")
                raise refuse(422, "no_feature", message)
            piece_id = parts.add_piece(session, part, fields.get("serial", ""), now).id
    except Refused as refused:
        if refused.status == 404:
            raise
        typed = {"form": "piece"} | fields
        return part_page(request, part_id, typed, problems_of(refused.problems), refused.status)
    return see_other(f"/pieces/{piece_id}/lathe")
