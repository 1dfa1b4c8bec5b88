"""Logging: what was typed is checked, then stored; only then is anything worked out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, bindparam, col, select

from server.logbook import measuring, plausible
from server.logbook.actor import actor
from server.logbook.around import Around
from server.logbook.evaluate import GAUGED
from server.logbook.feature_wires import check_usable
from server.logbook.parts import features_of
from server.logbook.problems import (
    Refused,
    exact_text,
    not_found,
    one_of,
    optional_text,
    refuse,
    short_text,
)
from server.logbook.replay import PieceLog
from server.logbook.setup import Setup, feature_of, piece_of
from server.logbook.shop import note_change, stamp
from server.logbook.sizes import Logged, Sized, sized
from server.logbook.stages import on_diameter_mm
from server.logbook.typed import (
    EventTyped,
    GaugeTyped,
    PassTyped,
    ReadingTyped,
    body_of,
    checked_key,
    dial_step_mm_of,
    reading_row,
)
from server.metrology.dials import Slide, SlideCannotFeed, size_per_dial
from server.metrology.model import OutOfRange
from server.metrology.thermal import TouchNeedsMetal
from server.metrology.wires import Wires
from server.records.tables import ENTRY, EntryRow, FeatureRow, PieceRow, StrikeRow
from server.wording import say, sentence, words_of

ANY_ENTRY = ("reading", "pass", "event", "gauge")
FINISHED_AS = {
    "good": say("good"),
    "concession": say("concession"),
    "scrap": say("scrap"),
}
HELD_PIECE = select(PieceRow).where(col(PieceRow.id) == bindparam("piece_id")).with_for_update()
BY_KEY = select(EntryRow).where(col(EntryRow.entry_key) == bindparam("key"))


@dataclass(frozen=True)
class Stored:
    """A reading on record; log is the piece's log up to it where it is new."""

    row: EntryRow
    is_new: bool
    log: PieceLog | None = None


def stored_before(
    session: Session, piece_id: int, kind: str, entry_key: str, body: str
) -> EntryRow | None:
    """The entry that already carries this key; Refused where it was another request."""
    row = session.exec(BY_KEY, params={"key": entry_key}).first()
    if row is None:
        return None
    if (row.piece_id, row.type, row.body) != (piece_id, kind, body):
        raise key_reused()
    return row


def key_reused() -> Refused:
    return refuse(
        409,
        "key_reused",
        say(
            "This entry key was used for something else; nothing was stored. Open the page again "
            "and log it once more."
        ),
        "entry_key",
    )


def claimed_piece(session: Session, piece_id: int) -> PieceRow:
    """The piece, held until the transaction ends: no other server process logs on it meanwhile."""
    piece = session.exec(HELD_PIECE, params={"piece_id": piece_id}).first()
    if piece is None:
        raise not_found(say("piece"), piece_id)
    return piece


def check_open(piece: PieceRow) -> None:
    if piece.closed_as:
        raise refuse(
            409,
            "piece_closed",
            say(
                "Piece {number} was finished as {state}; nothing more can be logged.",
                number=piece.number,
                state=FINISHED_AS[piece.closed_as],
            ),
        )


def check_stale(log: PieceLog, last_seq: int | None) -> None:
    """A page that has not seen the newest entry may not log on top of it unasked."""
    if last_seq is not None and log.newest > last_seq:
        raise refuse(
            409,
            "stale_page",
            say(
                "Something was logged on this piece since this page was shown. Your reading was "
                "not stored; what you typed is still here. Look at the new state, then log it "
                "again."
            ),
            "value",
        )


def keep(session: Session, row: EntryRow, now: datetime) -> EntryRow:
    """Store an entry, under the initials of its device where nobody typed any.

    Refused where another piece has just taken its key, in another server process.
    """
    row.operator = row.operator or actor().initials
    values = row.model_dump(exclude={"id"})
    try:
        added = session.connection().execute(ENTRY.insert(), values)
    except IntegrityError as error:
        if "entry_key" not in str(error.orig):
            raise
        raise key_reused() from error
    (row.id,) = added.inserted_primary_key or (None,)
    about = f"entry {row.id}, piece {row.piece_id}"
    note_change(session, now, row.operator, f"{row.type} logged", about, changes_shop=False)
    return row


def store_reading(session: Session, piece_id: int, typed: ReadingTyped, now: datetime) -> Stored:
    """Checks, then adds; Refused stores nothing."""
    body = body_of(typed)
    piece = claimed_piece(session, piece_id)
    before = stored_before(session, piece_id, "reading", checked_key(typed.entry_key), body)
    if before is not None:
        return Stored(before, False)
    check_open(piece)
    log = PieceLog.of(session, piece)
    feature = log.feature(typed.feature_id)
    if feature.method == GAUGED:
        raise refuse(
            422,
            "method_unusable",
            say(
                "{feature} is judged by GO and NOT GO gauges; log what they do.",
                feature=feature.label,
            ),
            "value",
        )
    row = reading_row(piece_id, typed, feature.slide, now)
    check_stale(log, typed.last_seq)
    setup = log.around.setup(feature)
    if row.wire_mm is not None:
        check_wire(setup, row.wire_mm)
    check_feeds(setup, row)
    keep_step_on_size(setup, row)
    check_plausible(log, setup, feature, row, typed.confirm)
    log.add(keep(session, row, now))
    return Stored(row, True, log)


def check_wire(setup: Setup, wire_mm: float) -> None:
    if setup.thread is None or setup.method not in measuring.METHODS:
        raise refuse(
            422,
            "wire_unusable",
            say(
                "{feature} is not measured over wires or balls: leave the wire empty.",
                feature=setup.label,
            ),
            "wire",
        )
    check_usable(setup.thread, Wires.nominal(wire_mm))


def check_feeds(setup: Setup, row: EntryRow) -> None:
    """Refused (422) where the slide that was moved can't have changed the size.

    Under a thread a carriage or compound may be moved along it: that is a pass of its own, which
    feeds no diameter.
    """
    slide = Slide(one_of(row.slide, tuple(Slide), "slide", say("The slide")))
    is_along_a_thread = row.type == "pass" and setup.kind.is_thread
    if not row.dial_step_mm or is_along_a_thread:
        return
    try:
        size_per_dial(slide, setup.slides, setup.kind)
    except SlideCannotFeed as error:
        raise refuse(422, "slide_cannot_feed", error.message, "slide") from error


def keep_step_on_size(setup: Setup, row: EntryRow) -> None:
    if row.dial_step_mm is not None:
        row.size_step_mm = on_diameter_mm(setup, row.slide, row.dial_step_mm)


def check_plausible(
    log: PieceLog, setup: Setup, feature: FeatureRow, row: EntryRow, is_confirmed: bool
) -> None:
    logged = log.logged(setup, [*log.rows_of(feature.id or 0), row])[-1]
    candidate = size_or_refuse(setup, logged)
    if is_confirmed:
        return
    before = log.evaluation(feature, wants_advice=False)
    reason = plausible.doubt_in_words(
        setup,
        before,
        candidate,
        row.size_step_mm,
        lambda factor: as_if_read(setup, logged, factor),
        row.unit,
    )
    if reason is not None:
        raise refuse(409, "needs_confirmation", reason, "value")


def size_or_refuse(setup: Setup, logged: Logged) -> Sized:
    try:
        return sized(setup, logged)
    except TouchNeedsMetal as error:
        message = sentence(words_of(error))
        raise refuse(422, "touch_needs_metal", message, "temperature") from error
    except OutOfRange as error:
        message = sentence(error.words(setup.unit))
        raise refuse(422, "out_of_range", message, "value") from error


def as_if_read(setup: Setup, logged: Logged, factor: float) -> Sized | None:
    """The reading times a factor, where that gives a size at all."""
    row = logged.row
    values = row.model_dump() | {"value_mm": (row.value_mm or 0.0) * factor}
    try:
        return sized(setup, replace(logged, row=EntryRow(**values), is_struck=False))
    except (OutOfRange, TouchNeedsMetal):
        return None


def store_pass(
    session: Session, piece_id: int, typed: PassTyped, now: datetime
) -> tuple[EntryRow, bool]:
    def fill(row: EntryRow, feature: FeatureRow | None) -> None:
        assert feature is not None
        row.dial_step = typed.dial_step
        row.dial_step_unit = typed.unit or feature.unit
        row.dial_step_mm = dial_step_mm_of(
            typed.dial_step, row.dial_step_unit, is_comma_decimal=typed.is_comma_decimal
        )
        row.slide = typed.slide or feature.slide
        setup = Around(session).setup(feature)
        check_feeds(setup, row)
        keep_step_on_size(setup, row)

    return store_plain(session, piece_id, "pass", typed, now, fill)


def store_event(
    session: Session, piece_id: int, typed: EventTyped, now: datetime
) -> tuple[EntryRow, bool]:
    known = ("tool_changed", "rezeroed", "rechucked")

    def fill(row: EntryRow, _feature: FeatureRow | None) -> None:
        row.event = one_of(typed.event, known, "event", say("The event"))

    return store_plain(session, piece_id, "event", typed, now, fill)


def store_gauge(
    session: Session, piece_id: int, typed: GaugeTyped, now: datetime
) -> tuple[EntryRow, bool]:
    """Evidence of a GO or NOT GO gauge; it gives no size."""

    def fill(row: EntryRow, _feature: FeatureRow | None) -> None:
        row.event = one_of(typed.gauge, ("go", "not_go"), "gauge", say("The gauge"))
        row.gauge_result = "enters" if typed.enters else "refuses"

    return store_plain(session, piece_id, "gauge", typed, now, fill)


def store_plain(
    session: Session,
    piece_id: int,
    kind: str,
    typed: PassTyped | EventTyped | GaugeTyped,
    now: datetime,
    fill: Callable[[EntryRow, FeatureRow | None], None],
) -> tuple[EntryRow, bool]:
    """An entry that is no reading; fill adds what its kind has, or is Refused."""
    body = body_of(typed)
    piece = claimed_piece(session, piece_id)
    before = stored_before(session, piece_id, kind, checked_key(typed.entry_key), body)
    if before is not None:
        return before, False
    check_open(piece)
    feature = None
    if typed.feature_id is not None:
        feature = feature_of(session, typed.feature_id, piece.part_id)
    row = EntryRow(
        piece_id=piece_id,
        feature_id=typed.feature_id,
        type=kind,
        entry_key=checked_key(typed.entry_key),
        body=body,
        at=stamp(now),
        operator=optional_text(typed.operator, "operator", say("The initials"), 20),
        note=exact_text(typed.note, "note", say("The note")),
    )
    fill(row, feature)
    return keep(session, row, now), True


def strike(
    session: Session,
    entry_id: int,
    reason: str,
    operator: str,
    now: datetime,
    kinds: tuple[str, ...],
) -> tuple[EntryRow, StrikeRow]:
    """Strike an entry of one of these kinds through; a second strike of it is refused."""
    row = session.get(EntryRow, entry_id)
    if row is None or row.type not in kinds:
        raise not_found(say("reading"), entry_id)
    why = short_text(reason, "reason", say("The reason"), 300)
    check_open(claimed_piece(session, row.piece_id))
    if session.get(StrikeRow, entry_id) is not None:
        message = say("Entry {number} is struck through already.", number=entry_id)
        raise refuse(409, "already_struck", message)
    struck = StrikeRow(
        entry_id=entry_id,
        reason=why,
        operator=optional_text(operator, "operator", say("The initials"), 20) or actor().initials,
        at=stamp(now),
    )
    session.add(struck)
    session.flush()
    about = f"{entry_id}: {why}"
    note_change(session, now, struck.operator, f"{row.type} struck", about, changes_shop=False)
    return row, struck


def entry_place(session: Session, entry_id: int) -> tuple[int, int]:
    """(piece, feature) that an entry belongs to; the piece's first feature for its events."""
    row = session.get(EntryRow, entry_id)
    if row is None:
        raise not_found(say("reading"), entry_id)
    if row.feature_id is not None:
        return row.piece_id, row.feature_id
    first = features_of(session, piece_of(session, row.piece_id).part_id)[0]
    return row.piece_id, first.id or 0
