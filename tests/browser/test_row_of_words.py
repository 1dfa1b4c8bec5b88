"""The row over the keypad: cautions, what waits and what was wrong, while nothing else moves."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import TABLET, Bench
from tests.browser.test_lathe_screen import LOW, PHONE, SHORT, SMALL, TAP, UPRIGHT, open_with_stock

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)

SIZES = [TABLET, UPRIGHT, PHONE, SHORT, LOW]
PLACES = """() => [...document.querySelectorAll(
  '.say, .headline, .standing, .cuts-place, .touches, .reading, .pad, .send'
)].map(e => {
  const box = e.getBoundingClientRect();
  return [e.className, box.x, box.y, box.width, box.height].map(n => n.toFixed?.(0) ?? n).join(' ');
})"""
INSIDE = """() => {
  const row = document.querySelector('.row-of-words').getBoundingClientRect();
  return row.height >= 76 && [...document.querySelectorAll('.row-of-words *')]
    .filter(e => e.offsetParent && e.closest('.waiting, .problems, .caution'))
    .every(e => e.getBoundingClientRect().bottom <= row.bottom + 1
      && e.getBoundingClientRect().right <= row.right + 1);
}"""
TO_THE_EDGE = """() => { // in one look: the strip is drawn anew at every try
  const strip = document.querySelector('[data-waiting]');
  const right = element => element.getBoundingClientRect().right;
  return right(strip) - right(strip.querySelector('li'));
}"""
HOT = ".caution[data-caution=warm]"


def put_away_cautions(page: Page) -> None:
    while page.locator("[data-dismiss]:visible").count():
        page.locator("[data-dismiss]:visible").first.click()


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_nothing_moves_whatever_the_row_says(
    page: Page, bench: Bench, size: dict[str, int]
) -> None:
    page.set_viewport_size(size)  # type: ignore[arg-type]
    open_with_stock(page, bench)
    places = page.evaluate(PLACES)
    for shown in (".send", ".pad", ".headline", ".standing", ".cuts", ".touches"):
        box = page.locator(shown).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= size["height"], f"{shown} is below the first screen"
    assert page.evaluate(INSIDE)
    put_away_cautions(page)
    assert page.evaluate(PLACES) == places, "cautions put away"
    page.locator("#log-value").fill("0.6.4")
    page.locator("#log .send").click()
    expect(page.locator(".told .problems")).to_be_visible()
    page.locator("#log-value").fill("")
    assert page.evaluate(PLACES) == places, "a value that was refused"
    assert page.evaluate(INSIDE)
    expect(page.locator("[data-leave]")).to_be_visible()
    assert page.evaluate(SMALL, TAP) == []
    said = "document.getElementById(document.activeElement.getAttribute('aria-describedby'))"
    page.locator("#log-value").focus()
    assert "0.6.4" in page.evaluate(f"{said}.textContent")
    page.locator("[data-leave]").click()
    page.route("**/readings", lambda route: route.abort())
    page.locator("#log-value").fill("0.6479")
    page.locator("#log .send").click()
    strip = page.locator("[data-waiting]")
    expect(strip).to_contain_text("no link")
    assert page.evaluate(PLACES) == places, "no link"
    assert page.evaluate(INSIDE)
    assert page.evaluate(TO_THE_EDGE) >= 8, "it touches the edge"
    assert page.evaluate("document.documentElement.scrollWidth") == size["width"]


def test_keys_of_a_short_telephone_are_no_smaller(page: Page, bench: Bench) -> None:
    page.set_viewport_size(SHORT)  # type: ignore[arg-type]
    open_with_stock(page, bench)
    keys = [key.bounding_box() for key in page.locator(".pad button").all()]
    assert len(keys) == 14
    for box in keys:
        assert box is not None
        assert min(box["width"], box["height"]) >= TAP


def test_a_hot_part_is_warned_of_at_the_touch(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    caution, hot = page.locator(HOT), page.locator("input[value=too_hot]")
    expect(caution).to_be_hidden()
    hot.click()
    expect(caution).to_be_visible()
    expect(page.locator(".caution:visible")).to_have_count(1)
    hot.click()
    expect(caution).to_be_hidden()
    page.locator("input[value=warm]").click()
    expect(caution).to_be_visible()
    page.locator("input[value=shop]").click()
    expect(caution).to_be_hidden()
    page.locator("#log-temperature_value").fill("75")
    expect(caution).to_be_hidden()
    page.locator("#log-temperature_value").fill("110")
    expect(caution).to_be_visible()


def test_a_hot_reading_warns_however_wide_the_tolerance(page: Page, bench: Bench) -> None:
    feature = bench.add_feature("Roughed", "25 ±0.5", unit="mm")
    page.goto(f"{bench.server.url}/pieces/{bench.piece}/lathe?feature={feature}")
    put_away = page.locator("[data-dismiss]:visible")
    page.locator("input[value=too_hot]").click()
    page.locator("#log-value").fill("25.0")
    page.locator("#log .send").click()
    expect(page.locator(".entry-reading")).to_have_count(1)
    page.reload()
    expect(page.locator(HOT)).to_be_visible()
    put_away.click()
    expect(page.locator(".caution[data-caution=measuring]")).to_be_visible()


def test_without_scripts_every_caution_stands_and_none_has_a_dead_button(
    browser: Browser, bench: Bench
) -> None:
    body = {
        "feature_id": bench.feature,
        "value": "0.6480",
        "unit": "in",
        "temperature": {"touch": "too_hot"},
        "entry_key": f"plain-{bench.piece}",
    }
    bench.server.post(f"/api/pieces/{bench.piece}/readings", body)
    for size in (TABLET, PHONE):
        page = browser.new_page(java_script_enabled=False, viewport=size)  # type: ignore[arg-type]
        page.goto(bench.lathe_url)
        shown = page.locator(".caution:visible")
        assert shown.count() == 3
        assert "Hot work" in shown.first.inner_text()
        assert page.locator("[data-dismiss]:visible").count() == 0
        page.close()


def test_a_tap_leaves_no_key_as_if_pointed_at(browser: Browser, bench: Bench) -> None:
    page = browser.new_page(viewport=PHONE, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    page.goto(bench.lathe_url)
    send = page.locator("#log .send")
    before = send.evaluate("e => getComputedStyle(e).backgroundColor")
    send.tap()
    assert send.evaluate("e => getComputedStyle(e).backgroundColor") == before
    page.close()
