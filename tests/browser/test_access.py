"""Every invented view under axe: three sizes, light and dark, everything unfolded."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.browser.pictures import CUT_OFF, SIZES, sample_server
from tests.web.view_samples import SAMPLES

pytestmark = pytest.mark.xdist_group("browser")

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ASKED: dict[Literal["light", "dark"], dict[str, Any]] = {
    "light": {"runOnly": RULES, "rules": {"target-size": {"enabled": True}}},
    "dark": {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}},
}
PARTS = 4  # so that a fault in one part leaves the others seen
NEXT_FRAME = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
UNFOLD = "document.querySelectorAll('details').forEach(each => { each.open = true; })"


@pytest.fixture(scope="module")
def samples() -> Iterator[str]:
    with sample_server() as url:
        yield url


@pytest.mark.parametrize("part", range(PARTS))
def test_axe_finds_nothing(browser: Browser, samples: str, part: int) -> None:
    """All of axe in light; in dark the rules of colour, the page being the same but for that."""
    context = browser.new_context(bypass_csp=True, reduced_motion="reduce")
    page = context.new_page()
    found: list[str] = []
    for name in list(SAMPLES)[part::PARTS]:
        page.emulate_media(color_scheme="light")
        page.goto(f"{samples}/{name}")
        for size, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            page.evaluate(NEXT_FRAME)
            found += [f"{name} {size}: {fault}" for fault in page.evaluate(CUT_OFF)]
        page.evaluate(UNFOLD)
        page.evaluate(Axe().axe_script)
        for scheme, (size, (width, height)) in product(ASKED, SIZES.items()):
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size({"width": width, "height": height})
            faults = page.evaluate("asked => axe.run(asked)", ASKED[scheme])["violations"]
            for fault in faults:
                where = fault["nodes"][0]["html"][:120]
                found.append(f"{name} {size} {scheme}: {fault['id']} at {where}")
    context.close()
    assert found == []


def test_text_at_twice_the_size_still_fits(browser: Browser, samples: str) -> None:
    """Zoom to 200 % on a tablet is a window half as wide (WCAG 1.4.4 and 1.4.10)."""
    page = browser.new_page(viewport={"width": 640, "height": 400}, device_scale_factor=2)
    found: list[str] = []
    for name in SAMPLES:
        page.goto(f"{samples}/{name}")
        found += [f"{name}: {fault}" for fault in page.evaluate(CUT_OFF)]
    page.close()
    assert found == []


def test_forced_colours_and_reduced_motion_keep_the_verdicts(
    browser: Browser, samples: str
) -> None:
    page = browser.new_page(forced_colors="active", reduced_motion="reduce")
    page.goto(f"{samples}/parts")
    for word in ("Stock left", "In limits", "Too close to call", "Past the limit"):
        chip = page.locator(".chip", has_text=word).first
        assert chip.locator("svg").bounding_box() is not None
    assert page.evaluate(
        "getComputedStyle(document.querySelector('.chip')).transitionDuration"
    ) in (
        "0s",
        "",
    )
    page.close()
