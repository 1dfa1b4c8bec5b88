"""The pass history of a piece: everything in order, struck readings included."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from typing import Any

from sqlmodel import Session

from server.logbook.answers import entry_json
from server.logbook.closing import closing_of
from server.logbook.culprit import went_wrong
from server.logbook.evaluate import Evaluation
from server.logbook.replay import ADVISED_CUTS, SAME_STEP_MM, PieceLog
from server.logbook.rework import closing_json, closings_of
from server.logbook.targets import as_number
from server.metrology.units import to_mm
from server.records.tables import AnswerRow, EntryRow, FeatureRow, StrikeRow


def struck_json(strike: StrikeRow | None) -> dict[str, str] | None:
    if strike is None:
        return None
    return {"reason": strike.reason, "at": strike.at, "operator": strike.operator}


def shown_json(answer: AnswerRow | None, unit: str) -> dict[str, Any]:
    """What was worked out and shown when the reading was logged."""
    if answer is None:
        return {"size": None, "doubt": None, "verdict": None, "warm": None, "predicted_next": None}
    return {
        "size": as_number(answer.size_mm, unit),
        "size_mm": answer.size_mm,
        "size_low": as_number(answer.size_low_mm, unit),
        "size_high": as_number(answer.size_high_mm, unit),
        "doubt": as_number(answer.doubt_mm, unit),
        "doubt_mm": answer.doubt_mm,
        "verdict": answer.verdict or None,
        "warm": answer.warm_state or None,
        "predicted_next": landing_json(answer, unit),
        "core_version": answer.core_version,
    }


def removed_mm(found: Evaluation) -> Mapping[int, float]:
    """What came off the size before each reading that opens a new state, by entry."""
    removed: dict[int, float] = {}
    sign = -1 if found.setup.kind.is_internal else 1
    sized = [stage for stage in found.stages if stage.size is not None]
    for before, after in zip(sized, sized[1:], strict=False):
        if before.size is not None and after.size is not None:
            change = sign * (before.size.size_mm - after.size.size_mm)
            for reading in after.readings:
                removed[reading.entry_id] = change
    return removed


def predictions(log: PieceLog, rows: list[EntryRow]) -> dict[int, AnswerRow]:
    """For each reading taken after the advised cut, the answer that said where it would land."""
    found: dict[int, AnswerRow] = {}
    advised: AnswerRow | None = None
    dialled_mm = 0.0
    for row in rows:
        dialled_mm += row.dial_step_mm or 0.0
        if row.type == "event":
            advised = None
        if row.type != "reading":
            continue
        if advised is not None and row.dial_step_mm is not None:
            told = log.answer_body(advised.entry_id)
            cut, unit = told.get("next_cut") or {}, told["reading"]["unit"]
            step_mm = to_mm(float(cut.get("dial_step") or 0.0), unit)
            if cut.get("action") in ADVISED_CUTS and abs(step_mm - dialled_mm) < SAME_STEP_MM:
                found[row.id or 0] = advised
        advised, dialled_mm = log.answers.get(row.id or 0), 0.0
    return found


def landing_json(answer: AnswerRow | None, unit: str) -> dict[str, float | None] | None:
    if answer is None or answer.landing_expected_mm is None:
        return None
    return {
        "expected": as_number(answer.landing_expected_mm, unit),
        "low": as_number(answer.landing_low_mm, unit),
        "high": as_number(answer.landing_high_mm, unit),
    }


def instrument_name(log: PieceLog, feature: FeatureRow, row: EntryRow) -> str:
    used = log.around.instrument_row(row.instrument_id or feature.instrument_id)
    return used.name if used else ""


def feature_history(log: PieceLog, feature: FeatureRow) -> dict[str, Any]:
    rows = log.rows_of(feature.id or 0)
    strikes, answers = log.strikes, log.answers
    found = log.evaluation(feature, wants_advice=False)
    removed, predicted = removed_mm(found), predictions(log, rows)
    entries, wrong = [], went_wrong(log, rows, found)
    for row in rows:
        number = row.id or 0
        body = entry_json(row) | {"struck": struck_json(strikes.get(number))}
        if row.type == "reading":
            body |= shown_json(answers.get(number), row.unit)
            body["removed"] = as_number(removed.get(number), row.unit)
            body["predicted"] = landing_json(predicted.get(number), row.unit)
            body["went_wrong"] = wrong.get(number)
            body["instrument"] = instrument_name(log, feature, row)
            body["warnings"] = log.answer_body(number).get("warnings", [])
        entries.append(body)
    return {
        "id": feature.id,
        "label": feature.label,
        "designation": feature.designation,
        "kind": feature.kind,
        "unit": feature.unit,
        "verdict": found.verdict.value if found.verdict else None,
        "entries": entries,
    }


def history_json(session: Session, piece_id: int) -> dict[str, Any]:
    log = PieceLog.read(session, piece_id)
    piece, part = log.piece, log.part
    closing = closing_of(session, piece_id)
    return {
        "piece": {
            "id": piece.id,
            "number": piece.number,
            "serial": piece.serial,
            "state": piece.closed_as or "open",
            "part": {
                "id": part.id,
                "name": part.name,
                "number": part.number,
                "material": part.material,
                "unit": part.unit,
            },
            "opened_at": piece.opened_at,
            "closings": [closing_json(row) for row in closings_of(session, piece_id)],
            "finished": None
            if closing is None
            else {
                "as": closing.closed_as,
                "at": closing.at,
                "rule": closing.decision_rule,
                "initials": closing.initials,
                "reason": closing.reason,
                "verdicts": json.loads(closing.verdicts),
            },
        },
        "features": [feature_history(log, feature) for feature in log.features],
    }


CSV_COLUMNS = (
    "feature",
    "entry",
    "type",
    "at",
    "value",
    "unit",
    "dial_step",
    "slide",
    "temperature",
    "temperature_unit",
    "station",
    "size",
    "doubt",
    "removed",
    "verdict",
    "warm",
    "event",
    "operator",
    "note",
    "struck_reason",
    "struck_at",
    "dial_step_unit",
    "size_low",
    "size_high",
)


def safe_cell(value: Any) -> str:
    """Text for a spreadsheet: a cell that would run as a formula is quoted."""
    text = "" if value is None else str(value)
    is_number = text.lstrip("+-").replace(".", "", 1).isdigit()
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") and not is_number else text


def history_csv(session: Session, piece_id: int) -> str:
    """One line an entry; value and dial step exactly as typed."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_COLUMNS)
    for feature in history_json(session, piece_id)["features"]:
        for entry in feature["entries"]:
            struck = entry["struck"] or {}
            gauge = f"{entry.get('gauge')} {'enters' if entry.get('enters') else 'refuses'}"
            line = entry | {
                "event": gauge if entry["type"] == "gauge" else entry.get("event"),
                "feature": feature["label"],
                "entry": entry["id"],
                "struck_reason": struck.get("reason"),
                "struck_at": struck.get("at"),
            }
            writer.writerow([safe_cell(line.get(column)) for column in CSV_COLUMNS])
    return out.getvalue()
