"""A device that chose German: the job in German, nothing cut off, and axe-core finds nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Bench
from tests.browser.pictures import SIZES, take
from tests.browser.test_everyone import Scheme, axe_faults, screens, with_readings
from tests.browser.test_lathe_screen import PHONE, SMALL, TAP, type_reading

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)


def choose_german(page: Page, bench: Bench) -> None:
    page.goto(f"{bench.server.url}/shop")
    page.get_by_role("button", name="Deutsch").click()
    expect(page.locator("html")).to_have_attribute("lang", "de")


def test_a_device_chooses_german_and_the_next_reading_answers_in_it(
    page: Page, bench: Bench
) -> None:
    choose_german(page, bench)
    page.goto(bench.lathe_url)
    type_reading(page, "0.6480")
    expect(page.locator(".entry-reading")).to_have_count(1)
    expect(page.locator(".say")).to_contain_text("zustellen")
    expect(page.locator(".stamp")).to_have_text(re.compile("Aufmaß"))
    expect(page.locator(".why")).not_to_have_text("")
    bench.server.stop()
    type_reading(page, "0.6479")
    expect(page.locator("[data-waiting]")).to_contain_text("1 ausstehend: keine Verbindung")
    bench.server.start()
    expect(page.locator(".entry-reading")).to_have_count(2)
    page.get_by_role("link", name="Verlauf").click()
    expect(page.locator("h1")).to_contain_text("Stück 1")


def test_the_same_reading_is_told_in_two_languages_at_once(browser: Browser, bench: Bench) -> None:
    with_readings(bench)
    said = []
    for locale in ("en-GB", "de-AT"):
        context = browser.new_context(locale=locale)
        page = context.new_page()
        page.goto(bench.lathe_url)
        said.append(page.locator(".stamp").inner_text().strip())
        context.close()
    assert said == ["Stock left", "Aufmaß"]


@pytest.mark.parametrize("size", SIZES)
def test_no_german_word_is_cut_off(
    browser: Browser, bench: Bench, tmp_path: Path, size: str
) -> None:
    with_readings(bench)
    paths = {f"screen-{number}": path for number, path in enumerate(screens(bench))}
    expected = {
        name: 404 if "no-such" in path else 422
        for name, path in paths.items()
        if "no-such" in path or "7A" in path
    }
    url = bench.server.url
    assert take(browser, url, paths, tmp_path, [size], ["light"], False, expected, "de") == []


def test_german_keys_are_large_enough_on_a_telephone(page: Page, bench: Bench) -> None:
    choose_german(page, bench)
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(bench.lathe_url)
    type_reading(page, "0.6480")
    expect(page.locator(".headline-number")).to_be_visible()
    assert page.evaluate(SMALL, TAP) == []
    box = page.locator(".pad").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= PHONE["height"]


@pytest.mark.parametrize(("size", "scheme"), [("tall", "light"), ("phone", "dark")])
def test_axe_finds_nothing_in_german(
    browser: Browser, bench: Bench, size: str, scheme: Scheme
) -> None:
    assert axe_faults(browser, bench, SIZES[size], scheme, "de-DE") == []
