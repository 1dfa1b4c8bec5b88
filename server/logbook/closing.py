"""Finishing a piece: what must be true first, and what is written down."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from server.advice import learned
from server.logbook.entries import FINISHED_AS, claimed_piece
from server.logbook.evaluate import GAUGED, Evaluation
from server.logbook.problems import Problem, Refused, one_of, optional_text, refuse
from server.logbook.replay import PieceLog
from server.logbook.search import note_finished
from server.logbook.shop import note_change, shop_row, stamp
from server.logbook.stages import repeats_by_instrument
from server.metrology.decision import GuardRule, Verdict
from server.metrology.thermal import WarmState
from server.records.tables import ClosingRow, LearnedRow, PieceRow, ScatterRow
from server.wording import say

CONTRARY = (Verdict.PAST_LIMIT, Verdict.STOCK_LEFT)  # what a gauge may say against a size


@dataclass(frozen=True)
class Finish:
    closed_as: str = "good"
    initials: str = ""
    reason: str = ""


def obstacles(found: Evaluation, asked: Finish) -> list[Problem]:
    """What stands in the way of finishing one feature as asked, one sentence each."""
    label = found.setup.label
    now = found.current
    is_good = asked.closed_as == "good"
    if now is not None and now.warm_state is WarmState.WAIT:
        message = (
            say("{feature}: the reading was taken warm; wait and measure again.", feature=label)
            if now.last.says_warm
            else say(
                "{feature}: the reading may have been taken warm; wait and measure again.",
                feature=label,
            )
        )
        return [Problem("wait", message)]
    if not is_good:
        return []
    if found.setup.method == GAUGED:
        return gauge_obstacles(found, asked)
    if found.evidence is not None and found.evidence.verdict in CONTRARY:
        has_reason = bool(asked.initials and asked.reason)
        if not has_reason:
            return [Problem("gauge", of_feature(label, found.evidence.words))]
    if now is None:
        if found.known is None:
            return [Problem("not_measured", say("{feature}: no reading yet.", feature=label))]
        message = say("{feature}: measure it again after the last cut.", feature=label)
        return [Problem("not_measured", message)]
    if now.is_rough:
        message = say("{feature}: the wires do not sit on the flanks yet.", feature=label)
        return [Problem("rough", message)]
    if now.verdict is Verdict.IN_LIMITS:
        return []
    if now.verdict is Verdict.STOCK_LEFT:
        message = say("{feature}: there is stock left to cut.", feature=label)
        return [Problem("stock_left", message)]
    if now.verdict is Verdict.PAST_LIMIT:
        message = say(
            "{feature}: cut past the limit. Close the piece as scrap, or as a concession, with a "
            "reason.",
            feature=label,
        )
        return [Problem("past_limit", message)]
    if found.setup.decision_rule is GuardRule.PLAIN or (asked.initials and asked.reason):
        return []
    message = say(
        "{feature}: too close to call. Measure again, or give initials and a reason.",
        feature=label,
    )
    return [Problem("too_close", message)]


def gauge_obstacles(found: Evaluation, asked: Finish) -> list[Problem]:
    """A feature without a size is finished on what GO and NOT GO proved."""
    label, evidence = found.setup.label, found.evidence
    if evidence is None:
        message = say("{feature}: try GO and NOT GO first.", feature=label)
        return [Problem("not_measured", message)]
    if evidence.verdict is Verdict.IN_LIMITS:
        return []
    if evidence.verdict is None and asked.initials and asked.reason:
        return []
    return [Problem("gauge", of_feature(label, evidence.words))]


def of_feature(label: str, words: str) -> str:
    return say("{feature}: {words}", feature=label, words=words)


def finish(session: Session, piece_id: int, asked: Finish, now: datetime) -> dict[str, Any]:
    """Close a piece.  Refused (409) with everything that is missing."""
    one_of(asked.closed_as, ("good", "scrap", "concession"), "as", say("How it is finished"))
    piece = claimed_piece(session, piece_id)
    if piece.closed_as:
        message = say("Piece {number} is finished already.", number=piece.number)
        raise refuse(409, "piece_closed", message)
    asked = Finish(
        asked.closed_as,
        optional_text(asked.initials, "initials", say("The initials"), 20),
        optional_text(asked.reason, "reason", say("The reason"), 500),
    )
    log = PieceLog.of(session, piece)
    features = log.features
    found = [log.evaluation(feature) for feature in features]
    missing = [problem for each in found for problem in obstacles(each, asked)]
    if not features and asked.closed_as == "good":
        missing.append(Problem("not_measured", say("The part has no feature to finish.")))
    if asked.closed_as != "good" and not asked.reason:
        message = say("Say why it is closed as {state}.", state=FINISHED_AS[asked.closed_as])
        missing.append(Problem("reason_missing", message, "reason"))
    if missing:
        raise Refused(409, missing[0], *missing[1:])
    verdicts = {str(each.setup.feature_id): verdict_json(each) for each in found}
    return close(session, piece, asked, verdicts, found, now)


def verdict_json(found: Evaluation) -> dict[str, Any]:
    now = found.current
    return {
        "label": found.setup.label,
        "verdict": now.verdict.value if now else None,
        "size_mm": now.size_mm if now else None,
        "doubt_mm": now.doubt_mm if now else None,
        "low_mm": now.low_mm if now else None,
        "high_mm": now.high_mm if now else None,
        "rule": found.setup.decision_rule.value,
    }


def close(
    session: Session,
    piece: PieceRow,
    asked: Finish,
    verdicts: dict[str, Any],
    found: list[Evaluation],
    now: datetime,
) -> dict[str, Any]:
    rule = GuardRule(shop_row(session).decision_rule)
    piece.closed_as = asked.closed_as
    session.add(piece)
    closing = ClosingRow(
        piece_id=piece.id or 0,
        closed_as=asked.closed_as,
        decision_rule=rule.value,
        initials=asked.initials,
        reason=asked.reason,
        verdicts=json.dumps(verdicts),
        at=stamp(now),
    )
    session.add(closing)
    note_finished(session, piece, closing)
    if asked.closed_as == "good":
        for each in found:
            teach_shop(session, piece, each, now)
            record_scatter(session, piece, each, now)
    note_change(
        session,
        now,
        asked.initials,
        f"piece finished as {asked.closed_as}",
        f"piece {piece.id}: {asked.reason}",
        changes_shop=asked.closed_as == "good",  # what it taught changes the next advice
    )
    return {
        "piece": {"id": piece.id, "number": piece.number, "state": piece.closed_as},
        "rule": {"name": rule.value, "words": rule.words},
        "features": list(verdicts.values()),
    }


def teach_shop(session: Session, piece: PieceRow, found: Evaluation, now: datetime) -> None:
    """What this feature's passes taught sharpens the prior of the next one of its sort."""
    taught = select(LearnedRow.id).where(
        LearnedRow.piece_id == piece.id, LearnedRow.feature_id == found.setup.feature_id
    )
    if found.job is None or session.exec(taught.limit(1)).first() is not None:
        return  # a reworked piece has taught its passes already
    prior = found.prior or learned.starting_prior(found.setup.cut_kind)
    sharper = learned.sharpened(prior, found.lessons, found.job)
    session.add(
        LearnedRow(
            lathe_id=found.setup.lathe_id,
            material=found.setup.material.name,
            cut=found.setup.cut_kind.value,
            piece_id=piece.id or 0,
            feature_id=found.setup.feature_id,
            body=json.dumps(learned.prior_as_numbers(sharper)),
            at=stamp(now),
        )
    )


def record_scatter(session: Session, piece: PieceRow, found: Evaluation, now: datetime) -> None:
    """How this feature's repeats scattered, for the doubt of later ones; once a feature."""
    feature_id = found.setup.feature_id
    recorded = select(ScatterRow.id).where(
        ScatterRow.piece_id == piece.id, ScatterRow.feature_id == feature_id
    )
    repeats = repeats_by_instrument(found.stages)
    if not repeats or session.exec(recorded.limit(1)).first() is not None:
        return
    for instrument_id, repeated in repeats.items():
        session.add(
            ScatterRow(
                instrument_id=instrument_id,
                method=found.setup.method,
                piece_id=piece.id or 0,
                feature_id=feature_id,
                squares_mm2=repeated.squares_mm2,
                dof=repeated.dof,
                at=stamp(now),
            )
        )


def closing_of(session: Session, piece_id: int) -> ClosingRow | None:
    """How the piece is finished; None while it is in work, a reworked one included."""
    last = session.exec(
        select(ClosingRow)
        .where(ClosingRow.piece_id == piece_id)
        .order_by(col(ClosingRow.id).desc())
        .limit(1)
    ).first()
    return None if last is None or last.closed_as == "rework" else last
