"""A real server: one on a folder, a clean stop with streams open, a full disk, a damaged file."""

from __future__ import annotations

import contextlib
import json
import os
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
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

ROOT = Path(__file__).resolve().parents[2]
Json = dict[str, Any]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Server:
    """`midlimit serve` on a data folder, and requests to it."""

    def __init__(self, data_dir: Path, *more: str) -> None:
        self.port = free_port()
        command = [sys.executable, "-m", "server", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*command, "--data-dir", str(data_dir), *more],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def ready(self) -> Server:
        give_up = time.monotonic() + 60
        while time.monotonic() < give_up and self.process.poll() is None:
            with contextlib.suppress(OSError):
                self.ask("/api/health")
                return self
            time.sleep(0.05)
        pytest.fail(f"it did not start: {self.end()}")

    def ask(self, path: str, body: Json | None = None, form: Json | None = None) -> tuple[int, str]:
        """(status, text) of a GET, a JSON post or a form post."""
        data, headers = None, {}
        if body is not None:
            data, headers = json.dumps(body).encode(), {"content-type": "application/json"}
        if form is not None:
            data = urlencode(form).encode()
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, headers)
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()

    def made(self, path: str, body: Json) -> int:
        status, text = self.ask(path, body)
        assert status == 201, text
        number: int = json.loads(text)["id"]
        return number

    def job(self) -> tuple[int, int]:
        """(piece, feature) of a plain turning job."""
        dial = {"counts": "diameter", "graduation": "0.02"}
        lathe = {
            "name": "Lathe",
            "unit": "mm",
            "cross_slide": dial,
            "compound": dial | {"angle_deg": 0, "angle_from": "cross_slide"},
        }
        instrument = {
            "name": "Micrometer",
            "kind": "micrometer",
            "unit": "mm",
            "resolution": "0.001",
            "max_error": "0.002",
        }
        part = self.made("/api/parts", {"name": "Shaft", "material": "steel", "unit": "mm"})
        feature = {
            "label": "Seat",
            "designation": "25 h6",
            "method": "direct",
            "slide": "cross_slide",
            "lathe_id": self.made("/api/lathes", lathe),
            "instrument_id": self.made("/api/instruments", instrument),
        }
        made = self.made(f"/api/parts/{part}/features", feature)
        return self.made(f"/api/parts/{part}/pieces", {}), made

    def reading(self, piece: int, feature: int, **more: str) -> tuple[int, str]:
        body = {"feature_id": feature, "value": "25.4", "unit": "mm", "confirm": True}
        return self.ask(
            f"/api/pieces/{piece}/readings", body | {"entry_key": str(uuid.uuid4())} | more
        )

    def end(self, how: int = signal.SIGTERM) -> tuple[int, str, str]:
        """(exit code, standard output, standard error)."""
        with contextlib.suppress(ProcessLookupError):
            self.process.send_signal(how)
        out, err = self.process.communicate(timeout=30)
        return self.process.returncode, out, err


@pytest.fixture
def data_dir(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def server(data_dir: Path) -> Iterator[Server]:
    started = Server(data_dir).ready()
    yield started
    if started.process.poll() is None:
        started.end(signal.SIGKILL)


def one_line(text: str) -> str:
    assert text.startswith("midlimit: "), text
    assert text.count("\n") == 1, text
    return text


def test_a_second_server_on_a_folder_is_refused_in_one_line(server: Server, data_dir: Path) -> None:
    second = Server(data_dir)
    out, err = second.process.communicate(timeout=60)

    assert second.process.returncode == 1
    assert str(server.process.pid) in one_line(err)
    assert out == ""


def test_a_killed_server_can_be_started_again(server: Server, data_dir: Path) -> None:
    piece, feature = server.job()
    status, _ = server.reading(piece, feature)
    server.end(signal.SIGKILL)
    again = Server(data_dir).ready()

    assert status == 201
    assert "25.4" in again.ask(f"/api/pieces/{piece}/history")[1]
    again.end()


def test_an_open_stream_does_not_hold_up_the_stop(server: Server) -> None:
    piece, _ = server.job()
    stream = socket.create_connection(("127.0.0.1", server.port), timeout=30)
    stream.sendall(
        f"GET /pieces/{piece}/events-stream HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n".encode()
    )
    received = b""
    while b"event: hello" not in received:
        received += stream.recv(4096)
    began = time.monotonic()
    code, _, _ = server.end()

    assert code == 0
    assert time.monotonic() - began < 10  # uvicorn alone would wait until the tablet goes away
    stream.close()


def test_the_log_is_json_without_queries_or_bodies(server: Server) -> None:
    piece, feature = server.job()
    server.reading(piece, feature, note="not for the log")
    server.ask("/?q=not-for-the-log")
    server.ask("/nowhere")
    _, _, err = server.end()
    lines = [json.loads(line) for line in err.splitlines()]
    told = [(line["method"], line["path"], line["status"]) for line in lines if "path" in line]

    assert ("POST", f"/api/pieces/{piece}/readings", 201) in told
    assert ("GET", "/", 200) in told
    assert ("GET", "/nowhere", 404) in told
    assert "for the log" not in err
    assert "for-the-log" not in err
    for line in lines:
        assert {"at", "level", "about", "message"} <= set(line)


def test_a_quiet_log_has_no_line_for_a_request(data_dir: Path) -> None:
    server = Server(data_dir, "--log", "warning").ready()

    assert server.end()[2] == ""


@pytest.mark.parametrize("keep", [100, 4096, 40_000])
def test_a_truncated_database_is_refused_and_left_alone(data_dir: Path, keep: int) -> None:
    server = Server(data_dir).ready()
    server.job()
    server.end()
    file = data_dir / "midlimit.db"
    with file.open("r+b") as raw:
        raw.truncate(keep)
    before = file.read_bytes()
    second = Server(data_dir)
    _, err = second.process.communicate(timeout=60)

    assert second.process.returncode == 1
    assert "backup" in one_line(err)
    assert file.read_bytes() == before


def test_a_large_database_cut_short_is_refused_without_reading_it_all(
    data_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from server.records import database
    from server.settings import Settings

    settings = Settings(data_dir=data_dir)
    database.open_database(settings).close()
    monkeypatch.setattr(database, "CHECKED_AT_START", 0)
    database.open_database(settings).close()
    file = data_dir / "midlimit.db"
    with file.open("r+b") as raw:
        raw.truncate(file.stat().st_size - 4096)

    with pytest.raises(database.DatabaseRefused, match="malformed"):
        database.open_database(settings)


def test_a_second_process_that_looks_in_takes_nothing_away(server: Server, data_dir: Path) -> None:
    """The server keeps its locks, so that the last to leave is never mistaken for the only one."""
    piece, feature = server.job()
    assert server.reading(piece, feature)[0] == 201
    for _ in range(3):
        connection = sqlite3.connect(data_dir / "midlimit.db")
        connection.execute("SELECT count(*) FROM entry").fetchone()
        connection.close()
        assert (data_dir / "midlimit.db-wal").exists()
        assert server.reading(piece, feature)[0] == 201
    assert server.ask(f"/api/pieces/{piece}/history")[0] == 200


# A full disk.


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of two megabytes."""
    if os.geteuid() != 0:
        pytest.skip("only the superuser may mount a small disk to fill")
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", folder], check=False
    )
    if mounted.returncode:
        pytest.skip("this machine does not let a small disk be mounted")
    yield folder
    subprocess.run(["umount", "-l", folder], check=True)


def fill(folder: Path) -> Path:
    """A file that takes the rest of the disk."""
    file = folder / "full"
    with contextlib.suppress(OSError), file.open("wb", buffering=0) as out:
        while out.write(b"\0" * 1024):
            pass
    return file


def test_a_full_disk_loses_nothing_says_so_and_recovers(small_disk: Path) -> None:
    data = small_disk / "data"
    server = Server(data).ready()
    piece, feature = server.job()
    saved = 0
    filler = fill(small_disk)
    for _ in range(400):
        status, text = server.reading(piece, feature)
        if status != 201:
            break
        saved += 1

    assert status == 507, text
    problem = json.loads(text)["error"]
    assert problem["code"] == "disk_full"
    assert "NOT saved" in problem["message"]

    form = {
        "feature_id": feature,
        "value": "25.3217",
        "unit": "mm",
        "entry_key": str(uuid.uuid4()),
        "confirm": "true",
    }
    status, page = server.ask(f"/pieces/{piece}/readings", form=form)
    assert status == 507
    assert "NOT saved" in page
    assert "25.3217" in page, "what was typed is still on the page"

    status, history = server.ask(f"/api/pieces/{piece}/history")
    assert status == 200, "reads stay up"
    assert len(json.loads(history)["features"][0]["entries"]) == saved

    filler.unlink()
    assert server.reading(piece, feature)[0] == 201, "it recovers when space is freed"
    server.end(signal.SIGKILL)
    connection = sqlite3.connect(data / "midlimit.db")
    assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert connection.execute("SELECT count(*) FROM entry").fetchone()[0] == saved + 1
    connection.close()


def test_a_database_that_another_program_holds_is_said(server: Server, data_dir: Path) -> None:
    piece, feature = server.job()
    other = sqlite3.connect(data_dir / "midlimit.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    status, text = server.reading(piece, feature)
    other.execute("ROLLBACK")
    other.close()

    assert status == 503
    assert json.loads(text)["error"]["code"] == "busy"
    assert server.reading(piece, feature)[0] == 201


def test_requests_under_way_are_answered_before_the_stop(server: Server, data_dir: Path) -> None:
    piece, feature = server.job()
    statuses: list[int] = []

    def log() -> None:
        with contextlib.suppress(OSError):
            while True:
                statuses.append(server.reading(piece, feature)[0])

    typist = threading.Thread(target=log)
    typist.start()
    while len(statuses) < 5:
        time.sleep(0.01)
    code, _, _ = server.end()
    typist.join()
    connection = sqlite3.connect(data_dir / "midlimit.db")
    stored = connection.execute("SELECT count(*) FROM entry").fetchone()[0]
    connection.close()

    assert code == 0
    assert set(statuses) == {201}
    assert stored == len(statuses)
