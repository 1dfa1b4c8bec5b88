"""Whatever the link, the server and the browser do, a reading is kept, told, and stored once."""

from __future__ import annotations

import os
import re
import signal
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from tests.browser.conftest import Bench
from tests.browser.test_lathe_screen import open_with_stock, type_reading, values

pytestmark = pytest.mark.xdist_group("browser")
expect.set_options(timeout=20_000)

SIGN_IN = "<!doctype html><title>Sign in</title><main><p>Sign in to go on.</p></main>"
FULL = "Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }"
FORBIDDEN = """for (const name of ["localStorage", "sessionStorage"]) {
  Object.defineProperty(window, name, {
    get() { throw new DOMException("forbidden", "SecurityError"); },
  });
}"""


def another_piece(bench: Bench) -> Bench:
    piece = bench.server.post(f"/api/parts/{bench.part}/pieces", {})["id"]
    return Bench(bench.server, bench.part, bench.feature, piece)


def with_question(page: Page, bench: Bench) -> None:
    """A second reading that can hardly be true, with the question about it open."""
    open_with_stock(page, bench)
    type_reading(page, "0.9480")
    expect(page.locator(".ask")).to_be_visible()


def test_a_question_left_open_holds_up_no_other_piece(page: Page, bench: Bench) -> None:
    with_question(page, bench)
    other = another_piece(bench)
    page.goto(other.lathe_url)
    type_reading(page, "0.6478")
    expect(page.locator(".entry-reading")).to_have_count(1)
    type_reading(page, "0.6477")
    expect(page.locator(".entry-reading")).to_have_count(2)
    assert values(other) == ["0.6478", "0.6477"]
    page.locator("[data-waiting] a", has_text="0.9480 to settle: Test shaft Piece 1").click()
    page.get_by_role("button", name="Yes, that is what it reads").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
    assert values(bench) == ["0.6480", "0.9480"]


def test_a_stalled_server_is_told_within_a_second_or_so(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    assert bench.server.process is not None
    os.kill(bench.server.process.pid, signal.SIGSTOP)
    try:
        page.locator("h1 span").click()
        type_reading(page, "0.6479")
        strip = page.locator("[data-waiting]")
        expect(strip).to_contain_text("1 waiting: being sent", timeout=3000)
        expect(strip).to_contain_text("0.6479")
    finally:
        os.kill(bench.server.process.pid, signal.SIGCONT)
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(strip).to_be_hidden()
    assert values(bench) == ["0.6480", "0.6479"]


def test_a_request_without_an_answer_is_sent_again_with_the_same_key(
    page: Page, bench: Bench
) -> None:
    open_with_stock(page, bench)
    keys: list[str] = []

    def leave_first(route: Route) -> None:
        keys.append(parse_qs(route.request.post_data or "")["entry_key"][0])
        if len(keys) > 1:
            route.continue_()

    page.route("**/readings", leave_first)
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(page.locator(".entry-reading")).to_have_count(2, timeout=25_000)
    assert len(keys) == 2
    assert len(set(keys)) == 1
    assert values(bench) == ["0.6480", "0.6479"]


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (200, "something else answered"),
        (401, "not paired"),
        (403, "may not log"),
        (404, "something else answered"),
        (422, "something else answered"),
        (502, "could not save it"),
    ],
)
def test_an_answer_that_is_not_for_the_entry_leaves_it_waiting(
    page: Page, bench: Bench, status: int, words: str
) -> None:
    open_with_stock(page, bench)
    page.evaluate("window.isTheSamePage = true")
    page.route(
        "**/readings",
        lambda route: route.fulfill(status=status, content_type="text/html", body=SIGN_IN),
    )
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    strip = page.locator("[data-waiting]")
    expect(strip).to_contain_text(words)
    expect(strip).to_contain_text("0.6479")
    assert page.evaluate("window.isTheSamePage")
    page.unroute("**/readings")
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(strip).to_be_hidden()
    assert values(bench) == ["0.6480", "0.6479"]


@pytest.mark.parametrize("fault", [FULL, FORBIDDEN], ids=["full", "forbidden"])
def test_a_browser_that_keeps_nothing_says_so_and_still_sends(
    page: Page, bench: Bench, fault: str
) -> None:
    page.add_init_script(fault)
    open_with_stock(page, bench)
    page.route("**/readings", lambda route: route.abort())
    seen = page.locator("[data-dismiss]:visible").first
    caution = page.locator(".caution:visible").first.get_attribute("data-caution")
    seen.click()
    expect(page.locator(f"[data-caution={caution}]")).to_have_count(0)
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(page.locator("[data-waiting]")).to_contain_text("can't keep it")
    page.unroute("**/readings")
    expect(page.locator(".entry-reading")).to_have_count(2)
    assert values(bench) == ["0.6480", "0.6479"]


def test_a_tab_without_a_link_stays_and_logs_on(browser: Browser, bench: Bench) -> None:
    bench.add_feature()
    context = browser.new_context(service_workers="block")
    page = context.new_page()
    open_with_stock(page, bench)
    bench.server.stop()
    page.locator(".tabs a", has_text="Seat").click()
    strip = page.locator("[data-waiting]")
    expect(strip).to_contain_text("No link to the server")
    expect(page).to_have_url(bench.lathe_url)
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(strip).to_contain_text("1 waiting: no link to the server")
    bench.server.start()
    expect(page.locator(".entry-reading")).to_have_count(2)
    page.locator(".tabs a", has_text="Seat").click()
    expect(page.locator(".tabs [aria-current]")).to_contain_text("Seat")
    context.close()
    assert values(bench) == ["0.6480", "0.6479"]


def test_a_tab_without_a_link_shows_the_last_copy_and_keeps_what_is_typed(
    page: Page, bench: Bench
) -> None:
    bench.add_feature()
    page.goto(bench.lathe_url)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.goto(f"{bench.server.url}{page.locator('.tabs a').nth(1).get_attribute('href')}")
    page.goto(bench.lathe_url)
    page.locator("#log-value").fill("0.64")
    bench.server.stop()
    page.locator(".tabs a", has_text="Seat").click()
    expect(page.locator(".tabs [aria-current]")).to_contain_text("Seat")
    expect(page.locator("[data-waiting]")).to_contain_text("last copy")
    page.locator(".tabs a", has_text="Thread").click()
    expect(page.locator("#log-value")).to_have_value("0.64")
    bench.server.start()


def test_what_waits_is_told_on_other_pages_and_sent_from_there(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    page.route("**/readings", lambda route: route.abort())
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(page.locator("[data-waiting]")).to_contain_text("no link")
    page.goto(bench.server.url)
    line = page.locator("[data-waits]")
    expect(line).to_contain_text("One entry waits: sent when the link is back.")
    link = line.get_by_role("link", name="Test shaft Piece 1, Thread")
    expect(link).to_have_attribute("href", bench.lathe_url.removeprefix(bench.server.url))
    page.unroute("**/readings")
    expect(line).to_be_hidden()
    assert values(bench) == ["0.6480", "0.6479"]


def test_a_refused_entry_is_told_on_other_pages(page: Page, bench: Bench) -> None:
    with_question(page, bench)
    page.goto(bench.server.url)
    line = page.locator("[data-waits]")
    expect(line).to_contain_text("0.9480 was not stored: settle it at the lathe.")
    line.get_by_role("link").click()
    expect(page.locator(".ask")).to_be_visible()


def test_a_question_outlives_a_reload_and_is_answered(page: Page, bench: Bench) -> None:
    with_question(page, bench)
    asked = page.locator("#ask-words").inner_text()
    page.reload()
    expect(page.locator("#ask-words")).to_have_text(asked)
    expect(page.locator("#ask-words")).to_contain_text("0.9480 in")
    expect(page.locator("#log-value")).to_have_value("0.9480")
    page.get_by_role("button", name="Yes, that is what it reads").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(page.locator("[data-waiting]")).to_be_hidden()
    assert values(bench) == ["0.6480", "0.9480"]


def test_a_refused_value_outlives_a_reload_and_is_put_right(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    page.locator("#log-value").fill("0.64.80")
    page.locator(".send").click()
    problem = page.locator(".told .problems")
    expect(problem).to_contain_text("0.64.80")
    why = problem.inner_text()
    page.reload()
    expect(problem).to_have_text(why)
    expect(page.locator("#log-value")).to_have_value("0.64.80")
    page.locator("#log-value").fill("0.6479")
    page.locator(".send").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(problem).to_have_count(0)
    expect(page.locator("[data-waiting]")).to_be_hidden()
    assert values(bench) == ["0.6480", "0.6479"]


def test_a_refused_value_is_left_out_after_a_reload(page: Page, bench: Bench) -> None:
    with_question(page, bench)
    page.reload()
    page.get_by_role("button", name="Leave out 0.9480").click()
    expect(page.locator(".ask")).to_have_count(0)
    expect(page.locator("#log-value")).to_have_value("")
    type_reading(page, "0.6479")
    expect(page.locator(".entry-reading")).to_have_count(2)
    assert values(bench) == ["0.6480", "0.6479"]


def test_a_refused_cut_outlives_a_reload(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    page.get_by_text("A cut without a reading").click()
    page.locator("#pass-dial_step").fill("0.0.2")
    page.get_by_role("button", name="Log the cut").click()
    expect(page.locator("[data-waiting]")).to_contain_text("0.0.2")
    page.reload()
    expect(page.locator("[data-waiting]")).to_contain_text("0.0.2:")
    expect(page.locator("#pass-dial_step")).to_have_value("0.0.2")
    page.locator("#pass-dial_step").fill("0.002")
    page.get_by_role("button", name="Log the cut").click()
    expect(page.locator(".entry-pass")).to_have_count(1)
    expect(page.locator("[data-waiting]")).to_be_hidden()


def test_a_yes_is_for_the_value_asked_about(page: Page, bench: Bench) -> None:
    """Not for one that was typed while the first was on its way."""
    open_with_stock(page, bench)
    held: list[Route] = []
    page.route("**/readings", lambda route: held.append(route))
    page.locator("h1 span").click()
    type_reading(page, "0.9480")
    page.locator("#log-value").fill("0.6479")
    page.wait_for_timeout(200)
    held[0].continue_()
    page.unroute("**/readings")
    page.get_by_role("button", name="Yes, that is what it reads").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
    expect(page.locator("#log-value")).to_have_value("0.6479")
    assert values(bench) == ["0.6480", "0.9480"]


def test_a_gauge_under_an_open_question_takes_nobodys_place(page: Page, bench: Bench) -> None:
    with_question(page, bench)
    page.keyboard.type("0.6479", delay=200)
    page.keyboard.press("Enter")
    strip = page.locator("[data-waiting]")
    expect(strip).to_contain_text("0.6479")
    expect(strip).to_contain_text("0.9480")
    page.get_by_role("button", name="Yes, that is what it reads").click()
    expect(page.locator(".entry-reading")).to_have_count(3)
    assert values(bench) == ["0.6480", "0.9480", "0.6479"]


def test_two_pages_that_send_the_same_store_it_once(
    page: Page, context: BrowserContext, bench: Bench
) -> None:
    open_with_stock(page, bench)
    other = context.new_page()
    other.goto(bench.lathe_url)
    for each in (page, other):
        each.route("**/readings", lambda route: route.abort())
    for each, value in ((page, "0.6479"), (other, "0.6481")):
        each.locator("#log-value").fill(value)
        each.locator(".send").click()
    expect(page.locator("[data-waiting]")).to_contain_text("0.6481")
    for each in (page, other):
        each.unroute("**/readings")
    for each in (page, other):
        expect(each.locator(".entry-reading")).to_have_count(3)
        expect(each.locator("[data-waiting]")).to_be_hidden()
    assert values(bench) == ["0.6480", "0.6479", "0.6481"]


def test_a_reading_for_a_piece_that_was_finished_meanwhile_can_be_left_out(
    page: Page, bench: Bench
) -> None:
    open_with_stock(page, bench)
    page.route("**/readings", lambda route: route.abort())
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(page.locator("[data-waiting]")).to_contain_text("no link")
    finished = {"as": "scrap", "reason": "chattered", "initials": "AB"}
    bench.server.post(f"/api/pieces/{bench.piece}/finish", finished)
    page.unroute("**/readings")
    expect(page.locator("[data-waiting]")).to_contain_text("was finished as scrap")
    page.get_by_role("button", name="Leave out 0.6479").click()
    expect(page.locator("[data-waiting]")).to_be_hidden()
    assert values(bench) == ["0.6480"]


def test_what_an_earlier_script_kept_is_taken_over(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    page.route("**/readings", lambda route: route.abort())
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(page.locator("[data-waiting]")).to_contain_text("no link")
    page.evaluate("""() => {
      const name = Object.keys(localStorage).find((each) => each.startsWith("midlimit-entry "));
      const { order, at, page, place, ...entry } = JSON.parse(localStorage.getItem(name));
      localStorage.clear();
      localStorage.setItem("midlimit-outbox", JSON.stringify([entry]));
    }""")
    page.unroute("**/readings")
    page.reload()
    expect(page.locator(".entry-reading")).to_have_count(2)
    assert values(bench) == ["0.6480", "0.6479"]


def test_what_was_not_done_is_said_for_some_seconds(page: Page, bench: Bench) -> None:
    open_with_stock(page, bench)
    page.route(re.compile("/(undo|strike|setup)$"), lambda route: route.abort())
    strip = page.locator("[data-waiting]")
    page.locator(".undo").click()
    expect(strip).to_have_text("Not done: no link to the server.")
    expect(strip).to_have_attribute("role", "status")
    expect(strip).to_be_hidden(timeout=12_000)
    page.get_by_text("Slide and compound").click()
    page.get_by_role("button", name="It is set so").click()
    expect(strip).to_have_text("Not done: no link to the server.")
    page.unroute(re.compile("/(undo|strike|setup)$"))
    page.route("**/undo", lambda route: route.fulfill(status=500, body=SIGN_IN))
    page.locator(".undo").click()
    expect(strip).to_have_text("Not done: the server could not do it.")
    assert bench.readings()[0]["struck"] is None


def test_over_plain_http_it_says_to_keep_the_page_open(page: Page, bench: Bench) -> None:
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    open_with_stock(page, bench)
    page.route("**/readings", lambda route: route.abort())
    page.locator("h1 span").click()
    type_reading(page, "0.6479")
    expect(page.locator("[data-waiting]")).to_contain_text(
        "1 waiting: no link to the server: keep this page open"
    )
    page.unroute("**/readings")
    expect(page.locator(".entry-reading")).to_have_count(2)
