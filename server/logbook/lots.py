"""The pieces of a part side by side."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from server.logbook.around import Around
from server.logbook.capability import (
    FeatureLot,
    LotSize,
    capability_words,
    centring_words,
    drift_words,
    feature_lot,
)
from server.logbook.parts import features_of, part_of
from server.logbook.replay import evaluations_of
from server.logbook.setup import Setup
from server.logbook.targets import as_number
from server.metrology.capability import LEAST_PIECES
from server.records.tables import ClosingRow, EntryRow, PartRow, PieceRow

MOST_PIECES = 500


@dataclass(frozen=True)
class Lot:
    """pieces: oldest first, the last MOST_PIECES of them."""

    part: PartRow
    pieces: tuple[PieceRow, ...]
    features: tuple[FeatureLot, ...]


def lot_of(session: Session, part_id: int) -> Lot:
    """Final sizes as they were closed; open pieces as they stand.  Refused (404)."""
    part = part_of(session, part_id)
    newest = select(PieceRow).where(PieceRow.part_id == part_id).order_by(col(PieceRow.id).desc())
    pieces = tuple(reversed(session.exec(newest.limit(MOST_PIECES)).all()))
    around, sizes = Around(session), sizes_of(session, pieces)
    changes = tool_changes(session, pieces)
    lots = []
    for feature in features_of(session, part_id):
        number = feature.id or 0
        found = tuple(
            sizes[piece.id or 0][number] for piece in pieces if number in sizes[piece.id or 0]
        )
        since = max(changes.get(number, 1), changes.get(0, 1))
        lots.append(feature_lot(around.setup(feature), found, since))
    return Lot(part, pieces, tuple(lots))


def sizes_of(session: Session, pieces: tuple[PieceRow, ...]) -> dict[int, dict[int, LotSize]]:
    """By piece, then feature."""
    found: dict[int, dict[int, LotSize]] = {piece.id or 0: {} for piece in pieces}
    by_id = {piece.id or 0: piece for piece in pieces}
    for closing in last_closings(session, pieces):
        piece = by_id[closing.piece_id]
        for feature_id, verdict in json.loads(closing.verdicts).items():
            if verdict["size_mm"] is not None:
                found[closing.piece_id][int(feature_id)] = LotSize(
                    closing.piece_id,
                    piece.number,
                    piece.serial,
                    piece.closed_as,
                    verdict["size_mm"],
                    verdict["doubt_mm"] or 0.0,
                    verdict["verdict"] or "",
                    closing.at,
                )
    open_ids = [piece.id or 0 for piece in pieces if not piece.closed_as]
    for piece_id, evaluations in evaluations_of(session, open_ids).items():
        for each in evaluations:
            if each.current is not None:
                found[piece_id][each.setup.feature_id] = LotSize(
                    piece_id,
                    by_id[piece_id].number,
                    by_id[piece_id].serial,
                    "",
                    each.current.size_mm,
                    each.current.doubt_mm,
                    each.current.verdict.value,
                    "",
                )
    return found


def last_closings(session: Session, pieces: tuple[PieceRow, ...]) -> list[ClosingRow]:
    """The closing in force of each finished piece."""
    closed = [piece.id for piece in pieces if piece.closed_as]
    if not closed:
        return []
    rows = session.exec(
        select(ClosingRow).where(col(ClosingRow.piece_id).in_(closed)).order_by(col(ClosingRow.id))
    )
    return list({row.piece_id: row for row in rows}.values())


def tool_changes(session: Session, pieces: tuple[PieceRow, ...]) -> dict[int, int]:
    """Number of the piece on which the tool of each feature was last changed; 0 for all of them."""
    numbers = {piece.id or 0: piece.number for piece in pieces}
    rows = session.exec(
        select(EntryRow.piece_id, EntryRow.feature_id)
        .where(col(EntryRow.piece_id).in_(list(numbers)), EntryRow.event == "tool_changed")
        .order_by(col(EntryRow.id))
    )
    return {feature_id or 0: numbers[piece_id] for piece_id, feature_id in rows}


def lot_json(lot: Lot) -> dict[str, Any]:
    return {
        "part": {"id": lot.part.id, "name": lot.part.name, "number": lot.part.number},
        "pieces": [
            {
                "id": piece.id,
                "number": piece.number,
                "serial": piece.serial,
                "state": piece.closed_as or "open",
            }
            for piece in lot.pieces
        ],
        "features": [feature_json(found) for found in lot.features],
        "least_pieces": LEAST_PIECES,
    }


def feature_json(found: FeatureLot) -> dict[str, Any]:
    setup = found.setup
    low_mm, high_mm = setup.limits.both()
    return {
        "id": setup.feature_id,
        "label": setup.label,
        "unit": setup.unit,
        "low": as_number(low_mm, setup.unit),
        "high": as_number(high_mm, setup.unit),
        "aim": as_number(setup.aim_mm, setup.unit),
        "sizes": [size_json(size, setup) for size in found.sizes],
        "since_piece": found.since,
        "drift": drift_json(found),
        "capability": capability_json(found),
        "centring": centring_json(found),
        "first": found.first,
        "last": found.last,
        "words": {
            "drift": drift_words(found),
            "capability": capability_words(found),
            "centring": centring_words(found),
        },
    }


def size_json(size: LotSize, setup: Setup) -> dict[str, Any]:
    return {
        "piece_id": size.piece_id,
        "number": size.number,
        "state": size.state or "open",
        "size": as_number(size.size_mm, setup.unit),
        "doubt": as_number(size.doubt_mm, setup.unit),
        "verdict": size.verdict,
    }


def drift_json(found: FeatureLot) -> dict[str, Any] | None:
    line, unit = found.drift, found.setup.unit
    if line is None:
        return None
    return {
        "per_piece": as_number(line.per_piece_mm, unit),
        "low": as_number(line.low_mm, unit),
        "high": as_number(line.high_mm, unit),
        "count": line.count,
        "is_sure": line.is_sure,
    }


def capability_json(found: FeatureLot) -> dict[str, Any] | None:
    figures, unit = found.capability, found.setup.unit
    if figures is None:
        return None
    return {
        "count": figures.count,
        "mean": as_number(figures.mean_mm, unit),
        "s": as_number(figures.s_mm, unit),
        "cp": figures.cp,
        "cp_interval": list(figures.cp_interval),
        "cpk": figures.cpk,
        "cpk_interval": list(figures.cpk_interval),
    }


def centring_json(found: FeatureLot) -> dict[str, Any] | None:
    centring, unit = found.centring, found.setup.unit
    if centring is None:
        return None
    return {
        "expected": as_number(centring.expected_mm, unit),
        "stock": as_number(centring.stock_mm, unit),
        "dial": f"{centring.dial:f}",
        "dial_unit": centring.dial_unit,
        "slide": found.setup.slide.value,
        "follows_drift": centring.follows_drift,
    }
