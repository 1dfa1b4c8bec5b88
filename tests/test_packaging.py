"""The built wheel carries all it needs: installed elsewhere, it serves from an empty folder."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import sysconfig
import time
import urllib.request
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
START_SECONDS = 60.0


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT))
    (found,) = out.glob("*.whl")
    return found


def run(*command: str, cwd: Path = ROOT) -> str:
    ended = subprocess.run(
        command, cwd=cwd, capture_output=True, text=True, timeout=180, check=False
    )
    assert ended.returncode == 0, ended.stdout + ended.stderr
    return ended.stdout


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def fetched(url: str, language: str = "en") -> tuple[int, str, bytes]:
    asked = urllib.request.Request(url, headers={"accept-language": language})
    with urllib.request.urlopen(asked, timeout=10) as answer:
        return answer.status, answer.headers["content-type"], answer.read()


def is_listening(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
        return True
    return False


@pytest.mark.xdist_group("packaging")
def test_the_wheel_holds_templates_static_files_and_migrations(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())

    for needed in (
        "server/templates/base.html",
        "server/static/vendor/htmx.min.js",
        "server/static/vendor/htmx.LICENSE",
        "server/migrations/env.py",
        "server/migrations/versions/0001_first_tables.py",
        "server/metrology/tables/unified_series.csv",
        "server/languages/de.po",
    ):
        assert needed in names
    checked_in = {
        f"server/{folder}/{path.relative_to(ROOT / folder)}"
        for folder in ("templates", "static", "migrations")
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert checked_in <= names
    assert not any(name.startswith("tests/") for name in names)


@pytest.mark.xdist_group("packaging")
def test_the_installed_wheel_serves_a_page_from_an_empty_folder(
    wheel: Path, tmp_path: Path
) -> None:
    fresh = tmp_path / "venv"
    run(sys.executable, "-m", "venv", "--without-pip", str(fresh))
    python = str(fresh / "bin" / "python")
    run(
        *(sys.executable, "-m", "pip", "--python", python, "install"),
        *("--no-deps", "--no-index", "--quiet", "--disable-pip-version-check", str(wheel)),
    )
    libraries = sysconfig.get_path("purelib")  # what the wheel needs, without a network
    (folder,) = fresh.glob("lib/python*/site-packages")
    (folder / "libraries.pth").write_text(f"{libraries}\n")
    empty = tmp_path / "empty"
    empty.mkdir()
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith("MIDLIMIT_")
    }
    environment.pop("PYTHONPATH", None)
    where = "import server; print(server.__file__)"
    assert run(python, "-c", where, cwd=empty).startswith(str(folder))
    port = free_port()
    process = subprocess.Popen(
        [str(fresh / "bin" / "midlimit"), "serve", "--port", str(port)]
        + ["--data-dir", str(tmp_path / "data")],
        cwd=empty,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    )
    try:
        give_up = time.monotonic() + START_SECONDS
        while not is_listening(port) and process.poll() is None and time.monotonic() < give_up:
            time.sleep(0.1)
        assert process.poll() is None, process.stdout.read().decode() if process.stdout else ""
        status, kind, page = fetched(f"http://127.0.0.1:{port}/")
        assert (status, kind.split(";")[0]) == (200, "text/html")
        assert b"Midlimit" in page
        _, _, german = fetched(f"http://127.0.0.1:{port}/", language="de")
        assert b'<html lang="de"' in german
        assert "Abgeschlossene Stücke".encode() in german
        status, _, script = fetched(f"http://127.0.0.1:{port}/static/vendor/htmx.min.js")
        assert status == 200
        assert script == (ROOT / "static" / "vendor" / "htmx.min.js").read_bytes()
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=20)
        if process.stdout is not None:
            process.stdout.close()
    assert list(empty.iterdir()) == []
    assert (tmp_path / "data" / "midlimit.db").exists()
