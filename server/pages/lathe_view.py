"""What the lathe screen shows of one feature of one piece."""

from __future__ import annotations

import math
import uuid
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session

from server.logbook import history, measuring
from server.logbook.actor import actor
from server.logbook.closing import Finish as AskedFinish
from server.logbook.closing import closing_of, obstacles
from server.logbook.evaluate import GAUGED, Evaluation
from server.logbook.problems import not_found
from server.logbook.replay import PieceLog, minutes_between
from server.logbook.setup import Setup
from server.metrology.decision import Verdict as Code
from server.metrology.dials import ON_DIAL, Slide
from server.metrology.units import from_mm
from server.pages.caution_view import cautions_shown, temperature_unit
from server.pages.cut_view import (
    FINE_FEED_ANGLE,
    advised_step,
    is_fine_feed_advised,
    next_cut_view,
    warm_view,
    warnings_of,
    with_hints,
)
from server.pages.entry_lines import entry_lines
from server.pages.ladder_view import ladder_view
from server.pages.views import (
    Ask,
    Choice,
    Entry,
    Fact,
    FeatureTab,
    Finish,
    LathePage,
    Problem,
)
from server.pages.words import (
    ANGLE_CONVENTIONS,
    SLIDES,
    UNITS,
    dial_text,
    finished_words,
    length,
    size_text,
    standing_view,
)
from server.records.tables import FeatureRow, PieceRow
from server.wording import say

LAST_ENTRIES = 8  # under the keypad; the pass history has them all

DIALS = (Slide.COMPOUND, Slide.CROSS_SLIDE, Slide.CARRIAGE)  # as they are shown


@dataclass(frozen=True)
class Sent:
    """What a refused form brought: kept on the page, with what was wrong beside it."""

    typed: dict[str, str]
    problems: tuple[Problem, ...] = ()
    ask: Ask | None = None


NOTHING_SENT = Sent({})


def operators(log: PieceLog) -> tuple[str, ...]:
    """The initials to choose from: the shop's, and those of the device that asks."""
    known = [row.initials for row in log.around.operators()]
    return tuple(dict.fromkeys([*known, *filter(None, [actor().initials])]))


def lathe_page(
    session: Session,
    piece_id: int,
    feature_id: int | None,
    *,
    theme: str,
    at: str,
    notice: str = "",
    sent: Sent = NOTHING_SENT,
    known: PieceLog | None = None,
) -> LathePage:
    """known: the piece's log where it was read just now;  at: the time, as entries have it."""
    log = known.seen_by(session) if known else PieceLog.read(session, piece_id)
    features = log.features
    if not features:
        raise not_found(say("feature on piece"), piece_id)
    feature = next((each for each in features if each.id == feature_id), None)
    if feature is None:
        if feature_id is not None:
            raise not_found(say("feature"), feature_id)
        feature = features[0]
    found = log.evaluation(feature)
    told = history.feature_history(log, feature)
    everything = [
        found if each is feature else log.evaluation(each, wants_advice=False) for each in features
    ]
    return build(log, feature, found, told, everything, theme, notice, sent, at)


def minutes_since_reading(log: PieceLog, feature_id: int, at: str) -> float:
    """By the clock, since the last reading that stands."""
    taken = (
        row.at
        for row in reversed(log.rows_of(feature_id))
        if row.type == "reading" and (row.id or 0) not in log.strikes
    )
    last = next(taken, at)
    return minutes_between(last, at)


def build(
    log: PieceLog,
    feature: FeatureRow,
    found: Evaluation,
    told: dict[str, Any],
    everything: list[Evaluation],
    theme: str,
    notice: str,
    sent: Sent,
    at: str,
) -> LathePage:
    setup, piece, part = found.setup, log.piece, log.part
    base = f"/pieces/{piece.id}"
    page = LathePage(
        title=say("{feature} at the lathe", feature=setup.label),
        theme=theme,
        notice=notice,
        typed=sent.typed,
        problems=sent.problems,
        ask=sent.ask,
        piece_id=piece.id or 0,
        part_name=part.name,
        part_url=f"/parts/{part.id}",
        piece_name=say("Piece {number}", number=piece.number),
        feature_id=setup.feature_id,
        feature_label=setup.label,
        designation=feature.designation,
        tabs=tuple(tab(each, base, setup.feature_id) for each in everything),
        is_closed=bool(piece.closed_as),
        closed_words=closed_words(log.around.session, piece),
        next_cut=with_hints(next_cut_view(found), warnings_of(log.around, found)),
        warm=warm_view(found, minutes_since_reading(log, setup.feature_id, at)),
        cautions=cautions_shown(found, log.around.shop_c(at[:10])),
        unit=setup.unit,
        low=size_text(setup, setup.limits.both()[0]),
        high=size_text(setup, setup.limits.both()[1]),
        aim=size_text(setup, setup.aim_mm),
        slide=setup.slide.value,
        slides=SLIDES,
        dial_unit=setup.slides.dial(setup.slide).unit,
        units=UNITS,
        log_action=f"{base}/readings",
        entry_key=str(uuid.uuid4()),
        last_seq=log.newest,
        pass_action=f"{base}/passes",
        pass_entry_key=str(uuid.uuid4()),
        event_action=f"{base}/events",
        event_entry_key=str(uuid.uuid4()),
        history_url=f"{base}/history",
        stream_url=f"{base}/events-stream",
        working_url=f"{base}/working?feature={setup.feature_id}",
        finish=None if piece.closed_as else finish_view(piece.id or 0, everything),
        mark=log.mark,
    )
    page = with_size(page, log, found, told)
    page = with_entries(page, found, told, base)
    return with_tools(page, log, found, base)


def with_size(page: LathePage, log: PieceLog, found: Evaluation, told: dict[str, Any]) -> LathePage:
    """The size, what is left on it, and what the reading itself would be."""
    setup, now = found.setup, found.current
    over = log.around.once(("over", setup.feature_id), lambda: measured_over(setup))
    return replace(
        page,
        verdict=standing_view(found, setup),
        size_name=say("pitch diameter") if setup.kind.is_thread else say("size"),
        size=size_text(setup, now.size_mm) if now else "",
        doubt=size_text(setup, now.doubt_mm) if now else "",
        size_low=size_text(setup, now.low_mm) if now and is_range(found) else "",
        size_high=size_text(setup, now.high_mm) if now and is_range(found) else "",
        measured_name=over[0],
        measured_low=over[1],
        measured_high=over[2],
        measured_aim=over[3],
        prefill=prefill(found, over[1]),
        stock_left=stock_text(found),
        stock_left_on=say("on length") if setup.kind.value == "length" else say("on diameter"),
        stock_facts=stock_facts(found),
        advised_step=advised_step(found),
        ladder=ladder_view(found, told),
    )


def with_entries(page: LathePage, found: Evaluation, told: dict[str, Any], base: str) -> LathePage:
    """What was logged, newest first, and what can be taken back."""
    lines = entry_lines(told, found.setup, can_strike=not page.is_closed)
    undo = next((line for line in reversed(lines) if not line.is_struck), None)
    return replace(
        page,
        entries=tuple(reversed(lines))[:LAST_ENTRIES],
        earlier=max(len(lines) - LAST_ENTRIES, 0),
        undo_action=f"{base}/undo" if undo and not page.is_closed else "",
        undo_entry_id=undo.entry_id if undo else 0,
        undo_entry_type=undo.type if undo else "",
        undo_words=undo_words(undo) if undo else "",
    )


def with_tools(page: LathePage, log: PieceLog, found: Evaluation, base: str) -> LathePage:
    """Instruments, hands, the compound and the gauges to choose from."""
    setup, setting = found.setup, found.setup.slides.compound_setting
    return replace(
        page,
        instruments=tuple(
            Choice(value=str(row.id), word=log.around.instrument_label(row))
            for row in log.around.instruments_in_use()
        ),
        instrument_id=str(setup.instrument_id),
        temperature_unit=temperature_unit(found),
        operators=operators(log),
        operator=actor().initials,
        setup_action=f"{base}/setup",
        setup_words=setting.words if setting else "",
        compound_angle=f"{math.degrees(setting.angle_rad):.4g}" if setting else "",
        angle_from=setting.measured_from if setting else "",
        angle_conventions=ANGLE_CONVENTIONS,
        fine_feed_angle=FINE_FEED_ANGLE if is_fine_feed_advised(found) else "",
        gauge_action=f"{base}/gauges",
        gauge_entry_key=str(uuid.uuid4()),
        gauge_words=found.evidence.words if found.evidence else "",
        is_gauged=setup.method == GAUGED,
    )


def undo_words(line: Entry) -> str:
    if line.type == "event":
        return say("event {words}", words=line.words)
    if line.type == "gauge":
        return say("gauge {words}", words=line.words)
    if line.type == "reading":
        return say("reading {value}", value=with_unit(line.value, line.unit, line.own_unit))
    if line.is_spring:
        return say("spring pass")
    return say("pass {step}", step=with_unit(line.dialled, line.dial_unit, line.own_unit))


def with_unit(number: str, unit: str, own_unit: str) -> str:
    return number if unit == own_unit else f"{number} {unit}"


def tab(found: Evaluation, base: str, current: int) -> FeatureTab:
    return FeatureTab(
        feature_id=found.setup.feature_id,
        label=found.setup.label,
        url=f"{base}/lathe?feature={found.setup.feature_id}",
        verdict=standing_view(found),
        stock_left=stock_text(found),
        is_current=found.setup.feature_id == current,
    )


def is_range(found: Evaluation) -> bool:
    now = found.current
    return now is not None and size_text(found.setup, now.low_mm) != size_text(
        found.setup, now.high_mm
    )


def stock_text(found: Evaluation) -> str:
    if found.stock is None or found.current is None:
        return ""
    if found.verdict in (Code.IN_LIMITS, Code.PAST_LIMIT):
        return ""
    stock = found.stock
    value = stock.diameter_mm if stock.diameter_mm is not None else stock.axial_mm
    return size_text(found.setup, value or 0.0)


def stock_facts(found: Evaluation) -> tuple[Fact, ...]:
    """The same stock in every direction, the exact numbers rounded for the eye only."""
    stock, setup = found.stock, found.setup
    if stock is None or found.current is None:
        return ()
    flanks = (
        (say("leading flank"), stock.leading_flank_mm),
        (say("trailing flank"), stock.trailing_flank_mm),
    )
    found_facts = [
        Fact(label=label, value=size_text(setup, value), unit=setup.unit)
        for label, value in flanks
        if value is not None
    ]
    for slide in DIALS:
        exact_mm = stock.on_dial_mm(slide)
        if exact_mm is not None:
            value, unit = dial_text(setup, slide, exact_mm)
            found_facts.append(Fact(label=ON_DIAL[slide], value=value, unit=unit))
    return tuple(found_facts)


def measured_over(setup: Setup) -> tuple[str, str, str, str]:
    """(name, low, high, aim) of what the micrometer reads, where that is not the size itself."""
    target, used = setup.thread, setup.wires
    if setup.method not in measuring.METHODS or target is None or used is None:
        return "", "", "", ""
    try:
        found = measuring.measured_over(
            target,
            used,
            setup.rule,
            setup.wires_at_zero_force,
            setup.material.elastic_modulus_mpa,
            None if setup.crest_is_assumed else setup.crest_diameter_mm,
        )
    except ValueError:  # wires that don't fit: a reading over them is refused with the reason
        return "", "", "", ""
    wire = length(from_mm(used.effective_mm, setup.unit), setup.decimals)
    is_balls = found.measured == measuring.OVER_BALLS
    return (
        say("across two {wire} balls", wire=wire)
        if is_balls
        else say("over {wire} wires", wire=wire),
        size_text(setup, found.low_mm),
        size_text(setup, found.high_mm),
        size_text(setup, found.reads(setup.aim_mm)),
    )


def prefill(found: Evaluation, low: str) -> str:
    """Leading digits of the next reading that no cut can change, at most two places short."""
    setup = found.setup
    if found.current is None:
        return ""
    lowest = low or size_text(setup, setup.limits.both()[0])
    readings = [stage.readings[-1] for stage in found.stages if stage.readings]
    last = length(from_mm(readings[-1].reading_mm, setup.unit), setup.decimals)
    same = ""
    for one, other in zip(lowest, last, strict=False):
        if one != other:
            break
        same += one
    return same if len(lowest) == len(last) and "." in same else ""


def finish_view(piece_id: int, everything: list[Evaluation]) -> Finish:
    plain = AskedFinish()
    missing = [problem for each in everything for problem in obstacles(each, plain)]
    is_past = any(problem.code == "past_limit" for problem in missing)
    return Finish(
        action=f"/pieces/{piece_id}/finish",
        missing=tuple(problem.message for problem in missing),
        suggested="scrap" if is_past else "good",
        needs_reason=any(problem.code == "too_close" for problem in missing),
    )


def closed_words(session: Session, piece: PieceRow) -> str:
    closing = closing_of(session, piece.id or 0) if piece.closed_as else None
    return finished_words(closing) if closing else ""
