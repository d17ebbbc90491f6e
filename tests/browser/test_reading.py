"""A person chooses in what to read, on their own page, and reads so everywhere."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.browser.conftest import SIZES, Site
from tests.browser.looks import fits


def choose(page: Page, **wanted: str) -> None:
    page.goto("/me")
    for name, value in wanted.items():
        page.locator(f"select[name={name}]").select_option(value)
    with page.expect_navigation():
        page.locator("form[action='/me/reading'] button").click()


def test_language_units_and_clock_are_chosen_on_ones_own_page_and_hold_on_status_and_room(site: Site) -> None:
    page = site.open("Mara")
    expect(page.locator(".tension p").first).to_contain_text("mbar")
    choose(page, language="de", tension_unit="kPa", volume_unit="gal", clock="12h")
    expect(page.get_by_role("heading", name="Sprache und Einheiten")).to_be_visible()
    page.goto("/")
    expect(page.locator("html")).to_have_attribute("lang", "de")
    expect(page.locator(".tension p").first).to_contain_text(re.compile(r"\d,\d–\d+,\d kPa"))
    expect(page.locator(".water .amount", has_text=re.compile(r"\d gal")).first).to_be_visible()
    expect(page.locator(".light span").first).to_contain_text(re.compile(r"\d+:\d\d AM–\d+:\d\d PM"))
    page.get_by_role("link", name="Room 3").first.click()
    expect(page.locator("#tension.drawn")).to_be_visible()
    expect(page.locator("#tension .title")).to_have_text("Saugspannung, kPa")
    area = page.get_by_role("application").first
    area.focus()
    area.press("End")
    area.press("ArrowLeft")
    expect(page.locator("#tension .told")).to_contain_text(re.compile(r"\d+,\d\d kPa"))
    expect(page.locator("#tension .told")).to_contain_text(re.compile(r"\d+:\d\d [AP]M"))
    for width, height in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        fits(page)


def test_without_a_script_the_same_is_read(site: Site) -> None:
    page = site.open("Otto", at="/me", scripts=False)
    choose(page, language="de", tension_unit="cbar")
    page.goto(f"/rooms/{site.scene.rooms['room-03']}")
    expect(page.locator("#tension .title")).to_have_text("Saugspannung, cbar")
