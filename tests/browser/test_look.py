"""What the screens look like where that is easily lost: columns, sizes, one legend, paper."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import TABLET, Bench
from tests.browser.test_everyone import with_readings
from tests.browser.test_lathe_screen import LOW, PHONE

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)

PAPER_PX = {"A4": (210 - 18) / 25.4 * 96, "Letter": (215.9 - 18) / 25.4 * 96}  # between margins
PAST_THE_COLUMN = """() => [...document.querySelectorAll('.log-table')].map(
  table => table.getBoundingClientRect().right
    - table.closest('.record-feature').getBoundingClientRect().right)"""
FONT = "e => parseFloat(getComputedStyle(e).fontSize)"


def read(bench: Bench, feature: int, count: int, touch: str = "warm") -> None:
    for number in range(count):
        body = {
            "feature_id": feature,
            "value": f"{25.6 - 0.1 * number:.3f}",
            "unit": "mm",
            "temperature": {"touch": touch},
            "entry_key": f"look-{bench.piece}-{feature}-{number}",
            "confirm": True,
        }
        step = {"dial_step": "0.004", "dial_step_unit": "in"} if number else {}
        bench.server.post(f"/api/pieces/{bench.piece}/readings", body | step)


def test_a_long_list_of_passes_stands_in_columns_where_there_is_room(
    page: Page, bench: Bench
) -> None:
    card = f"{bench.server.url}/targets?designation=Tr40x7-7e&unit=mm&passes=24"
    left = "[...new Set([...document.querySelectorAll('.schedule tbody tr')].map(" + (
        "e => Math.round(e.getBoundingClientRect().left)))]"
    )
    page.goto(card)
    assert len(page.evaluate(left)) == 2
    assert page.locator(".schedule").evaluate("e => e.scrollWidth <= e.clientWidth")
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    assert len(page.evaluate(left)) == 1


def test_an_error_says_its_sentence_larger_than_its_number(page: Page, bench: Bench) -> None:
    page.goto(f"{bench.server.url}/parts/99999")
    number = page.locator(".wrong-number").evaluate(FONT)
    assert page.locator(".wrong h1").evaluate(FONT) > number
    assert page.locator(".wrong h1 + p").evaluate(FONT) > number


def test_a_history_explains_its_marks_once(page: Page, bench: Bench) -> None:
    read(bench, bench.add_feature("Seat", unit="mm"), 2)
    with_readings(bench)
    page.goto(f"{bench.server.url}/pieces/{bench.piece}/history")
    expect(page.locator(".plot-wide")).to_have_count(2)
    expect(page.locator(".legend")).to_have_count(1)
    for word in ("reading with its doubt", "struck", "Settled", "Drifting", "Wait"):
        expect(page.locator(".legend")).to_contain_text(word)
    assert page.locator(".legend svg").count() == 3


@pytest.mark.parametrize("count", [2, 6])
def test_a_printed_table_stays_in_its_column(page: Page, bench: Bench, count: int) -> None:
    for label in ("Seat", "Collar", "Journal"):
        read(bench, bench.add_feature(label, unit="mm"), count)
    page.set_viewport_size(TABLET)  # type: ignore[arg-type]
    page.goto(f"{bench.server.url}/pieces/{bench.piece}/history")
    page.emulate_media(media="print")
    for width in PAPER_PX.values():
        page.evaluate(
            "wide => { document.querySelector('main').style.width = `${wide}px`; }", width
        )
        past = page.evaluate(PAST_THE_COLUMN)
        assert len(past) == 3
        assert max(past) <= 1.5


def test_a_few_lines_use_the_breadth_of_the_sheet(page: Page, bench: Bench) -> None:
    for label in ("Seat", "Collar", "Journal"):
        read(bench, bench.add_feature(label, unit="mm"), 2)
    page.goto(f"{bench.server.url}/pieces/{bench.piece}/history")
    page.emulate_media(media="print")
    sheet = page.locator(".record").evaluate("e => e.clientWidth")
    for each in page.locator(".record-feature").all():
        assert each.evaluate("e => e.clientWidth") == sheet


def test_paper_has_no_buttons(page: Page, bench: Bench) -> None:
    with_readings(bench)
    page.emulate_media(media="print")
    for path in (bench.lathe_url, f"{bench.server.url}/pieces/{bench.piece}/history"):
        page.goto(path)
        assert page.locator(":is(.button, button):visible").count() == 0


def test_a_check_that_is_due_is_set_off_by_a_comma(page: Page, bench: Bench) -> None:
    bench.server.post(
        "/api/instruments",
        {
            "name": f"Due {bench.piece}",
            "kind": "micrometer",
            "unit": "in",
            "resolution": "0.0001",
            "due": "2027-03-26",
        },
    )
    page.goto(f"{bench.server.url}/crib")
    line = page.locator(".tool", has_text=f"Due {bench.piece}")
    expect(line).to_contain_text("zero not checked, due 26 March 2027")


@pytest.mark.parametrize("size", [TABLET, LOW, PHONE], ids=str)
def test_before_the_first_reading_the_limits_and_the_aim_are_read(
    page: Page, bench: Bench, size: dict[str, int]
) -> None:
    page.set_viewport_size(size)  # type: ignore[arg-type]
    page.goto(bench.lathe_url)
    facts = page.locator(".first-facts")
    expect(facts).to_contain_text("0.5828 to 0.5875")
    expect(facts).to_contain_text("Aim over 0.0320 wires")
    if size != PHONE:
        gap = page.evaluate(
            "document.querySelector('.ladders').getBoundingClientRect().top"
            " - document.querySelector('.first-facts').getBoundingClientRect().bottom"
        )
        assert 0 <= gap < 90
    box = page.locator(".touches").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= size["height"]
