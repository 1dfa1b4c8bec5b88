"""How long a search over many finished pieces takes, beside the floor, in one run.

    .venv/bin/python -m tests.bench.search [--pieces 100000] [--rounds 40] [--data-dir DIR]

Starts the floor (tests/bench/floor.py) and the application on free loopback ports and asks one
after the other, on connections that stay open: the whole page of what is found.  Without
--data-dir it makes a shop with that many finished pieces, of invented parts in every material,
thread and fit below, over ten years.

cpu     processor time of the server a search, the median; steadier than the clock on a busy machine
floors  the median over the median of the floor
found   what the last of these searches found; the page shows 50 at the most
"""

from __future__ import annotations

import argparse
import http.client
import random
import re
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import quote

from sqlmodel import SQLModel

from server.logbook.search import search_line
from server.logbook.shop import stamp
from server.records.database import open_database
from server.records.tables import FeatureRow, InstrumentRow, LatheRow, PartRow, PieceRow
from server.settings import Settings
from tests.bench.big_shop import HANDS, NOUNS, PIECES_A_PART, USES, part_names
from tests.bench.log_reading import free_port, process, resident_mb

BOUND_MS = 100.0
BEGIN = datetime(2016, 1, 4, 7, 30, tzinfo=UTC)
DAYS = 3650
MATERIALS = ("carbon steel 1018", "stainless steel 316", "aluminium 6061", "brass", "cast iron")
DESIGNATIONS = ("5/8-18 UNF-2A", "M20x1.5-6g", "Tr40x7-7e", "25 h6", "40 H7", "1-5 ACME-2G")
ENDS = ("good", "good", "good", "good", "concession", "scrap")
COUNT = re.compile(r'<p class="count">([^<]*)</p>')
LATHE = {
    "name": "Lathe",
    "unit": "mm",
    "cross_slide_counts": "diameter",
    "cross_slide_graduation": "0.02",
    "compound_counts": "travel",
    "compound_graduation": "0.02",
    "compound_angle_deg": 29.5,
    "compound_angle_from": "cross_slide",
}
INSTRUMENT = {
    "name": "Micrometer",
    "kind": "micrometer",
    "unit": "mm",
    "resolution": "0.001",
    "max_error": "0.002",
}

Ask = Callable[[random.Random], str]
KINDS: dict[str, Ask] = {
    "part name": lambda pick: f"{pick.choice(USES)} {pick.choice(NOUNS)}",
    "drawing number": lambda pick: part_names(pick.randrange(4000))[1],
    "serial number": lambda pick: f"s{pick.randrange(10, 100_000)}",
    "thread or fit": lambda pick: pick.choice(DESIGNATIONS),
    "material": lambda pick: pick.choice(MATERIALS),
    "day": lambda pick: f"{some_day(pick):%Y-%m-%d}",
    "month and year": lambda pick: f"{some_day(pick):%B %Y}",
    "operator, two letters": lambda pick: pick.choice(HANDS),
    "a word in every line": lambda pick: pick.choice(("piece", "20", "e")),
    "scrapped ones of a thread": lambda pick: f"scrap {pick.choice(DESIGNATIONS)}",
    "eight words": lambda pick: (
        f"{pick.choice(USES)} {pick.choice(NOUNS)} {pick.choice(MATERIALS)} rt good 20 piece"
    ),
    "nothing: a word": lambda _: "nowhere",
    "nothing: two letters": lambda _: "zz",
    "nothing: common words": lambda _: "carbon steel piece good rt am 20 zz",
}


def some_day(pick: random.Random) -> datetime:
    return BEGIN + timedelta(days=pick.randrange(DAYS))


def make(data_dir: Path, pieces: int) -> None:
    """Finished pieces with their parts, features, closings and search lines; no readings."""
    database = open_database(Settings(data_dir=data_dir))
    pick = random.Random(20260302)
    rows: dict[str, list[dict[str, object]]] = {
        name: [] for name in ("part", "feature", "piece", "closing", "search")
    }
    for owner in range(1, pieces // PIECES_A_PART + 1):
        part, features = a_part(owner, pick)
        rows["part"].append(part.model_dump())
        rows["feature"] += [feature.model_dump(exclude={"id"}) for feature in features]
        for number in range(1, PIECES_A_PART + 1):
            piece = a_piece(owner, number, pieces, pick)
            hands = pick.sample(HANDS, 2)
            line = search_line(part, piece, features, hands, piece.opened_at)
            rows["piece"].append(piece.model_dump())
            rows["closing"].append(a_closing(piece, hands[0]))
            rows["search"].append({"piece_id": piece.id, "text": line})
    with database.writing() as session:
        session.add(LatheRow(id=1, **LATHE))
        session.add(InstrumentRow(id=1, **INSTRUMENT))
        session.flush()
        for name, found in rows.items():
            session.execute(SQLModel.metadata.tables[name].insert(), found)
    database.close()


def a_part(owner: int, pick: random.Random) -> tuple[PartRow, list[FeatureRow]]:
    name, number = part_names(owner - 1)
    material = pick.choice(MATERIALS)
    part = PartRow(
        id=owner, name=name, number=number, material=material, unit="mm", created_at=stamp(BEGIN)
    )
    features = [
        FeatureRow(
            part_id=owner,
            label=pick.choice(NOUNS).capitalize(),
            designation=designation,
            kind="outside_diameter",
            method="direct",
            unit="mm",
            slide="cross_slide",
            lathe_id=1,
            instrument_id=1,
            created_at=stamp(BEGIN),
        )
        for designation in pick.sample(DESIGNATIONS, 2)
    ]
    return part, features


def a_piece(owner: int, number: int, pieces: int, pick: random.Random) -> PieceRow:
    place = (owner - 1) * PIECES_A_PART + number
    return PieceRow(
        id=place,
        part_id=owner,
        number=number,
        serial=f"S{place}",
        opened_at=stamp(BEGIN + timedelta(days=DAYS * place / pieces)),
        closed_as=pick.choice(ENDS),
    )


def a_closing(piece: PieceRow, initials: str) -> dict[str, object]:
    return {
        "piece_id": piece.id,
        "closed_as": piece.closed_as,
        "decision_rule": "u_guard",
        "initials": initials,
        "reason": "invented",
        "verdicts": "{}",
        "at": piece.opened_at,
    }


class Asker:
    """One connection that stays open."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def took_ms(self, path: str, method: str = "GET") -> tuple[float, str]:
        """(how long the whole answer took, the answer)."""
        began = time.perf_counter()
        self.connection.request(method, path)
        answer = self.connection.getresponse()
        text = answer.read().decode()
        took = (time.perf_counter() - began) * 1000
        if answer.status != 200:
            raise RuntimeError(f"{path}: {answer.status}")
        return took, text


def used_ms(pid: int) -> float:
    """Processor time that the threads of a process have used so far."""
    tasks = Path(f"/proc/{pid}/task").glob("*/schedstat")
    return sum(int(task.read_text().split()[0]) for task in tasks) / 1e6


def bench(data_dir: Path, floor_file: Path, rounds: int) -> None:
    floor_port, port = free_port(), free_port()
    floor_command = ["tests.bench.floor", str(floor_port), str(floor_file)]
    command = ["server", "serve", "--port", str(port), "--data-dir", str(data_dir)]
    command += ["--log", "warning", "--backup-every-hours", "0"]
    with (
        process(floor_command, floor_port, "/ready"),
        process(command, port, "/api/health") as (pid, ready_s),
    ):
        floor, app = Asker(floor_port), Asker(port)
        app.took_ms("/?q=first")
        times: dict[str, list[float]] = {name: [] for name in ("floor", *KINDS)}
        cpu: dict[str, list[float]] = {name: [] for name in KINDS}
        words: dict[str, str] = {}
        pick = random.Random(41)
        for _ in range(rounds):
            times["floor"].append(floor.took_ms("/insert", "POST")[0])
            for name, ask in KINDS.items():
                before = used_ms(pid)
                took, text = app.took_ms(f"/?q={quote(ask(pick))}")
                cpu[name].append(used_ms(pid) - before)
                times[name].append(took)
                words[name] = COUNT.findall(text)[0]
        report(times, cpu, words)
        print(f"start {ready_s:.2f} s, resident {resident_mb(pid):.0f} MB")


def report(
    times: dict[str, list[float]], cpu: dict[str, list[float]], words: dict[str, str]
) -> None:
    floor = statistics.median(times["floor"])
    print(f"{'':<28}{'p50 ms':>9}{'p95 ms':>9}{'cpu ms':>9}{'floors':>9}  found")
    slowest = 0.0
    for name, found in times.items():
        ordered = sorted(found)
        p50, p95 = statistics.median(ordered), ordered[int(len(ordered) * 0.95)]
        used = f"{statistics.median(cpu[name]):.2f}" if name in cpu else ""
        said = words.get(name, "")
        print(f"{name:<28}{p50:>9.2f}{p95:>9.2f}{used:>9}{p50 / floor:>9.1f}  {said}")
        slowest = max(slowest, p95)
    verdict = "below" if slowest < BOUND_MS else "NOT below"
    print(f"slowest p95 {slowest:.1f} ms, {verdict} {BOUND_MS:.0f} ms")


def main() -> None:
    arguments = argparse.ArgumentParser(description="How long a search takes.")
    arguments.add_argument("--pieces", type=int, default=100_000)
    arguments.add_argument("--rounds", type=int, default=40)
    arguments.add_argument("--data-dir", type=Path)
    chosen = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        data_dir = chosen.data_dir
        if data_dir is None:
            data_dir = Path(folder) / "shop"
            make(data_dir, chosen.pieces)
        bench(data_dir, Path(folder) / "floor.db", chosen.rounds)


if __name__ == "__main__":
    main()
