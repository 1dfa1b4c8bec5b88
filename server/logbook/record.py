"""The inspection record of a piece or a lot: what was asked for, measured, decided, and by whom."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from server.logbook.closing import closing_of
from server.logbook.digest import Digest, lot_digest, piece_digest
from server.logbook.evaluate import GAUGED, Evaluation
from server.logbook.parts import part_of
from server.logbook.replay import PieceLog
from server.logbook.setup import Setup
from server.logbook.shop import instrument_rows
from server.logbook.shop_instruments import instrument_label, last_zero_check
from server.logbook.sizes import Sized, rule_in_force
from server.logbook.targets import as_number
from server.metrology.decision import GuardRule
from server.metrology.model import Rule
from server.records.tables import (
    ClosingRow,
    EntryRow,
    FeatureRow,
    InstrumentRow,
    PartRow,
    PieceRow,
)
from server.wording import say

MOST_PIECES = 500


@dataclass(frozen=True)
class UsedInstrument:
    """An instrument as it stood when it was used; days as noted, "" for none."""

    name: str
    kind: str
    last_checked: str
    due: str
    zero_at: str
    is_overdue: bool


@dataclass(frozen=True)
class FeatureRecord:
    """One line of the record.  size, doubt and verdict are those it was finished with.

    low_mm, high_mm  the ends of the size, apart where warmth makes it a range; None where a piece
                     was finished before they were written down
    wires  "over 0.0320 in wires, handbook rule"
    """

    setup: Setup
    designation: str
    size_mm: float | None
    doubt_mm: float | None
    low_mm: float | None
    high_mm: float | None
    verdict: str
    rule: GuardRule
    instruments: tuple[UsedInstrument, ...]
    wires: str
    temperatures: tuple[str, ...]
    operators: tuple[str, ...]
    measured_at: str
    averaged: int
    evidence: str  # what GO and NOT GO gauges proved


@dataclass(frozen=True)
class ReadingLine:
    """A reading as typed, struck ones included."""

    number: int
    feature: str
    row: EntryRow
    struck_at: str
    struck_reason: str


@dataclass(frozen=True)
class PieceRecord:
    part: PartRow
    piece: PieceRow
    closing: ClosingRow | None
    features: tuple[FeatureRecord, ...]
    readings: tuple[ReadingLine, ...]
    digest: Digest


@dataclass(frozen=True)
class LotRecord:
    part: PartRow
    pieces: tuple[PieceRecord, ...]
    digest: Digest


def record_of_piece(session: Session, piece_id: int) -> PieceRecord:
    """Refused (404) for an unknown piece; an open one is recorded as it stands."""
    return record_of(session, PieceLog.read(session, piece_id))


def record_of_lot(session: Session, part_id: int) -> LotRecord:
    """Every piece of the part, oldest first."""
    part = part_of(session, part_id)
    newest = select(PieceRow).where(PieceRow.part_id == part_id).order_by(col(PieceRow.id).desc())
    pieces = reversed(session.exec(newest.limit(MOST_PIECES)).all())
    records = tuple(record_of(session, PieceLog.of(session, piece)) for piece in pieces)
    digest = lot_digest([(each.piece.number, each.digest) for each in records])
    return LotRecord(part, records, digest)


def record_of(session: Session, log: PieceLog) -> PieceRecord:
    closing = closing_of(session, log.piece_id) if log.piece.closed_as else None
    verdicts: dict[str, Any] = json.loads(closing.verdicts) if closing else {}
    return PieceRecord(
        part=log.part,
        piece=log.piece,
        closing=closing,
        features=tuple(
            feature_record(session, log, feature, verdicts.get(str(feature.id)))
            for feature in log.features
        ),
        readings=reading_lines(log),
        digest=piece_digest(log.rows, log.strikes),
    )


def feature_record(
    session: Session, log: PieceLog, feature: FeatureRow, closed: dict[str, Any] | None
) -> FeatureRecord:
    """closed: what was written down when the piece was finished."""
    found = log.evaluation(feature, wants_advice=False)
    setup, now = found.setup, found.current
    used = used_readings(found)
    rows = {row.id: row for row in log.rows}
    typed = [rows[reading.entry_id] for reading in used if reading.entry_id in rows]
    verdict = found.verdict.value if found.verdict else ""
    size_mm, doubt_mm = (now.size_mm, now.doubt_mm) if now else (None, None)
    low_mm, high_mm = (now.low_mm, now.high_mm) if now else (None, None)
    rule = setup.decision_rule
    if closed is not None:
        size_mm, doubt_mm = closed["size_mm"], closed["doubt_mm"]
        low_mm, high_mm = closed.get("low_mm"), closed.get("high_mm")
        verdict, rule = closed["verdict"] or "", GuardRule(closed["rule"])
    return FeatureRecord(
        setup=setup,
        designation=feature.designation,
        size_mm=size_mm,
        doubt_mm=doubt_mm,
        low_mm=low_mm,
        high_mm=high_mm,
        verdict=verdict,
        rule=rule,
        instruments=tuple(used_instruments(session, setup, typed)),
        wires=wires_words(setup, used),
        temperatures=tuple(dict.fromkeys(reading.temperature.words for reading in used)),
        operators=tuple(dict.fromkeys(row.operator for row in typed if row.operator)),
        measured_at=typed[-1].at if typed else "",
        averaged=len(used),
        evidence=found.evidence.words if found.evidence else "",
    )


def used_readings(found: Evaluation) -> list[Sized]:
    """The readings behind the size that stands."""
    if found.current is None:
        return []
    stage = next(stage for stage in reversed(found.stages) if stage.size is not None)
    return [each for each in stage.readings if each.entry_id in found.current.entry_ids]


def used_instruments(session: Session, setup: Setup, rows: list[EntryRow]) -> list[UsedInstrument]:
    last_use: dict[int, str] = {}
    for row in rows:
        last_use[row.instrument_id or setup.instrument_id] = row.at
    found, in_use = [], instrument_rows(session)
    for number, at in last_use.items():
        instrument = session.get_one(InstrumentRow, number)
        check = last_zero_check(session, number, at)
        found.append(
            UsedInstrument(
                name=instrument_label(instrument, in_use),
                kind=instrument.kind,
                last_checked=instrument.last_checked or "",
                due=instrument.due or "",
                zero_at=check.at if check else "",
                is_overdue=bool(instrument.due) and (instrument.due or "") <= at[:10],
            )
        )
    return found


def wires_words(setup: Setup, used: list[Sized]) -> str:
    target = setup.thread
    wires = used[-1].wires if used else None
    if target is None or wires is None or setup.method in ("direct", GAUGED):
        return ""
    size = setup.in_words(wires.effective_mm)
    is_exact = rule_in_force(setup, target, wires) is Rule.EXACT
    if setup.kind.is_internal:
        if is_exact:
            return say("over {size} balls, exact rule", size=size)
        return say("over {size} balls, handbook rule", size=size)
    if is_exact:
        return say("over {size} wires, exact rule", size=size)
    return say("over {size} wires, handbook rule", size=size)


def reading_lines(log: PieceLog) -> tuple[ReadingLine, ...]:
    labels = {feature.id: feature.label for feature in log.features}
    lines: list[ReadingLine] = []
    for row in log.rows:
        if row.type != "reading":
            continue
        strike = log.strikes.get(row.id or 0)
        lines.append(
            ReadingLine(
                number=len(lines) + 1,
                feature=labels.get(row.feature_id, ""),
                row=row,
                struck_at=strike.at if strike else "",
                struck_reason=strike.reason if strike else "",
            )
        )
    return tuple(lines)


def digest_json(digest: Digest) -> dict[str, Any]:
    return {"sha256": digest.value, "readings": digest.readings, "over": digest.over}


def feature_json(found: FeatureRecord) -> dict[str, Any]:
    setup, unit = found.setup, found.setup.unit
    low_mm, high_mm = setup.limits.both()
    return {
        "id": setup.feature_id,
        "label": setup.label,
        "designation": found.designation,
        "kind": setup.kind.value,
        "unit": unit,
        "low": as_number(low_mm, unit),
        "high": as_number(high_mm, unit),
        "size": as_number(found.size_mm, unit),
        "doubt": as_number(found.doubt_mm, unit),
        "size_low": as_number(found.low_mm, unit),
        "size_high": as_number(found.high_mm, unit),
        "verdict": found.verdict or None,
        "rule": {"name": found.rule.value, "words": found.rule.words},
        "method": setup.method,
        "wires": found.wires or None,
        "instruments": [each.__dict__ for each in found.instruments],
        "temperatures": list(found.temperatures),
        "operators": list(found.operators),
        "measured_at": found.measured_at or None,
        "averaged": found.averaged,
        "evidence": found.evidence or None,
        "source": setup.target.source,
    }


def piece_json(record: PieceRecord) -> dict[str, Any]:
    piece, part, closing = record.piece, record.part, record.closing
    return {
        "part": {
            "id": part.id,
            "name": part.name,
            "number": part.number,
            "material": part.material,
        },
        "piece": {
            "id": piece.id,
            "number": piece.number,
            "serial": piece.serial,
            "state": piece.closed_as or "open",
        },
        "finished": None
        if closing is None
        else {
            "as": closing.closed_as,
            "at": closing.at,
            "initials": closing.initials,
            "reason": closing.reason,
            "rule": GuardRule(closing.decision_rule).words,
        },
        "features": [feature_json(found) for found in record.features],
        "readings": [reading_json(line) for line in record.readings],
        "digest": digest_json(record.digest),
    }


def reading_json(line: ReadingLine) -> dict[str, Any]:
    row = line.row
    struck = {"at": line.struck_at, "reason": line.struck_reason} if line.struck_at else None
    return {
        "number": line.number,
        "feature": line.feature,
        "value": row.value,
        "unit": row.unit,
        "at": row.at,
        "operator": row.operator,
        "temperature": row.temperature or None,
        "temperature_unit": row.temperature_unit or None,
        "station": row.station,
        "note": row.note,
        "struck": struck,
    }


def lot_json(lot: LotRecord) -> dict[str, Any]:
    return {
        "part": {"id": lot.part.id, "name": lot.part.name, "number": lot.part.number},
        "pieces": [piece_json(record) for record in lot.pieces],
        "digest": digest_json(lot.digest),
    }
