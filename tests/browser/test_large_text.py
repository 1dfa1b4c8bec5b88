"""Letters at twice the size (WCAG 1.4.4): they wrap and grow, and cover nothing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.browser.pictures import CUT_OFF, sample_server
from tests.web.view_samples import SAMPLES

pytestmark = pytest.mark.xdist_group("browser")

ROOT_PX = 32  # twice what browsers start with
OVERLAP = """() => {
  const places = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const isSeen = e => e.checkVisibility({ visibilityProperty: true })
    && !e.closest('svg, .only-read, .skip, .scroll, .tabs, option')
    && getComputedStyle(e).clipPath === 'none'
    && !(e.closest('.pad') && document.querySelector('.ask')); // which lies on it
  for (let text = walk.nextNode(); text; text = walk.nextNode()) {
    const e = text.parentElement;
    if (!text.data.trim() || !isSeen(e)) continue;
    let shown = { top: -Infinity, bottom: Infinity };
    for (let up = e; up; up = up.parentElement) {
      if (up === document.body || getComputedStyle(up).overflowY === 'visible') continue;
      const box = up.getBoundingClientRect();
      shown = { top: Math.max(shown.top, box.top), bottom: Math.min(shown.bottom, box.bottom) };
    }
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const { left, right, top, bottom } of range.getClientRects()) {
      const over = 0.2 * (bottom - top); // lines are set closer than their boxes
      const place = { e, left: left + 1, right: right - 1,
        top: Math.max(top + over, shown.top), bottom: Math.min(bottom - over, shown.bottom) };
      if (place.left < place.right && place.top < place.bottom) places.push(place);
    }
  }
  const found = [];
  const words = each => each.e.textContent.trim().slice(0, 30);
  for (const { e, right } of places) {
    let block = e;
    while (getComputedStyle(block).display === 'inline') block = block.parentElement;
    if (right > block.getBoundingClientRect().right + 2) found.push(`${words({ e })} past its box`);
  }
  for (const limits of document.querySelectorAll('.card-main .scroll')) {
    if (limits.scrollWidth > limits.clientWidth) found.push('the limits have to be scrolled');
  }
  places.forEach((one, at) => {
    for (const two of places.slice(at + 1)) {
      if (one.left < two.right && two.left < one.right
        && one.top < two.bottom && two.top < one.bottom) {
        found.push(`${words(one)} over ${words(two)}`);
      }
    }
  });
  return found;
}"""
SIZES_OF = """names => names.map(
  name => parseFloat(getComputedStyle(document.querySelector(name)).fontSize))"""


@pytest.fixture(scope="module")
def samples() -> Iterator[str]:
    with sample_server() as url:
        yield url


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280)], ids=str)
def test_nothing_is_cut_off_or_covered(
    browser: Browser, samples: str, size: tuple[int, int]
) -> None:
    page = browser.new_page(
        viewport={"width": size[0], "height": size[1]}, bypass_csp=True, reduced_motion="reduce"
    )
    found: list[str] = []
    for name in SAMPLES:
        page.goto(f"{samples}/{name}")
        page.evaluate(f"document.documentElement.style.fontSize = '{ROOT_PX}px'")
        page.evaluate("document.querySelectorAll('.drawer').forEach(each => { each.open = true; })")
        faults = page.evaluate(CUT_OFF) + page.evaluate(OVERLAP)
        found += [f"{name}: {fault}" for fault in faults]
    page.close()
    assert found == []


def test_what_explains_at_the_lathe_grows(browser: Browser, samples: str) -> None:
    page = browser.new_page(bypass_csp=True)
    names = [".why", ".landing-words", ".small-facts", ".hint", ".caution", ".touches legend"]
    page.goto(f"{samples}/lathe")
    before = page.evaluate(SIZES_OF, names)
    page.evaluate(f"document.documentElement.style.fontSize = '{ROOT_PX}px'")
    after = page.evaluate(SIZES_OF, names)
    assert after == [2 * each for each in before]
    page.close()
