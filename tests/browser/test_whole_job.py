"""The main job from the drawing to the printed history, as a person does it in the browser."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import TABLET, Bench, Server, crib

pytestmark = pytest.mark.xdist_group("browser")


def open_part(page: Page, server: Server) -> None:
    """A part, its thread, and a piece, all through the pages."""
    crib(server)
    page.goto(server.url)
    page.get_by_label("What the drawing calls it").fill("Pump shaft")
    page.get_by_label("Material").fill("carbon steel")
    page.locator("#part-unit").select_option("in")
    page.get_by_role("button", name="Open the part").click()
    page.wait_for_url("**/parts/*")
    page.locator("#feature-designation").fill("5/8-18 UNF-2A")
    page.locator("#feature-label").fill("Impeller thread")
    page.locator("#feature-kind").select_option("external_thread")
    page.locator("#feature-method").select_option("over_wires")
    page.locator("#feature-wire").fill("0.032")
    page.locator("#feature-slide").select_option("compound")
    page.locator("form[action$='/features'] button.main").click()
    page.wait_for_load_state()
    page.locator("form[action$='/pieces'] button").first.click()
    page.wait_for_url("**/pieces/*/lathe**")


def log(page: Page, value: str, *, step: str = "", touch: str = "", degrees: str = "") -> None:
    """One reading, and the wait for its answer."""
    before = page.locator("#lathe").get_attribute("data-seq")
    if step:
        page.locator("#log-dial_step").fill(step)
    if touch:
        page.locator(f"input[name=touch][value={touch}]").check(force=True)
    if degrees:
        page.locator("#log-temperature_value").fill(degrees)
    page.locator("#log-value").fill(value)
    page.locator("#log .send").click()
    page.wait_for_function(
        "seq => document.querySelector('#lathe')?.dataset.seq !== seq", arg=before
    )


def do_the_job(page: Page) -> None:
    log(page, "0.6480", degrees="68")
    expect(page.locator(".stamp")).to_contain_text("Stock left")
    log(page, "0.6375", step="0.0060", touch="too_hot")
    log(page, "0.6369", degrees="68")
    log(page, "0.6339", step="0.0020", degrees="68")
    wrong = page.locator(".entry-reading").first
    expect(wrong).to_contain_text("0.6339")  # the list is painted after the advice
    wrong.locator("summary").click()
    wrong.locator("input[name=reason]").fill("chip under the anvil")
    wrong.get_by_role("button", name="Strike it").click()
    expect(page.locator(".is-struck").first).to_contain_text("chip under the anvil")
    log(page, "0.6331", degrees="68")
    expect(page.locator(".stamp")).to_contain_text("In limits")


def finish(page: Page) -> None:
    page.get_by_text("Finish the piece").first.click()
    page.locator("#finish-initials").fill("RT")
    page.locator("form.finish button.main").click()
    page.wait_for_url("**/history")
    expect(page.locator("body")).to_contain_text("Finished: good")


def check_csv(text: str) -> None:
    rows = list(csv.DictReader(io.StringIO(text)))
    readings = [row for row in rows if row["type"] == "reading"]
    assert [row["value"] for row in readings] == ["0.6480", "0.6375", "0.6369", "0.6339", "0.6331"]
    assert [row["struck_reason"] for row in readings].count("chip under the anvil") == 1
    assert [row["temperature"] for row in readings][1] == "too_hot"
    assert readings[-1]["verdict"] == "in_limits"


def test_a_thread_from_drawing_to_history(page: Page, server: Server, tmp_path: Path) -> None:
    page.goto(f"{server.url}/targets")
    page.locator("#card-form input[name=unit][value=in]").check(force=True)
    page.get_by_label("What the drawing says").fill("5/8-18 UNF-2A")
    expect(page.locator("#card")).to_contain_text("0.5875")  # ASME B1.1
    open_part(page, server)
    do_the_job(page)
    finish(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="CSV").click()
    target = tmp_path / "history.csv"
    download.value.save_as(target)
    check_csv(target.read_text())


def test_the_same_job_without_javascript(browser: Browser, server: Server) -> None:
    context = browser.new_context(viewport=TABLET, java_script_enabled=False)
    page = context.new_page()
    open_part(page, server)
    for value, fields in (
        ("0.6480", {"temperature_value": "68"}),
        ("0.6375", {"dial_step": "0.0060", "touch": "too_hot"}),
        ("0.6369", {"temperature_value": "68"}),
        ("0.6331", {"dial_step": "0.0022", "temperature_value": "68"}),
    ):
        for name, text in fields.items():
            if name == "touch":
                page.locator(f"input[name=touch][value={text}]").check(force=True)
            else:
                page.locator(f"#log-{name}").fill(text)
        page.locator("#log-value").fill(value)
        page.locator("#log .send").click()
        page.wait_for_load_state()
        expect(page.locator(".entry-reading").first).to_contain_text(value)
    expect(page.locator(".stamp")).to_contain_text("In limits")
    page.locator("details.drawer", has_text="Finish the piece").locator("summary").click()
    page.locator("#finish-initials").fill("RT")
    page.locator("form.finish button.main").click()
    expect(page.locator("body")).to_contain_text("Finished: good")
    context.close()


def test_a_gauge_that_types_logs_every_value(page: Page, bench: Bench) -> None:
    """Digits and Enter come as a burst from any focus; none is lost, none is logged twice."""
    page.goto(bench.lathe_url)
    page.locator("h1 span").click()
    values = ["0.6480", "0.6481", "0.6480"]
    for value in values:
        page.keyboard.type(value)
        page.keyboard.press("Enter")
    expect(page.locator(".entry-reading")).to_have_count(len(values), timeout=10_000)
    assert [entry["value"] for entry in bench.readings()] == values


def test_a_wrong_reading_keeps_what_was_typed(page: Page, bench: Bench) -> None:
    page.goto(bench.lathe_url)
    page.locator("#log-value").fill("0.64.80")
    page.locator("#log .send").click()
    expect(page.locator("#log [role=alert]")).to_contain_text("0.64.80")
    expect(page.locator("#log-value")).to_have_value("0.64.80")
    assert bench.readings() == []


def test_an_unlikely_reading_is_asked_about_once(page: Page, bench: Bench) -> None:
    page.goto(bench.lathe_url)
    log(page, "0.6480", degrees="68")
    page.locator("#log-dial_step").fill("0.0030")
    page.locator("#log-value").fill("0.6180")
    page.locator("#log .send").click()
    asked = page.locator("[role=alertdialog]")
    expect(asked).to_contain_text("0.0")
    assert len(bench.readings()) == 1
    asked.get_by_role("button", name="Yes, that is what it reads").click()
    expect(page.locator(".entry-reading")).to_have_count(2)
