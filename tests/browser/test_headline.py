"""A word in the place of the number fills the room that it has, in either language."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import TABLET, Bench
from tests.browser.test_lathe_screen import CAP_HEIGHT, PHONE, UPRIGHT

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)

PLACE = """() => {
  const headline = document.querySelector(".headline");
  const word = headline.querySelector(".figure").getBoundingClientRect();
  const room = headline.getBoundingClientRect();
  const below = document.querySelector(".standing").getBoundingClientRect();
  return { share: word.width / room.width, isInside: word.right <= room.right + 1,
           height: room.height, below: below.top };
}"""


@pytest.mark.parametrize(
    ("size", "locale", "least_cap"),
    [
        (TABLET, "en-GB", 115),
        (TABLET, "de-DE", 100),
        (UPRIGHT, "en-GB", 115),
        (UPRIGHT, "de-DE", 100),
        (PHONE, "en-GB", 75),
        (PHONE, "de-DE", 75),
    ],
)
def test_a_word_is_as_large_as_it_fits(
    browser: Browser, bench: Bench, size: dict[str, int], locale: str, least_cap: int
) -> None:
    context = browser.new_context(viewport=size, locale=locale)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(bench.lathe_url)
    expect(page.locator(".headline-words")).to_be_visible()
    found = page.evaluate(PLACE)
    cap = page.evaluate(CAP_HEIGHT)
    context.close()
    assert found["isInside"]
    assert cap >= least_cap or found["share"] > 0.9


def test_what_is_below_stands_where_it_stood_under_a_number(page: Page, bench: Bench) -> None:
    page.goto(bench.lathe_url)
    expect(page.locator(".headline-words")).to_be_visible()
    before = page.evaluate(PLACE)
    page.locator("#log-value").fill("0.6480")
    page.locator(".send").click()
    expect(page.locator(".headline-number")).to_be_visible()
    after = page.evaluate(PLACE)
    assert (before["height"], before["below"]) == (after["height"], after["below"])
