"""A lot: the pieces of a part side by side."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from server.logbook.capability import (
    FeatureLot,
    LotSize,
    capability_words,
    centring_words,
    drift_words,
)
from server.logbook.lots import Lot, lot_of
from server.logbook.setup import Setup
from server.pages.lot_drawing import Run, RunPoint, draw_run
from server.pages.render import book, page, theme_of
from server.pages.view_lots import LotCell, LotFeature, LotPage, LotPiece
from server.pages.words import STATE_WORDS, size_text, verdict_view
from server.wording import joined, say, say_n

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]
WIDTHS = (("wide", 720), ("slim", 380))


@router.get("/parts/{part_id}/lot")
def get_lot(request: Request, part_id: Id) -> Response:
    with book(request).reading() as session:
        lot = lot_of(session, part_id)
    return page(request, lot_page(lot, theme_of(request)))


def lot_page(lot: Lot, theme: str) -> LotPage:
    part = lot.part
    by_piece: dict[int, dict[int, LotSize]] = {}
    for found in lot.features:
        for size in found.sizes:
            by_piece.setdefault(size.piece_id, {})[found.setup.feature_id] = size
    return LotPage(
        title=say("{part}: the lot", part=part.name),
        nav="parts",
        theme=theme,
        part_name=part.name,
        part_number=part.number,
        part_url=f"/parts/{part.id}",
        material=part.material,
        count_words=count_words(lot),
        features=tuple(feature_view(found) for found in lot.features),
        pieces=tuple(
            LotPiece(
                name=joined([say("Piece {number}", number=piece.number), piece.serial]),
                url=f"/pieces/{piece.id}/{'history' if piece.closed_as else 'lathe'}",
                state=piece.closed_as or "open",
                state_word=STATE_WORDS[piece.closed_as],
                cells=tuple(
                    cell(found.setup, by_piece.get(piece.id or 0, {}).get(found.setup.feature_id))
                    for found in lot.features
                ),
            )
            for piece in lot.pieces
        ),
        piece_action=f"/parts/{part.id}/pieces",
        record_url=f"/parts/{part.id}/record",
        json_url=f"/api/parts/{part.id}/lot",
    )


def count_words(lot: Lot) -> str:
    done = sum(bool(piece.closed_as) for piece in lot.pieces)
    scrapped = sum(piece.closed_as == "scrap" for piece in lot.pieces)
    return joined(
        [
            say_n(len(lot.pieces), "{n} piece", "{n} pieces"),
            say("{n} of them finished", n=done) if done else say("none finished yet"),
            say("{n} scrapped", n=scrapped) if scrapped else "",
        ]
    )


def cell(setup: Setup, size: LotSize | None) -> LotCell:
    if size is None:
        return LotCell()
    return LotCell(
        size=size_text(setup, size.size_mm),
        doubt=size_text(setup, size.doubt_mm),
        verdict=verdict_view(size.verdict),
    )


def feature_view(found: FeatureLot) -> LotFeature:
    setup = found.setup
    low_mm, high_mm = setup.limits.both()
    run = run_of(found)
    return LotFeature(
        feature_id=setup.feature_id,
        label=setup.label,
        unit=setup.unit,
        low=size_text(setup, low_mm),
        high=size_text(setup, high_mm),
        aim=size_text(setup, setup.aim_mm),
        runs=tuple((name, draw_run(run, width)) for name, width in WIDTHS) if run.points else (),
        first=found.first,
        last=found.last,
        drift=drift_words(found) if found.finished else "",
        centring=centring_words(found),
        capability=capability_words(found) if found.finished else "",
    )


def run_of(found: FeatureLot) -> Run:
    setup, line = found.setup, found.drift
    low_mm, high_mm = setup.limits.both()
    drawn = None
    if line is not None and line.is_sure:
        through = [
            index
            for index, size in enumerate(found.sizes)
            if size.state and size.number >= found.since
        ]
        first, last = through[0], through[-1]
        drawn = (
            first,
            line.at_mm(found.sizes[first].number),
            last,
            line.at_mm(found.sizes[last].number),
        )
    sizes = say_n(
        len(found.sizes),
        "{n} piece of {feature} against its limits.",
        "{n} pieces of {feature} against its limits.",
        feature=setup.label,
    )
    return Run(
        low_mm=low_mm,
        high_mm=high_mm,
        aim_mm=setup.aim_mm,
        unit=setup.unit,
        places=setup.decimals,
        points=tuple(
            RunPoint(
                number=str(size.number),
                size_mm=size.size_mm,
                doubt_mm=size.doubt_mm,
                is_open=not size.state,
                is_lost=size.state == "scrap",
            )
            for size in found.sizes
        ),
        line=drawn,
        next_mm=found.centring.expected_mm if found.centring else None,
        words=joined([sizes, drift_words(found)], " "),
    )
