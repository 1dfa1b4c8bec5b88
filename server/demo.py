"""An invented restoration workshop in the middle of a job.  All of it is made up."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from sqlmodel import Session, select

from server.logbook import parts, shop
from server.logbook.book import Logbook
from server.logbook.closing import Finish
from server.logbook.rework import rework
from server.logbook.shop_instruments import NewInstrument, add_instrument
from server.logbook.shop_wires import NewWireSet, add_wire_set
from server.logbook.typed import EventTyped, PassTyped, ReadingTyped, TemperatureTyped
from server.records.database import Database
from server.records.tables import LatheRow, PartRow
from server.settings import Settings

COOL = TemperatureTyped(value="68", unit="F")

STEP, SLIP = "0.0050", "0.0075"
PINS = (  # (dial step, size) of each in turn
    (STEP, "0.3737"),
    (STEP, "0.3738"),
    (STEP, "0.3740"),
    (SLIP, "0.3714"),
    (STEP, "0.3741"),
    (STEP, "0.3743"),
    (STEP, "0.3744"),
    (STEP, "0.3746"),
)


def fill_if_empty(database: Database, settings: Settings) -> str:
    """Fills an empty database; says what it did.  Never touches one that has data."""
    with database.reading() as session:
        for table in (PartRow, LatheRow):
            if session.exec(select(table).limit(1)).first() is not None:
                return "The demo was left out: this database has data already."
    Workshop(database, settings).fill()
    return "Filled with an invented workshop; start without --demo in another folder for your own."


class Workshop:
    """Writes through the logbook, as a person would, with a clock that runs up to now."""

    def __init__(self, database: Database, settings: Settings) -> None:
        self.time = settings.clock() - timedelta(days=1, hours=2)
        self.end = settings.clock()
        self.book = Logbook(database, replace(settings, clock=self.tick))

    def tick(self) -> datetime:
        self.time += timedelta(seconds=50)
        return min(self.time, self.end)

    def write(self, act: Callable[[Session, datetime], int | None]) -> int:
        with self.book.writing() as (session, now):
            return act(session, now) or 0

    def fill(self) -> None:
        lathe, outside, inside = self.crib()
        part = self.write(
            lambda session, now: (
                parts.add_part(
                    session, "Water-pump shaft", "WP-104", "carbon steel 1045", "in", now
                ).id
            )
        )
        seat = self.feature(
            part, "Bearing seat", "0.7874 +0.0005/-0.0000", "direct", "cross_slide", lathe, outside
        )
        thread = self.feature(
            part,
            "Impeller thread",
            "5/8-18 UNF-2A",
            "over_wires",
            "compound",
            lathe,
            outside,
            wire="0.032",
            flat="0.007",
            crest_diameter="0.6195",
        )
        nut = self.feature(
            part,
            "Nut thread",
            "3/4-16 UNF-2A",
            "over_wires",
            "compound",
            lathe,
            outside,
            wire="0.040",
            flat="0.008",
        )
        bore = self.feature(
            part,
            "Seal bore",
            "0.5000 +0.0010/-0.0000",
            "direct",
            "cross_slide",
            lathe,
            inside,
            kind="bore",
        )
        first = self.piece(part)
        self.first_piece(first, seat, thread, nut, bore)
        second = self.piece(part)
        self.lot(outside)
        self.time = self.end - timedelta(minutes=48)
        self.second_piece(second, seat, thread, bore)

    def lathe(self, name: str, graduation: str) -> int:
        dials = ("diameter", graduation, "travel", graduation, 29.5, "cross_slide", "0.005")
        new = shop.NewLathe(name, "in", *dials)
        return self.write(lambda session, now: shop.add_lathe(session, new, now).id)

    def crib(self) -> tuple[int, int, int]:
        lathe = self.lathe("Long-bed lathe", "0.001")
        due = (self.end + timedelta(days=120)).date().isoformat()
        outside = self.write(
            lambda session, now: (
                add_instrument(
                    session,
                    NewInstrument(
                        "0–1 in micrometer", "micrometer", "in", "0.0001", "0.0001", None, due
                    ),
                    now,
                ).id
            )
        )
        inside = self.write(
            lambda session, now: (
                add_instrument(
                    session,
                    NewInstrument(
                        "Half-inch bore gauge", "bore_gauge", "in", "0.0001", "0.0001", None, due
                    ),
                    now,
                ).id
            )
        )
        self.wires("32 thou set", "0.032")
        self.wires("40 thou set", "0.040")
        self.write(lambda session, now: shop.change_shop(session, "in", "u_guard", "0.5", now).id)
        self.write(lambda session, now: shop.note_shop_temperature(session, "68", "F", now).id)
        self.write(lambda session, now: shop.add_operator(session, "RT", "", now).id)
        return lathe, outside, inside

    def wires(self, name: str, size: str) -> None:
        new = NewWireSet(name, "in", size)
        self.write(lambda session, now: add_wire_set(session, new, now).id)

    def feature(
        self,
        part_id: int,
        label: str,
        designation: str,
        method: str,
        slide: str,
        lathe: int,
        instrument: int,
        *,
        kind: str = "",
        wire: str = "",
        flat: str = "",
        crest_diameter: str = "",
    ) -> int:
        new = parts.NewFeature(
            label,
            designation,
            method,
            slide,
            lathe,
            instrument,
            kind=kind,
            wire=wire,
            flat=flat,
            crest_diameter=crest_diameter,
        )
        return self.write(
            lambda session, now: (
                parts.add_feature(session, parts.part_of(session, part_id), new, now).id
            )
        )

    def piece(self, part_id: int) -> int:
        return self.write(
            lambda session, now: (
                parts.add_piece(session, parts.part_of(session, part_id), "", now).id
            )
        )

    def log(
        self,
        piece: int,
        feature: int,
        value: str,
        step: str | None = None,
        temperature: TemperatureTyped = COOL,
        note: str = "",
        slide: str = "",
    ) -> dict[str, Any]:
        """The answer to a reading."""
        typed = ReadingTyped(
            feature_id=feature,
            value=value,
            unit="in",
            entry_key=str(uuid.uuid4()),
            dial_step=step,
            slide=slide,
            temperature=temperature,
            operator="RT",
            note=note,
        )
        self.time += timedelta(minutes=2)
        return self.book.log_reading(piece, typed).body

    def run(self, piece: int, feature: int, first: str, shares: Sequence[float]) -> None:
        self.go_on(piece, feature, self.log(piece, feature, first), shares)

    def go_on(
        self, piece: int, feature: int, told: dict[str, Any], shares: Sequence[float]
    ) -> None:
        """Cuts until the feature is in limits."""
        for share in shares:
            if told["verdict"] != "in_limits":
                told = self.cut(piece, feature, told, share)

    def cut(self, piece: int, feature: int, told: dict[str, Any], share: float) -> dict[str, Any]:
        """Dials what was advised, or what is left where no cut is; reads what is there then.

        share  what comes off, of what was expected to
        """
        size, left, advised = told["size"], told["stock_left"], told["next_cut"] or {}
        is_advised = advised.get("action") in ("cut", "spring_pass")
        slide = advised["slide"] if is_advised else told["reading"]["slide"]
        step = advised["dial_step"] if is_advised else left[f"{slide}_dial"]
        landing = advised["landing"]["expected"] if is_advised else size["aim"]
        came_off = (landing - size["value"]) * share
        value = float(told["reading"]["value"]) + came_off
        return self.log(piece, feature, f"{value:.4f}", f"{step:.4f}" if step else "0", slide=slide)

    def first_piece(self, piece: int, seat: int, thread: int, nut: int, bore: int) -> None:
        self.run(piece, seat, "0.8120", (1.06, 0.97, 1.01, 1.0, 1.0))
        told = self.cut(piece, thread, self.log(piece, thread, "0.6640"), 0.94)
        self.book.log_pass(piece, PassTyped(thread, "0.0010", str(uuid.uuid4()), operator="RT"))
        kept = float(told["reading"]["value"])
        wrong = self.log(piece, thread, f"{kept - 0.0004:.4f}", "0", note="chip under the anvil")
        self.book.strike(wrong["reading"]["id"], "Chip under the anvil, read again", "RT")
        told = self.log(piece, thread, f"{kept - 0.0018:.4f}")
        self.go_on(piece, thread, told, (0.95, 1.03, 1.0, 1.0))
        told = self.log(piece, nut, "0.8012")
        self.book.log_event(piece, EventTyped("tool_changed", str(uuid.uuid4())))
        self.go_on(piece, nut, told, (1.05, 0.96, 1.0, 1.0))
        self.run(piece, bore, "0.4880", (0.96, 1.04, 1.0, 1.0, 1.0))
        self.book.finish(piece, Finish("good", "RT"))

    def second_piece(self, piece: int, seat: int, thread: int, bore: int) -> None:
        told = self.cut(piece, seat, self.log(piece, seat, "0.8115"), 1.02)
        size, aim = told["size"]["value"], told["size"]["aim"]
        near, step = f"{aim + 0.0016:.4f}", f"{size - aim - 0.0016:.4f}"
        self.log(piece, seat, near, step, TemperatureTyped(touch="warm"))
        self.log(piece, bore, "0.4885")
        self.log(piece, thread, "0.6528")
        self.log(piece, thread, "0.6421", "0.0070")
        self.log(piece, thread, "0.6377", "0.0028")

    def lot(self, instrument: int) -> None:
        """Pins of one lot: the tool wears, one is scrapped, one comes back from the fitter."""
        lathe = self.lathe("Little lathe", "0.0005")
        new = ("Latch pin", "LP-7", "brass", "in")
        part = self.write(lambda session, now: parts.add_part(session, *new, now).id)
        limits = "0.3750 +0.0000/-0.0020"
        shank = self.feature(part, "Shank", limits, "direct", "cross_slide", lathe, instrument)
        for step, size in PINS:
            piece = self.piece(part)
            self.log(piece, shank, "0.3788")
            self.log(piece, shank, size, step)
            scrap = Finish("scrap", "RT", "Misread the dial, a line too far")
            self.book.finish(piece, scrap if step == SLIP else Finish("good", "RT"))
        with self.book.writing() as (session, now):
            rework(session, piece, "Tight in the latch: polish it", "JK", now)
        self.log(piece, shank, "0.3742", "0")
        self.book.finish(piece, Finish("good", "JK"))
