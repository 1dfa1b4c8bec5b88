"""A made-up shop of ten busy years, by one command.

    .venv/bin/python -m tests.bench.big_shop DIR [--pieces 100000] [--open 24]

Twenty readings a piece: 100,000 pieces have 2,000,000.  A few pieces are logged through the
logbook, as a person would; the rest are copies of them made by SQL, with their own names, numbers
and days.  All of it is invented.
"""

from __future__ import annotations

import argparse
import sqlite3
import time
import uuid
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlmodel import Session, SQLModel, select

from server.logbook import parts, shop
from server.logbook.book import Logbook
from server.logbook.closing import Finish
from server.logbook.search import search_line
from server.logbook.shop_instruments import NewInstrument, add_instrument
from server.logbook.typed import ReadingTyped, TemperatureTyped
from server.records.database import open_database
from server.records.tables import FeatureRow, PartRow, PieceRow
from server.settings import Settings
from tests.bench.big_shop_patterns import PATTERNS, Job, Script

PIECES_A_PART = 25
YEARS = 10
NOUNS = "shaft spindle bush sleeve collar pin stud nipple gland roller hub axle".split()
USES = "pump lathe mill press gate winch mixer crane saw loom fan kiln".split()
HANDS = "RT AM JB KO".split()


class Patterns:
    """The pieces that are logged for real; the others are copied from them."""

    def __init__(self, settings: Settings) -> None:
        self.now = datetime.now(UTC) - timedelta(days=365 * YEARS)
        self.database = open_database(settings)
        self.book = Logbook(
            self.database, Settings(data_dir=settings.data_dir, clock=lambda: self.now)
        )

    def make(self) -> list[int]:
        """The pieces, finished; their entries follow each other."""
        made = []
        for unit, jobs in PATTERNS:
            lathe, instrument = self.crib(unit)
            with self.book.writing() as (session, now):
                part = parts.add_part(session, "Pattern", "", "carbon steel", unit, now)
                features = [
                    parts.add_feature(session, part, self.feature(job, lathe, instrument), now).id
                    for job in jobs
                ]
            with self.book.writing() as (session, now):
                owner = parts.part_of(session, part.id or 0)
                piece = parts.add_piece(session, owner, "", now).id or 0
            for job, feature in zip(jobs, features, strict=True):
                self.log(piece, feature or 0, unit, job.script)
            self.book.finish(piece, Finish("good", "RT", "Measured twice"))
            made.append(piece)
        self.database.close()
        return made

    def crib(self, unit: str) -> tuple[int, int]:
        fine, coarse = ("0.0001", "0.001") if unit == "in" else ("0.001", "0.02")
        dials = ("diameter", coarse, "travel", coarse, 29.5, "cross_slide")
        with self.book.writing() as (session, now):
            lathe = shop.add_lathe(session, shop.NewLathe(f"Lathe {unit}", unit, *dials), now)
            new = NewInstrument(f"Micrometer {unit}", "micrometer", unit, fine, fine)
            instrument = add_instrument(session, new, now)
            shop.note_shop_temperature(session, "20", "C", now)
            return lathe.id or 0, instrument.id or 0

    @staticmethod
    def feature(job: Job, lathe: int, instrument: int) -> parts.NewFeature:
        return parts.NewFeature(
            job.label,
            job.designation,
            job.method,
            job.slide,
            lathe,
            instrument,
            kind=job.kind,
            wire=job.wire,
        )

    def log(self, piece: int, feature: int, unit: str, script: Script) -> None:
        for number, (value, step) in enumerate(script):
            self.now += timedelta(seconds=70)
            typed = ReadingTyped(
                feature,
                value,
                unit,
                str(uuid.uuid4()),
                step or None,
                temperature=TemperatureTyped("20", "C"),
                operator=HANDS[number % len(HANDS)],
                confirm=True,
            )
            self.book.log_reading(piece, typed)


@dataclass(frozen=True)
class Copy:
    """One piece to be: what it is copied from, and by how much its numbers and days differ."""

    piece_id: int
    pattern_piece: int
    part_id: int
    number: int
    entry_shift: int
    feature_shift: int
    minutes: int


def copies_of(
    connection: sqlite3.Connection, patterns: list[int], pieces: int
) -> tuple[list[Copy], int]:
    """(the pieces to make, entries of each)."""
    last = {
        table: connection.execute(f"SELECT max(id) FROM {table}").fetchone()[0]
        for table in ("piece", "part", "feature", "entry")
    }
    spans = [
        connection.execute(
            "SELECT min(id), count(*), (SELECT part_id FROM piece WHERE id = ?1),"
            " (SELECT min(id) FROM feature WHERE part_id = (SELECT part_id FROM piece WHERE id ="
            " ?1)) FROM entry WHERE piece_id = ?1",
            (piece,),
        ).fetchone()
        for piece in patterns
    ]
    each = spans[0][1]
    minutes_apart = YEARS * 365 * 24 * 60 / pieces
    found = []
    for index in range(pieces):
        owner = index // PIECES_A_PART
        first_entry, count, _part, first_feature = spans[owner % len(spans)]
        assert count == each
        found.append(
            Copy(
                piece_id=last["piece"] + 1 + index,
                pattern_piece=patterns[owner % len(patterns)],
                part_id=last["part"] + 1 + owner,
                number=index % PIECES_A_PART + 1,
                entry_shift=last["entry"] + 1 + index * each - first_entry,
                feature_shift=last["feature"] + 1 + 2 * owner - first_feature,
                minutes=int(index * minutes_apart),
            )
        )
    return found, each


def part_names(index: int) -> tuple[str, str]:
    """(name, number) of an invented part."""
    use, noun = USES[index % len(USES)], NOUNS[index // len(USES) % len(NOUNS)]
    return f"{use.capitalize()} {noun}", f"{use[:2].upper()}-{1000 + index}"


def copied(table: str, alias: str, joined: str, **changed: str) -> str:
    """INSERT … SELECT of every column, some of them changed, for each copy `c`."""
    names = [column.name for column in SQLModel.metadata.tables[table].columns]
    values = ", ".join(changed.get(name, f"{alias}.{name}") for name in names)
    return f"INSERT INTO {table} ({', '.join(names)}) SELECT {values} FROM copy c {joined}"


SHIFTED = "strftime('%Y-%m-%dT%H:%M:%f', {0}, '+' || c.minutes || ' minutes') || '000Z'"


def renumbered(text: str, feature: str) -> str:
    """SQL: the feature's number in a JSON text, moved."""
    return (
        f"replace({text}, '\"feature_id\": ' || {feature},"
        f" '\"feature_id\": ' || ({feature} + c.feature_shift))"
    )


ORDER = "ORDER BY c.piece_id, e.id"
STATEMENTS = (
    copied(
        "feature",
        "f",
        "JOIN piece p ON p.id = c.pattern_piece JOIN feature f ON f.part_id = p.part_id"
        " WHERE c.number = 1 ORDER BY c.piece_id, f.id",
        id="f.id + c.feature_shift",
        part_id="c.part_id",
        created_at=SHIFTED.format("f.created_at"),
    ),
    copied(
        "piece",
        "p",
        "JOIN piece p ON p.id = c.pattern_piece ORDER BY c.piece_id",
        id="c.piece_id",
        part_id="c.part_id",
        number="c.number",
        serial="'S' || c.piece_id",
        opened_at=SHIFTED.format("p.opened_at"),
    ),
    copied(
        "entry",
        "e",
        f"JOIN entry e ON e.piece_id = c.pattern_piece {ORDER}",
        id="e.id + c.entry_shift",
        piece_id="c.piece_id",
        feature_id="e.feature_id + c.feature_shift",
        entry_key="c.piece_id || '-' || e.id",
        body=renumbered("e.body", "e.feature_id"),
        at=SHIFTED.format("e.at"),
    ),
    copied(
        "answer",
        "a",
        "JOIN entry e ON e.piece_id = c.pattern_piece JOIN answer a ON a.entry_id = e.id " + ORDER,
        entry_id="e.id + c.entry_shift",
        body="replace("
        + renumbered("a.body", "e.feature_id")
        + ", '\"id\": ' || e.id || ',', '\"id\": ' || (e.id + c.entry_shift) || ',')",
    ),
    "INSERT INTO audit (at, who, device, action, about)"
    f" SELECT {SHIFTED.format('e.at')}, e.operator, '', 'reading logged',"
    " 'entry ' || (e.id + c.entry_shift) || ', piece ' || c.piece_id"
    f" FROM copy c JOIN entry e ON e.piece_id = c.pattern_piece {ORDER}",
)
FINISHED = (
    copied(
        "closing",
        "k",
        "JOIN closing k ON k.piece_id = c.pattern_piece WHERE c.is_open = 0 ORDER BY c.piece_id",
        id="NULL",
        piece_id="c.piece_id",
        at=SHIFTED.format("k.at"),
    ),
    copied(
        "learned",
        "l",
        "JOIN learned l ON l.piece_id = c.pattern_piece WHERE c.is_open = 0"
        " ORDER BY c.piece_id, l.id",
        id="NULL",
        piece_id="c.piece_id",
        feature_id="l.feature_id + c.feature_shift",
        at=SHIFTED.format("l.at"),
    ),
)


def fill(file: Path, patterns: list[int], pieces: int, still_open: int) -> int:
    """Makes the copies; the number of readings in the file afterwards."""
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=MEMORY")
        connection.execute("PRAGMA synchronous=OFF")
        connection.execute("PRAGMA cache_size=-300000")
        connection.execute("BEGIN")
        copies, _each = copies_of(connection, patterns, pieces)
        add_copies(connection, copies, still_open)
        add_parts(connection, copies)
        for statement in (*STATEMENTS, *FINISHED):
            connection.execute(statement)
        first_open = copies[-1].piece_id - still_open + 1
        connection.execute("UPDATE piece SET closed_as = '' WHERE id >= ?", (first_open,))
        connection.execute("UPDATE revision SET number = number + 1")
        connection.execute("COMMIT")
        connection.execute("PRAGMA journal_mode=WAL")
        found: int = connection.execute(
            "SELECT count(*) FROM entry WHERE type = 'reading'"
        ).fetchone()[0]
        return found


def add_copies(connection: sqlite3.Connection, copies: list[Copy], still_open: int) -> None:
    connection.execute(
        "CREATE TEMP TABLE copy (piece_id INTEGER PRIMARY KEY, pattern_piece, part_id, number,"
        " entry_shift, feature_shift, minutes, is_open)"
    )
    rows = (
        (*copy.__dict__.values(), index >= len(copies) - still_open)
        for index, copy in enumerate(copies)
    )
    connection.executemany("INSERT INTO copy VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)


def add_parts(connection: sqlite3.Connection, copies: Iterable[Copy]) -> None:
    statement = copied(
        "part",
        "o",
        "JOIN piece p ON p.id = c.pattern_piece JOIN part o ON o.id = p.part_id WHERE c.piece_id"
        " = ?1",
        id="c.part_id",
        name="?2",
        number="?3",
        created_at=SHIFTED.format("o.created_at"),
    )
    firsts = [copy for copy in copies if copy.number == 1]
    connection.executemany(
        statement, ((copy.piece_id, *part_names(index)) for index, copy in enumerate(firsts))
    )


def make_findable(settings: Settings) -> None:
    """The search lines, as finishing each piece would have written them."""
    database = open_database(settings)
    with database.writing() as session:
        owners = {part.id: part for part in session.exec(select(PartRow))}
        features: dict[int, list[FeatureRow]] = {}
        for feature in session.exec(select(FeatureRow)):
            features.setdefault(feature.part_id, []).append(feature)
        rows = []
        for piece in session.exec(select(PieceRow).where(PieceRow.closed_as != "")):
            owner = owners[piece.part_id]
            line = search_line(owner, piece, features[piece.part_id], HANDS, piece.opened_at)
            rows.append({"piece_id": piece.id, "text": line})
        put(session, rows)
    database.close()


def put(session: Session, rows: list[dict[str, object]]) -> None:
    table = SQLModel.metadata.tables["search"]
    session.execute(table.delete())
    session.execute(table.insert(), rows)


def make(data_dir: Path, pieces: int, still_open: int) -> int:
    """A shop in a new folder; the number of readings."""
    settings = Settings(data_dir=data_dir)
    if (data_dir / "midlimit.db").exists():
        raise SystemExit(f"{data_dir} has a database already; name a new folder.")
    patterns = Patterns(settings).make()
    readings = fill(data_dir / "midlimit.db", patterns, pieces, still_open)
    make_findable(settings)
    return readings


def main() -> None:
    arguments = argparse.ArgumentParser(description="Make a big shop.")
    arguments.add_argument("data_dir", type=Path)
    arguments.add_argument("--pieces", type=int, default=100_000)
    arguments.add_argument("--open", type=int, default=24, dest="still_open")
    chosen = arguments.parse_args()
    began = time.perf_counter()
    readings = make(chosen.data_dir, chosen.pieces, chosen.still_open)
    size = (chosen.data_dir / "midlimit.db").stat().st_size / 1e6
    took = time.perf_counter() - began
    print(f"{chosen.pieces} pieces, {readings} readings, {size:.0f} MB in {took:.0f} s")


if __name__ == "__main__":
    main()
