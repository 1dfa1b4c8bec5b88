"""A real server killed with SIGKILL: what was acknowledged is there, and a restart just works."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from pathlib import Path
from typing import Any

import pytest

from tests.postgres import fresh_database, server_url

ROOT = Path(__file__).resolve().parents[2]
CYCLES = 20
TYPISTS = 3
START_SECONDS = 30.0
Json = dict[str, Any]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Served:
    """`python -m server serve` on a data folder, or on the database of that address."""

    def __init__(self, data_dir: Path, url: str = "") -> None:
        self.port = free_port()
        place = ["--database-url", url] if url else ["--data-dir", str(data_dir)]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "server", "serve"] + ["--port", str(self.port), *place],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
        self.wait_until_ready()

    def wait_until_ready(self) -> None:
        give_up = time.monotonic() + START_SECONDS
        while time.monotonic() < give_up:
            if self.process.poll() is not None:
                assert self.process.stderr is not None
                pytest.fail(f"the server stopped: {self.process.stderr.read().decode()}")
            with contextlib.suppress(OSError):
                self.get("/api/health")
                return
            time.sleep(0.05)
        pytest.fail("the server did not answer")

    def get(self, path: str) -> Json:
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=10) as answer:
            body: Json = json.load(answer)
            return body

    def post(self, path: str, body: Json) -> Json:
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}",
            data=json.dumps(body).encode(),
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=10) as answer:
            found: Json = json.load(answer)
            return found

    def kill(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=10)
        if self.process.stderr is not None:
            self.process.stderr.close()

    def leaves_nothing_behind(self) -> bool:
        """True where no process of its group is left."""
        try:
            os.killpg(self.process.pid, 0)
        except ProcessLookupError:
            return True
        return False


@pytest.fixture
def data_dir(tmp_path: Path) -> Path:
    return tmp_path / "data"


def set_up(server: Served) -> tuple[int, int]:
    """(piece, feature) of a plain turning job."""
    lathe = server.post(
        "/api/lathes",
        {
            "name": "Lathe",
            "unit": "mm",
            "cross_slide": {"counts": "diameter", "graduation": "0.02"},
            "compound": {
                "counts": "travel",
                "graduation": "0.02",
                "angle_deg": 0,
                "angle_from": "cross_slide",
            },
        },
    )
    instrument = server.post(
        "/api/instruments",
        {
            "name": "Micrometer",
            "kind": "micrometer",
            "unit": "mm",
            "resolution": "0.001",
            "max_error": "0.002",
        },
    )
    part = server.post("/api/parts", {"name": "Shaft", "material": "carbon steel", "unit": "mm"})
    feature = server.post(
        f"/api/parts/{part['id']}/features",
        {
            "label": "Seat",
            "designation": "25 h6",
            "method": "direct",
            "slide": "cross_slide",
            "lathe_id": lathe["id"],
            "instrument_id": instrument["id"],
        },
    )
    piece = server.post(f"/api/parts/{part['id']}/pieces", {})
    return piece["id"], feature["id"]


class Typist(threading.Thread):
    """Logs readings one after the other until the server is gone."""

    def __init__(self, server: Served, piece: int, feature: int) -> None:
        super().__init__(daemon=True)
        self.server, self.piece, self.feature = server, piece, feature
        self.acknowledged: list[tuple[int, str]] = []
        self.sent: list[str] = []

    def run(self) -> None:
        while True:
            key = str(uuid.uuid4())
            self.sent.append(key)
            body = {
                "feature_id": self.feature,
                "value": "25.500",
                "unit": "mm",
                "entry_key": key,
                "confirm": True,
            }
            try:
                answer = self.server.post(f"/api/pieces/{self.piece}/readings", body)
            except (OSError, http.client.HTTPException, ValueError):
                return
            self.acknowledged.append((answer["reading"]["id"], key))


def is_sound(data_dir: Path) -> bool:
    with contextlib.closing(sqlite3.connect(data_dir / "midlimit.db")) as connection:
        return connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_every_acknowledged_reading_survives_a_kill(data_dir: Path) -> None:
    survives_kills(data_dir, "")

    assert is_sound(data_dir)


@pytest.mark.skipif(not server_url(), reason="no PostgreSQL server is named for the tests")
def test_every_acknowledged_reading_survives_a_kill_on_postgresql(data_dir: Path) -> None:
    with fresh_database() as url:
        survives_kills(data_dir, url)


def survives_kills(data_dir: Path, url: str) -> None:
    chance = random.Random(20260302)
    server = Served(data_dir, url)
    piece, feature = set_up(server)
    acknowledged: list[tuple[int, str]] = []
    sent: list[str] = []
    for _ in range(CYCLES):
        typists = [Typist(server, piece, feature) for _ in range(TYPISTS)]
        for typist in typists:
            typist.start()
        time.sleep(chance.uniform(0.1, 0.8))
        server.kill()
        for typist in typists:
            typist.join(timeout=15)
            assert not typist.is_alive()
            acknowledged += typist.acknowledged
            sent += typist.sent
        assert server.leaves_nothing_behind()
        server = Served(data_dir, url)  # no lock is left that stops it
    try:
        entries = server.get(f"/api/pieces/{piece}/history")["features"][0]["entries"]
    finally:
        server.kill()

    stored = [(entry["id"], entry["entry_key"]) for entry in entries]
    assert acknowledged
    assert set(acknowledged) <= set(stored)
    keys = [key for _, key in stored]
    assert len(keys) == len(set(keys))
    assert set(keys) <= set(sent)
    assert all(entry["value"] == "25.500" for entry in entries)


def test_a_key_sent_again_after_the_kill_is_still_one_reading(data_dir: Path) -> None:
    server = Served(data_dir)
    piece, feature = set_up(server)
    body = {"feature_id": feature, "value": "25.500", "unit": "mm", "entry_key": "k-1"}
    first = server.post(f"/api/pieces/{piece}/readings", body)
    server.kill()

    again = Served(data_dir)
    try:
        assert again.post(f"/api/pieces/{piece}/readings", body) == first
        entries = again.get(f"/api/pieces/{piece}/history")["features"][0]["entries"]
    finally:
        again.kill()
    assert len(entries) == 1


def serve_refused(*arguments: str) -> str:
    """The one line that a serve command that can't start leaves on its way out."""
    ended = subprocess.run(
        [sys.executable, "-m", "server", "serve", "--port", str(free_port()), *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ended.returncode != 0
    lines = [line for line in ended.stderr.splitlines() if line.strip()]
    assert len(lines) == 1, ended.stderr
    assert "Traceback" not in ended.stderr
    return lines[0]


def test_serve_says_in_one_line_why_it_cannot_start(tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "midlimit.db").write_bytes(b"not a database at all\n" * 300)
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")

    assert "can't be opened" in serve_refused("--data-dir", str(tmp_path / "data"))
    assert "can't be written" in serve_refused("--data-dir", str(in_the_way / "data"))
    assert "address" in serve_refused("--database-url", "nonsense")
