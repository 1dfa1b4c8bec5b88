"""How long the pages take on a shop that is there, and what the server needs.

    .venv/bin/python -m tests.bench.pages DIR [--rounds 40]

DIR is a data folder, as tests/bench/big_shop.py makes one.  Prints the median and the 95th
percentile of each page, the time from start to the first answer and the resident memory.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import time
import urllib.request
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from tests.bench.log_reading import free_port, process, resident_mb

SEARCHES = ("pump shaft", "LA-2500", "5/8-18", "s51234", "winch axle 2024", "nowhere to be found")


def addresses(file: Path, rounds: int) -> dict[str, list[str]]:
    """What to open, by kind; pieces and parts spread over the whole shop."""
    chance = random.Random(20260302)
    with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as reader:
        pieces = reader.execute("SELECT max(id) FROM piece").fetchone()[0]
        parts = reader.execute("SELECT max(id) FROM part").fetchone()[0]
        in_work = [row[0] for row in reader.execute("SELECT id FROM piece WHERE closed_as = ''")]
    spread = [chance.randrange(3, pieces + 1) for _ in range(rounds)]
    return {
        "parts": ["/"] * rounds,
        "search": [f"/?q={quote(SEARCHES[n % len(SEARCHES)])}" for n in range(rounds)],
        "part": [f"/parts/{chance.randrange(3, parts + 1)}" for _ in range(rounds)],
        "history": [f"/pieces/{piece}/history" for piece in spread],
        "history, JSON": [f"/api/pieces/{piece}/history" for piece in spread],
        "at the lathe": [f"/pieces/{chance.choice(in_work)}/lathe" for _ in range(rounds)],
        "crib": ["/crib"] * rounds,
        "shop": ["/shop"] * rounds,
    }


def took_ms(port: int, path: str) -> float:
    began = time.perf_counter()
    with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=60) as answer:
        answer.read()
    return (time.perf_counter() - began) * 1000


def main() -> None:
    arguments = argparse.ArgumentParser(description="How long the pages of a shop take.")
    arguments.add_argument("data_dir", type=Path)
    arguments.add_argument("--rounds", type=int, default=40)
    chosen = arguments.parse_args()
    port = free_port()
    command = ["server", "serve", "--port", str(port), "--data-dir", str(chosen.data_dir)]
    command += ["--log", "warning", "--backup-every-hours", "0"]
    with process(command, port, "/api/health") as (pid, ready_s):
        print(f"start {ready_s:.2f} s, resident {resident_mb(pid):.0f} MB")
        print(f"{'':<16}{'first':>9}{'p50 ms':>9}{'p95 ms':>9}")
        for name, paths in addresses(chosen.data_dir / "midlimit.db", chosen.rounds).items():
            times = [took_ms(port, path) for path in paths]
            first, ordered = times[0], sorted(times)
            p95 = ordered[int(len(ordered) * 0.95)]
            print(f"{name:<16}{first:>9.1f}{ordered[len(ordered) // 2]:>9.1f}{p95:>9.1f}")
        print(f"resident {resident_mb(pid):.0f} MB afterwards")


if __name__ == "__main__":
    main()
