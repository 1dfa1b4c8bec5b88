"""A server that is really shared, reached by this machine's own network address."""

from __future__ import annotations

import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2 as httpx
import pytest

from server.sharing.network import own_addresses

ROOT = Path(__file__).parents[2]
LAN = next(iter(own_addresses()), "")
needs_network = pytest.mark.skipif(not LAN, reason="this machine has no address but loopback")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("0.0.0.0", 0))
        return int(probe.getsockname()[1])


@dataclass
class Running:
    port: int
    scheme: str
    log: Path
    trusted: ssl.SSLContext | bool = True

    def client(self, host: str = "127.0.0.1") -> httpx.Client:
        return httpx.Client(
            base_url=f"{self.scheme}://{host}:{self.port}", verify=self.trusted, timeout=20
        )


@contextmanager
def serving(folder: Path, *flags: str, scheme: str = "http") -> Iterator[Running]:
    found = Running(free_port(), scheme, folder / "said.txt")
    command = [sys.executable, "-m", "server", "serve", "--data-dir", str(folder / "data")]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "FORWARDED_ALLOW_IPS": "*"}
    with found.log.open("wb") as said:
        process = subprocess.Popen(
            [*command, "--port", str(found.port), *flags],
            stdout=said,
            stderr=subprocess.STDOUT,
            env=environment,
            cwd=folder,
        )
        try:
            for _ in range(300):
                with socket.socket() as probe:
                    if probe.connect_ex(("127.0.0.1", found.port)) == 0:
                        break
                assert process.poll() is None, found.log.read_text()
                time.sleep(0.1)
            if scheme == "https":
                certificate = folder / "data" / "self-made.crt"
                found.trusted = ssl.create_default_context(cafile=str(certificate))
            yield found
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(20)


def test_alone_it_listens_on_loopback_only(tmp_path: Path) -> None:
    with serving(tmp_path) as running:
        with running.client() as here:
            assert here.get("/api/health").status_code == 200
            # Uvicorn would believe this header from loopback if it were told to.
            forged = here.get("/api/health", headers={"X-Forwarded-For": "192.0.2.1"})
            assert forged.status_code == 401
        if LAN:
            with socket.socket() as probe:
                assert probe.connect_ex((LAN, running.port)) != 0


@needs_network
def test_a_device_pairs_over_the_network_and_leaves_no_secret_in_the_log(tmp_path: Path) -> None:
    with serving(tmp_path, "--share") as running, running.client(LAN) as tablet:
        for headers in ({}, {"X-Forwarded-For": "127.0.0.1"}, {"Host": "127.0.0.1"}):
            assert tablet.get("/api/health", headers=headers).status_code == 401
        assert tablet.get("/", headers={"Host": "evil.test"}).status_code == 400
        assert "Pair this device" in tablet.get("/").text
        code = code_at_terminal(running)
        typed = {"code": code, "name": "Bench tablet", "initials": "KJ"}
        origin = {"Origin": f"http://{LAN}:{running.port}"}
        answer = tablet.post("/pair", data=typed, headers=origin)
        assert answer.status_code == 303, answer.text
        token = tablet.cookies["midlimit_device"]
        assert tablet.get("/?q=secretword").status_code == 200
        assert tablet.get("/api/health").json()["status"] == "ok"
        assert tablet.post("/api/parts", json={}).status_code == 403
        with running.client() as here:
            devices = here.get("/api/sharing").json()["devices"]
            assert [device["name"] for device in devices] == ["Bench tablet"]
            here.post(f"/api/sharing/devices/{devices[0]['id']}/end")
        assert tablet.get("/api/health").status_code == 401
    said = running.log.read_text()
    assert f"http://{LAN}:{running.port}/pair" in said
    for secret in (code, f"{code[:3]} {code[3:]}", token, "secretword"):
        assert secret not in said


def code_at_terminal(running: Running) -> str:
    flags = ["--https"] if running.scheme == "https" else []
    made = subprocess.run(
        [sys.executable, "-m", "server", "pair", "--port", str(running.port), *flags],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=True,
    )
    found = re.search(r"Pairing code ([0-9]{3}) ([0-9]{3})", made.stdout)
    assert found is not None, made.stdout
    return found[1] + found[2]


def test_a_code_can_t_be_made_where_no_server_runs() -> None:
    made = subprocess.run(
        [sys.executable, "-m", "server", "pair", "--port", str(free_port())],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=False,
    )
    assert made.returncode == 1
    assert "no server answers" in made.stderr


@needs_network
def test_https_with_a_certificate_made_here(tmp_path: Path) -> None:
    pytest.importorskip("cryptography")
    with serving(tmp_path, "--share", "--self-signed", scheme="https") as running:
        with running.client(LAN) as tablet:
            code = code_at_terminal(running)
            answer = tablet.post("/api/pair", json={"code": code, "name": "Tablet"})
            assert answer.status_code == 201
            assert "secure" in answer.headers["set-cookie"].lower()
            assert tablet.get("/api/health").status_code == 200
            assert "plain http" not in tablet.get("/pair").text
        with running.client() as here:
            page = here.get("/shop/sharing").text
    shown = re.search(r"Certificate SHA-256 ([0-9A-F:]{95})", running.log.read_text())
    assert shown is not None
    assert shown[1] in page
    assert (tmp_path / "data" / "self-made.key").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/static/../server/app.py", "create_app"),
        ("/static/../../../../../../../etc/passwd", "root:"),
        ("/static/%2e%2e/pyproject.toml", "[project]"),
        ("/static/..%2fpyproject.toml", "[project]"),
        ("//etc/passwd", "root:"),
    ],
)
def test_no_raw_address_leads_out_of_the_static_files(live: Running, path: str, words: str) -> None:
    answer = raw(live, f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
    assert answer.startswith(("HTTP/1.1 404", "HTTP/1.1 400"))
    assert words not in answer


@pytest.mark.parametrize(
    "request_text",
    [
        "GET / HTTP/1.1\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nHost: evil.test\r\n\r\n",
        "GET http://evil.test/ HTTP/1.1\r\nHost: evil.test\r\n\r\n",
        "POST /parts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -1\r\n\r\n",
        "POST /parts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99999999999999\r\n\r\n",
        "POST /parts HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
        "BREW / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + "a" * 200_000 + "\r\n\r\n",
        "\x00\x01\x02\r\n\r\n",
    ],
)
def test_a_request_out_of_order_is_refused_and_the_server_goes_on(
    live: Running, request_text: str
) -> None:
    answer = raw(live, request_text)
    assert re.match(r"HTTP/1.1 4[0-9]{2}", answer), answer[:200]
    with live.client() as here:
        assert here.get("/api/health").status_code == 200


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with serving(tmp_path_factory.mktemp("live")) as running:
        yield running


def raw(running: Running, text: str) -> str:
    received = b""
    with socket.create_connection(("127.0.0.1", running.port), timeout=8) as opened:
        try:
            opened.sendall(text.encode("latin-1"))
            while piece := opened.recv(65536):
                received += piece
        except OSError:  # the server hung up: whatever came before that is the answer
            pass
    return received.decode("latin-1")
