"""Pictures of every screen, three sizes, light and dark, with one command.

    python -m tests.browser.pictures --to DIR                  invented views, no server needed
    python -m tests.browser.pictures --to DIR --url URL        a running server with its demo

A path list for a running server is PATHS; --only takes the beginnings of names, --language a
language of the screens that a running server is asked for.
"""

from __future__ import annotations

import argparse
import contextlib
import mimetypes
import shutil
import sys
import tempfile
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import product
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from server.pages import view_render
from tests.web.view_samples import SAMPLES

ROOT = Path(__file__).parents[2]
SIZES = {"wide": (1280, 800), "tall": (800, 1280), "phone": (390, 844)}
PATHS = {
    "parts": "/",
    "targets": "/targets?designation=5/8-18+UNF-2A",
    "targets-metric": "/targets?designation=Tr40x7-7e",
    "targets-plain": "/targets?designation=25+h6",
    "targets-refused": "/targets?designation=5/8-18+UNF-7A",
    "lathe-1": "/pieces/2/lathe?feature=1",
    "lathe-2": "/pieces/2/lathe?feature=2",
    "lathe-3": "/pieces/2/lathe?feature=3",
    "lathe-4": "/pieces/2/lathe?feature=4",
    "history": "/pieces/1/history",
    "history-open": "/pieces/2/history",
    "working": "/pieces/2/working?feature=2",
    "part": "/parts/1",
    "found": "/?q=latch",
    "lot": "/parts/2/lot",
    "history-scrap": "/pieces/6/history",
    "record": "/pieces/1/record",
    "record-lot": "/parts/2/record",
    "finish": "/pieces/2/finish",
    "start": "/start",
    "help": "/help",
    "crib": "/crib",
    "shop": "/shop",
    "sharing": "/shop/sharing",
    "audit": "/shop/audit",
    "error": "/parts/99999",
}


EXPECTED = {"targets-refused": 422, "error": 404}  # any other page answers 200
ANSWER = "Failed to load resource"  # the console's word on a status that take() has looked at


def chromium() -> str | None:
    """Where the browser is, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@contextlib.contextmanager
def sample_server() -> Iterator[str]:
    """Serve the invented views on a free loopback port; yields the address."""
    env = view_render.environment(ROOT / "templates", ROOT / "static")
    views = {f"/{name}": view for name, view in SAMPLES.items()}

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            path = urlsplit(self.path).path
            if path in views:
                text = view_render.page(env, views[path])
                self.answer(text.encode(), "text/html; charset=utf-8")
            elif path.startswith("/static/") and (ROOT / path[1:]).is_file():
                kind = mimetypes.guess_type(path)[0] or "application/octet-stream"
                self.answer((ROOT / path[1:]).read_bytes(), kind)
            elif path == "/sw.js":
                self.answer(b"", "text/javascript")
            else:
                self.send_response(204)
                self.end_headers()

        def answer(self, body: bytes, kind: str) -> None:
            self.send_response(200)
            self.send_header("Content-Type", kind)
            self.send_header(
                "Content-Security-Policy",
                "default-src 'self'; script-src 'self'; style-src 'self'",
            )
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *args: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()


def take(
    browser: Browser,
    url: str,
    paths: dict[str, str],
    folder: Path,
    sizes: list[str],
    schemes: list[str],
    is_whole: bool,
    expected: dict[str, int],
    language: str = "en",
) -> list[str]:
    """Write one PNG for each path, size and scheme; returns what looked wrong.

    expected: by name, the status of a page that is meant to answer something else than 200.
    """
    faults: list[str] = []
    for size, scheme in product(sizes, schemes):
        page = browser.new_page(
            viewport={"width": SIZES[size][0], "height": SIZES[size][1]},
            color_scheme="dark" if scheme == "dark" else "light",
            has_touch=True,
            locale=language,
        )
        watch(page, faults)
        for name, path in paths.items():
            answer = page.goto(url + path)
            wanted = expected.get(name, 200)
            if answer is None or answer.status != wanted:
                faults.append(f"{name}: answered {answer and answer.status}, not {wanted}")
            page.wait_for_timeout(120)
            faults += [f"{name} {size} {scheme}: {fault}" for fault in page.evaluate(CUT_OFF)]
            page.screenshot(path=folder / f"{name}-{size}-{scheme}.png", full_page=is_whole)
        page.close()
    return faults


def watch(page: Page, faults: list[str]) -> None:
    """Collect script errors and refused styles or scripts."""

    def hear(said: ConsoleMessage) -> None:
        is_page = said.text.startswith(ANSWER) and said.location["url"] == page.url
        if said.type == "error" and not is_page:
            faults.append(said.text)

    page.on("console", hear)
    page.on("pageerror", lambda error: faults.append(str(error)))


CUT_OFF = """() => {
  const found = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) found.push(root.scrollWidth + ' px wide');
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('svg, .only-read, .skip, .bar, .scroll') || !e.offsetParent) continue;
    const isField = ['INPUT', 'SELECT'].includes(e.tagName);
    const isWhole = isField || e.matches('button, .button, .tap span, summary, th, td, dt, dd');
    if (getComputedStyle(e).overflowX === 'visible' && !isWhole) continue;
    if (e.scrollWidth <= e.clientWidth + 1) continue;
    found.push('cut off: ' + e.tagName + ' ' + (e.id || e.className));
  }
  return found;
}"""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--to", type=Path, default=None)
    parser.add_argument("--url", default="")
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--sizes", nargs="*", default=list(SIZES))
    parser.add_argument("--schemes", nargs="*", default=["light", "dark"])
    parser.add_argument("--language", default="en")
    parser.add_argument("--screen", action="store_true", help="first screen, not the whole page")
    asked = parser.parse_args()
    folder = asked.to or Path(tempfile.mkdtemp(prefix="midlimit-pictures-"))
    folder.mkdir(parents=True, exist_ok=True)
    found = chromium()
    if not found:
        sys.stderr.write("no chromium found\n")
        return 1
    with sync_playwright() as play, contextlib.ExitStack() as stack:
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        url = asked.url or stack.enter_context(sample_server())
        names = PATHS if asked.url else {name: f"/{name}" for name in SAMPLES}
        paths = {
            name: path
            for name, path in names.items()
            if not asked.only or any(name.startswith(start) for start in asked.only)
        }
        expected = EXPECTED if asked.url else {}
        faults = take(
            browser,
            url,
            paths,
            folder,
            asked.sizes,
            asked.schemes,
            not asked.screen,
            expected,
            asked.language,
        )
        browser.close()
    sys.stdout.write("\n".join([str(folder), *dict.fromkeys(faults)]) + "\n")
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
