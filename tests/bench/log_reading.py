"""What logging a reading costs, against the floor and the advice's own time, in one run.

    .venv/bin/python -m tests.bench.log_reading [--seconds 4] [--data-dir DIR]

Starts the floor (tests/bench/floor.py) and the application on free loopback ports and loads each
with 1 and with 8 clients: a form post to the rendered advice, durable.  With --data-dir the
application runs on a shop that is there already (tests/bench/big_shop.py makes one).

cpu     processor time of the server a request; steadier than the clock on a busy machine
budget  12 x the floor's median + the advice's own median (processor time) x clients
used    the application's median over that; in brackets the same by processor time
tail    p99 of the application over its own median
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from server.advice import nextcut, response
from server.logbook.replay import PieceLog
from server.metrology.decision import Verdict
from server.records.database import open_database
from server.settings import Settings
from tests.bench.load import Latencies, Request, run_load

TIMES_FLOOR = 12
CLIENTS = (1, 8)

# (value, dial step) of one piece from first reading to last, inch
THREAD = (
    ("0.6720", ""),
    ("0.6560", "0.0090"),
    ("0.6460", "0.0060"),
    ("0.6400", "0.0035"),
    ("0.6365", "0.0020"),
    ("0.6338", "0.0015"),
)
DIAMETER = (
    ("0.8000", ""),
    ("0.7702", "0.0300"),
    ("0.7553", "0.0150"),
    ("0.7516", "0.0040"),
    ("0.7503", "0.0015"),
    ("0.7497", "0.0010"),
)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def process(command: list[str], port: int, path: str) -> Iterator[tuple[int, float]]:
    """A server that answers 200 on that path: (its process, seconds from start to ready)."""
    began = time.perf_counter()
    running = subprocess.Popen([sys.executable, "-m", *command], stdout=subprocess.DEVNULL)
    try:
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=5):
                    break
            except OSError:
                if running.poll() is not None or time.perf_counter() - began > 60:
                    raise
                time.sleep(0.02)
        yield running.pid, time.perf_counter() - began
    finally:
        running.send_signal(signal.SIGTERM)
        running.wait(20)


class App:
    """The application under load, set up through its JSON API."""

    def __init__(self, port: int) -> None:
        self.port = port
        crib = {"name": "Bench", "unit": "in"}
        slides = {
            "cross_slide": {"counts": "diameter", "graduation": "0.001"},
            "compound": {
                "counts": "travel",
                "graduation": "0.001",
                "angle_deg": 29.5,
                "angle_from": "cross_slide",
            },
        }
        lathe = self.post("lathes", crib | slides)["id"]
        instrument = self.post(
            "instruments",
            crib | {"kind": "micrometer", "resolution": "0.0001", "max_error": "0.0001"},
        )["id"]
        held = {"lathe_id": lathe, "instrument_id": instrument}
        self.thread = self.feature(
            {
                "label": "Thread",
                "designation": "5/8-18 UNF-2A",
                "method": "over_wires",
                "wire": "0.032",
                "slide": "compound",
            }
            | held
        )
        self.diameter = self.feature(
            {
                "label": "Seat",
                "designation": "0.7500 +0.0000/-0.0010",
                "method": "direct",
                "slide": "cross_slide",
            }
            | held
        )

    def post(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}/api/{path}",
            json.dumps(body).encode(),
            {"content-type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=30) as answer:
            found: dict[str, Any] = json.load(answer)
            return found

    def feature(self, body: dict[str, Any]) -> tuple[int, int]:
        part = self.post("parts", {"name": "Bench", "material": "carbon steel", "unit": "in"})["id"]
        return part, self.post(f"parts/{part}/features", body)["id"]

    def requests(
        self, feature: tuple[int, int], script: tuple[tuple[str, str], ...], pieces: list[int]
    ) -> Iterator[Request]:
        for piece in pieces:
            for value, step in script:
                form = {
                    "feature_id": str(feature[1]),
                    "value": value,
                    "unit": "in",
                    "dial_step": step,
                    "temperature_value": "68",
                    "temperature_unit": "F",
                    "entry_key": str(uuid.uuid4()),
                    "operator": "RT",
                }
                yield f"/pieces/{piece}/readings", urlencode(form).encode()

    def load(
        self,
        feature: tuple[int, int],
        script: tuple[tuple[str, str], ...],
        clients: int,
        seconds: float,
        pid: int,
    ) -> tuple[Latencies, list[int], float]:
        """(latencies, some pieces, processor time a request)."""
        each = max(8, int(seconds * 60 / clients))
        pieces = [
            [self.post(f"parts/{feature[0]}/pieces", {})["id"] for _ in range(each)]
            for _ in range(clients)
        ]
        before = cpu_ms(pid)
        found = run_load(
            self.port, lambda n: self.requests(feature, script, pieces[n]), clients, seconds
        )
        used_ms = (cpu_ms(pid) - before) / len(found.all_ms)
        return found, [piece for mine in pieces for piece in mine[:2]], used_ms


def advice_alone_ms(data_dir: Path, feature_id: int, pieces: list[int]) -> float:
    """Median time of the advice itself on the same logs, nothing read, stored or rendered."""
    database = open_database(Settings(data_dir=data_dir))
    times = []
    with database.reading() as session:
        for piece in pieces[:4]:
            log = PieceLog.read(session, piece)
            found = log.evaluation(log.feature(feature_id), wants_advice=False)
            prior = log.around.prior(found.setup)
            readings = [n for n, each in enumerate(found.lessons) if hasattr(each, "stock_mm")]
            for count in readings:
                if found.job is None:
                    continue
                response._posterior.cache_clear()
                began = time.thread_time()
                nextcut.next_cut(
                    found.lessons[: count + 1],
                    found.job,
                    Verdict.STOCK_LEFT.value,
                    found.setup.in_words,
                    prior=prior,
                )
                times.append((time.thread_time() - began) * 1000)
    database.close()
    return statistics.median(times)


def cpu_ms(pid: int) -> float:
    """Processor time that a process has used so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) * 1000 / os.sysconf("SC_CLK_TCK")


def resident_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0


def floor_requests(_client: int) -> Iterator[Request]:
    while True:
        yield "/insert", b"value=0.6480"


def line(name: str, clients: int, found: Latencies, cpu: float, extra: str = "") -> str:
    return (
        f"{name:<28}{clients:>8}{len(found.all_ms) / found.seconds:>9.0f}"
        f"{found.median_ms:>10.2f}{found.p99_ms:>9.2f}{cpu:>9.2f}  {extra}"
    )


def main() -> None:
    arguments = argparse.ArgumentParser(description="Cost of logging a reading.")
    arguments.add_argument("--seconds", type=float, default=4.0)
    arguments.add_argument("--data-dir", type=Path)
    chosen = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        data_dir = chosen.data_dir or Path(folder) / "shop"
        bench(data_dir, Path(folder) / "floor.db", chosen.seconds)


def bench(data_dir: Path, floor_file: Path, seconds: float) -> None:
    floor_port, app_port = free_port(), free_port()
    floor_command = ["tests.bench.floor", str(floor_port), str(floor_file)]
    app_command = ["server", "serve", "--port", str(app_port), "--data-dir", str(data_dir)]
    app_command += ["--log", "warning", "--backup-every-hours", "0"]
    print(f"{'':<28}{'clients':>8}{'per s':>9}{'p50 ms':>10}{'p99 ms':>9}{'cpu ms':>9}")
    with (
        process(floor_command, floor_port, "/ready") as (floor_pid, _),
        process(app_command, app_port, "/api/health") as (pid, ready_s),
    ):
        app = App(app_port)
        run_load(floor_port, floor_requests, 1, 0.5)
        jobs = {"thread over wires": (app.thread, THREAD), "diameter": (app.diameter, DIAMETER)}
        for feature, script in jobs.values():
            app.load(feature, script, 1, 1.0, pid)
        for clients in CLIENTS:
            before = cpu_ms(floor_pid)
            floor = run_load(floor_port, floor_requests, clients, seconds)
            floor_cpu = (cpu_ms(floor_pid) - before) / len(floor.all_ms)
            print(line("floor", clients, floor, floor_cpu))
            for name, (feature, script) in jobs.items():
                found, pieces, used_ms = app.load(feature, script, clients, seconds, pid)
                advice_ms = advice_alone_ms(data_dir, feature[1], pieces)
                budget_ms = TIMES_FLOOR * floor.median_ms + advice_ms * clients
                words = (
                    f"budget {budget_ms:.1f} ms (advice alone {advice_ms:.2f}); "
                    f"used {found.median_ms / budget_ms:.2f} "
                    f"({used_ms / (TIMES_FLOOR * floor_cpu + advice_ms):.2f}); "
                    f"tail {found.p99_ms / found.median_ms:.1f}"
                )
                print(line(f"log a reading, {name}"[:28], clients, found, used_ms, words))
        print(f"start {ready_s:.2f} s, resident {resident_mb(pid):.0f} MB, {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
