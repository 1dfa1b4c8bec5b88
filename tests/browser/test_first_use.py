"""A new user on an empty folder comes to the first reading by the guide."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Server

pytestmark = pytest.mark.xdist_group("browser")


def follow_the_guide(page: Page, server: Server) -> None:
    page.goto(server.url)
    page.get_by_role("link", name="Guided first part").click()
    page.wait_for_url("**/start")
    page.get_by_role("link", name="Work in inches instead").click()
    page.wait_for_url("**/start?unit=in")
    page.get_by_label("What the drawing says").fill("5/8-18 UNF-2A")
    page.get_by_role("button", name="Go to the lathe").click()
    expect(page.locator("#start-wire-problem")).to_contain_text("0.0321")
    expect(page.get_by_label("What the drawing says")).to_have_value("5/8-18 UNF-2A")
    page.locator("#start-wire").fill("0.032")
    page.get_by_role("button", name="Go to the lathe").click()
    page.wait_for_url("**/pieces/1/lathe")
    expect(page.locator("#main")).to_contain_text("Nothing logged on this feature yet")
    expect(page.locator("#log-value")).to_be_visible()


def test_from_an_empty_folder_to_the_first_reading(page: Page, server: Server) -> None:
    follow_the_guide(page, server)
    page.get_by_role("link", name="Help").click()
    page.wait_for_url("**/help#lathe")
    expect(page.get_by_role("heading", name="At the lathe")).to_be_in_viewport()


def test_the_guide_needs_no_script(browser: Browser, server: Server) -> None:
    context = browser.new_context(java_script_enabled=False)
    follow_the_guide(context.new_page(), server)
    context.close()
