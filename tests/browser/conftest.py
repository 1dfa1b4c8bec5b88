"""A real browser on a real server process with a data folder of its own."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx2 as httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

ROOT = Path(__file__).parents[2]
TABLET = {"width": 1280, "height": 800}


def chromium() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Server:
    """A server that can be stopped and started again on the same data and port."""

    data_dir: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        command = [sys.executable, "-m", "server", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*command, "--data-dir", str(self.data_dir)],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for _ in range(200):
            try:
                httpx.get(f"{self.url}/api/health", timeout=1)
                return
            except httpx.TransportError:
                time.sleep(0.1)
        raise AssertionError("the server did not start within 20 s")

    def stop(self) -> None:
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(15)
            self.process = None

    def get(self, path: str) -> Any:
        return httpx.get(self.url + path, timeout=10).raise_for_status().json()

    def post(self, path: str, body: dict[str, Any]) -> Any:
        return httpx.post(self.url + path, json=body, timeout=10).raise_for_status().json()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    running = Server(tmp_path / "data")
    running.start()
    yield running
    running.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium()
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("no Chromium found: the browser tests must run under CI")
        pytest.skip("no Chromium found on this machine")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    opened = browser.new_context(viewport=TABLET, accept_downloads=True)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Iterator[Page]:
    """Fails the test on any script error or console error the page makes."""
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    yield opened
    assert not faults, faults


def pages_of(pdf: Path) -> int:
    """How many pages were printed, as poppler counts them."""
    if shutil.which("pdfinfo") is None and not os.environ.get("CI"):
        pytest.skip("pdfinfo (poppler-utils) is not on this machine")
    told = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    return int(told.partition("Pages:")[2].split()[0])


@dataclass(frozen=True)
class Bench:
    """One piece with a thread on it, ready to be cut."""

    server: Server
    part: int
    feature: int
    piece: int

    @property
    def lathe_url(self) -> str:
        return f"{self.server.url}/pieces/{self.piece}/lathe?feature={self.feature}"

    def add_feature(self, label: str = "Seat", designation: str = "25 h6", **more: Any) -> int:
        """The number of another feature of the part, turned on the first lathe."""
        body = {
            "label": label,
            "designation": designation,
            "method": "direct",
            "slide": "cross_slide",
            "lathe_id": 1,
            "instrument_id": 1,
            **more,
        }
        number: int = self.server.post(f"/api/parts/{self.part}/features", body)["id"]
        return number

    def readings(self) -> list[dict[str, Any]]:
        told = self.server.get(f"/api/pieces/{self.piece}/history")
        entries = next(each for each in told["features"] if each["id"] == self.feature)["entries"]
        return [entry for entry in entries if entry["type"] == "reading"]


def crib(server: Server) -> tuple[int, int]:
    """(lathe, instrument)"""
    lathe = server.post(
        "/api/lathes",
        {
            "name": "Bench lathe",
            "unit": "in",
            "cross_slide": {"counts": "diameter", "graduation": "0.001"},
            "compound": {
                "counts": "travel",
                "graduation": "0.001",
                "angle_deg": 29.5,
                "angle_from": "cross_slide",
            },
        },
    )["id"]
    instrument = server.post(
        "/api/instruments",
        {
            "name": "0-1 in micrometer",
            "kind": "micrometer",
            "unit": "in",
            "resolution": "0.0001",
            "max_error": "0.0001",
        },
    )["id"]
    return lathe, instrument


@pytest.fixture(scope="session")
def shared_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One for every bench: a test that stops it starts it again."""
    running = Server(tmp_path_factory.mktemp("shared"))
    yield running
    running.stop()


@pytest.fixture
def bench(shared_server: Server) -> Bench:
    server = shared_server
    if server.process is None:
        server.start()
    lathe, instrument = crib(server)
    part = server.post(
        "/api/parts", {"name": "Test shaft", "material": "carbon steel", "unit": "in"}
    )["id"]
    feature = server.post(
        f"/api/parts/{part}/features",
        {
            "label": "Thread",
            "designation": "5/8-18 UNF-2A",
            "method": "over_wires",
            "wire": "0.032",
            "slide": "compound",
            "lathe_id": lathe,
            "instrument_id": instrument,
            "tool": {"flat": "0.007"},
        },
    )["id"]
    piece = server.post(f"/api/parts/{part}/pieces", {})["id"]
    return Bench(server, part, feature, piece)
