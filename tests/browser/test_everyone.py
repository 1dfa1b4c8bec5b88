"""WCAG 2.2 AA by axe-core on a real server; every size and theme is in test_access.py."""

from __future__ import annotations

from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.browser.conftest import Bench

pytestmark = pytest.mark.xdist_group("browser")

Scheme = Literal["light", "dark"]
SIZES = {"wide": (1280, 800), "phone": (390, 844)}
RULES = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }
}


def screens(bench: Bench) -> list[str]:
    lathe = f"/pieces/{bench.piece}/lathe?feature={bench.feature}"
    return [
        "/",
        "/targets",
        "/targets?designation=5/8-18+UNF-2A&unit=in&wire=0.032",
        "/targets?designation=5/8-18+UNF-7A&unit=in",
        lathe,
        f"/pieces/{bench.piece}/history",
        f"/pieces/{bench.piece}/finish",
        f"/parts/{bench.part}",
        "/crib",
        "/shop",
        "/start",
        "/help",
        "/no-such-page",
    ]


def with_readings(bench: Bench) -> None:
    for number, (value, step) in enumerate((("0.6480", None), ("0.6410", "0.0040"))):
        body = {
            "feature_id": bench.feature,
            "value": value,
            "unit": "in",
            "temperature": {"touch": "warm"} if step else {"value": 20, "unit": "C"},
            "entry_key": f"axe-{bench.piece}-{number}",
        }
        bench.server.post(
            f"/api/pieces/{bench.piece}/readings", body | ({"dial_step": step} if step else {})
        )


def axe_faults(
    browser: Browser, bench: Bench, size: tuple[int, int], scheme: Scheme, locale: str = "en"
) -> list[tuple[str, str, str]]:
    """(path, rule, element) of everything that axe-core finds on the screens of a real server."""
    with_readings(bench)
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=scheme,
        locale=locale,
        bypass_csp=True,
    )
    page = context.new_page()
    found = []
    for path in screens(bench):
        page.goto(bench.server.url + path)
        result = Axe().run(page, options=RULES)
        found += [
            (path, fault["id"], fault["nodes"][0]["html"][:160])
            for fault in result.response["violations"]
        ]
    context.close()
    return found


@pytest.mark.parametrize(("size", "scheme"), [("wide", "light"), ("phone", "dark")])
def test_axe_finds_nothing_on_a_real_server(
    browser: Browser, bench: Bench, size: str, scheme: Scheme
) -> None:
    assert axe_faults(browser, bench, SIZES[size], scheme) == []


@pytest.mark.parametrize("size", ["wide", "phone"])
def test_nothing_is_cut_off_at_double_text(browser: Browser, bench: Bench, size: str) -> None:
    """Text at 200 % must not need a sideways scroll of the page."""
    with_readings(bench)
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    for path in (
        "/",
        "/targets?designation=25+h6&unit=mm",
        "/targets?designation=5/8-18+UNF-2A&unit=in&wire=0.032",
        f"/pieces/{bench.piece}/history",
        f"/parts/{bench.part}",
        bench.lathe_url,
        "/crib",
        "/shop",
        "/start",
        "/help",
    ):
        page.goto(path if path.startswith("http") else bench.server.url + path)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert over <= 1, (path, over)
    context.close()
