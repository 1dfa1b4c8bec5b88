"""What keyboard, gauge and keypad do; where the focus goes; what is read out."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Bench
from tests.browser.test_lathe_screen import open_with_stock, type_reading, values
from tests.browser.test_never_lost import with_question

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)

FOCUS = "document.activeElement.tagName"
PRESSED = [".undo", ".home", "#log-unit", ".theme", ".to-history", ".drawer summary", ".tap input"]

# 80 ms between two keys by their own clock, however busy the machine
TYPED_BY_A_GAUGE = """text => {
  const field = document.activeElement;
  [...text, "Enter"].forEach((key, number) => {
    const event = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
    Object.defineProperty(event, "timeStamp", { value: performance.now() + 80 * number });
    if (field.dispatchEvent(event) && key !== "Enter") field.value += key;
  });
}"""


@pytest.mark.parametrize("delay", [80, 250])
@pytest.mark.parametrize("place", PRESSED)
def test_a_slow_gauge_logs_and_presses_nothing(
    page: Page, bench: Bench, place: str, delay: int
) -> None:
    open_with_stock(page, bench)
    theme = page.locator("html").get_attribute("data-theme")
    page.locator(place).first.focus()
    page.keyboard.type("0.6479", delay=delay)
    page.keyboard.press("Enter")
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(page).to_have_url(bench.lathe_url)
    expect(page.locator("details[open]")).to_have_count(0)
    assert page.locator("html").get_attribute("data-theme") == theme
    assert values(bench) == ["0.6480", "0.6479"]
    assert bench.readings()[0]["struck"] is None


@pytest.mark.parametrize("place", ["#log-dial_step", "#log-temperature_value"])
def test_a_gauge_in_another_field_logs_a_reading(page: Page, bench: Bench, place: str) -> None:
    open_with_stock(page, bench)
    page.locator(place).focus()
    page.evaluate(TYPED_BY_A_GAUGE, "0.6479")
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(page.locator(place)).to_have_value("")
    assert values(bench) == ["0.6480", "0.6479"]


def test_enter_presses_a_control_where_nothing_was_typed(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    page.locator("#log-value").fill("0.64")
    page.locator(".undo").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".entry-reading.is-struck")).to_have_count(1)
    expect(page.locator("#log-value")).to_have_value("0.64")


def test_the_fill_key_is_the_readings_alone_and_says_what_it_does(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    fill, value = page.locator("[data-key=fill]"), page.locator("#log-value")
    digits = fill.get_attribute("data-fill") or ""
    expect(fill).to_have_accessible_name(f"Fill in {digits}")
    page.locator("#log-temperature_value").focus()
    fill.click()
    expect(page.locator("#log-temperature_value")).to_have_value("")
    expect(value).to_have_value(digits)
    expect(fill).to_have_accessible_name("Clear")
    expect(fill).to_have_text("Clear")
    fill.click()
    expect(value).to_have_value("")
    expect(fill).to_have_text(f"{digits} …")
    value.fill("0.6479")
    expect(fill).to_have_accessible_name("Clear")
    page.locator(".send").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(fill).to_have_accessible_name(f"Fill in {fill.get_attribute('data-fill')}")


def test_the_focus_stays_where_the_work_is(page: Page, bench: Bench) -> None:
    bench.add_feature()
    open_with_stock(page, bench)
    page.reload()
    seen = page.locator("[data-dismiss]:visible")
    while seen.count():
        seen.first.focus()
        page.keyboard.press("Enter")
        assert page.evaluate(FOCUS) in ("BUTTON", "MAIN")
    type_reading(page, "0.6479")
    expect(page.locator(".entry-reading")).to_have_count(2)
    page.locator(".undo").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".is-struck")).to_have_count(1)
    expect(page.locator(".undo")).to_be_focused()
    page.locator(".strike summary").last.focus()
    page.keyboard.press("Enter")
    page.locator(".strike[open] input[type=text]").fill("slipped")
    page.keyboard.press("Enter")
    expect(page.locator(".is-struck")).to_have_count(2)
    expect(page.locator(".entry-line:focus")).to_have_count(1)
    page.locator(".tabs a", has_text="Seat").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".tabs [aria-current]")).to_contain_text("Seat")
    expect(page.locator(".tabs [aria-current]")).to_be_focused()
    expect(page).to_have_title("Seat at the lathe · Midlimit")


def test_a_touch_is_taken_back_by_keyboard(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    warm = page.locator("input[name=touch][value=warm]")
    warm.focus()
    page.keyboard.press("Space")
    expect(warm).to_be_checked()
    page.keyboard.press("Space")
    expect(warm).not_to_be_checked()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    expect(page.locator("input[name=touch][value=too_hot]")).to_be_checked()


def test_an_open_question_is_all_that_can_be_pressed(page: Page, bench: Bench) -> None:
    with_question(page, bench)
    ask = page.get_by_role("alertdialog")
    expect(ask).to_be_focused()
    expect(ask).to_have_attribute("aria-modal", "true")
    expect(ask).to_contain_text("0.9480 in")
    for _ in range(12):
        page.keyboard.press("Tab")
        where = "document.activeElement.closest('.ask, .row-of-words, body > .skip') !== null"
        assert page.evaluate(f"{where} || document.activeElement === document.body")
    page.keyboard.press("Escape")
    expect(ask).to_have_count(0)
    expect(page.locator("#log-value")).to_be_focused()
    expect(page.locator("#log-value")).to_have_value("0.9480")
    page.locator("[data-key=back]").click()
    expect(page.locator("#log-value")).to_have_value("0.948")


def test_what_is_read_out_keeps_its_parts_apart(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    said = page.locator("[data-live]").inner_text()
    for parts in (".landing-words", ".standing"):
        texts = [text.strip() for text in page.locator(f"{parts} > *").all_inner_texts()]
        assert len(texts) > 1
        assert ", ".join(" ".join(text.split()) for text in texts) in said
