"""Each task that people have on the pages, done with a keyboard alone; the guide of the set-up has its own test."""

from __future__ import annotations

from datetime import UTC, datetime

import psycopg
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import SIZES, Site
from tests.browser.keys import follow, press, write
from tests.builders import place
from tests.builders.scene import PASSWORD
from wickwatch.store import quarantine
from wickwatch.store.quarantine import Quarantined

pytestmark = pytest.mark.timeout(300)


def _signed_in(site: Site, width: int) -> Page:
    page = site.browser.new_context(base_url=site.address, locale="en-GB").new_page()
    page.set_viewport_size({"width": width, "height": SIZES[width]})
    page.set_default_timeout(20_000)
    page.goto("/sign-in")
    write(page, Name="Root", Password=PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(site.address + "/")
    return page


@pytest.mark.parametrize("width", SIZES)
def test_rooms_are_found_alarms_answered_and_work_recorded(site: Site, width: int) -> None:
    page = _signed_in(site, width)
    write(page, **{"with": "r3 east"})
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=3)).to_have_text(["Room 3"])
    follow(page, "Alarms")
    press(page, "Tick all shown", "Space")
    write(page, Note="on my way")
    press(page, "Acknowledge those ticked")
    expect(page.get_by_text("3 alarms acknowledged.")).to_be_visible()
    follow(page, "R3 east in Room 3 is empty")
    press(page, "Set it aside for a while")
    write(page, Why="waits for a part")
    press(page, "Shelve")
    press(page, "Take it off the shelf now")
    expect(page.get_by_text("Set it aside for a while")).to_be_visible()
    page.goto(f"/rooms/{site.scene.rooms['room-03']}")
    write(page, What_you_did="Refilled the reservoir", To_what="R3 east", Note="60 l, by can")
    press(page, "Record")
    expect(page.locator(".life li").first).to_contain_text("Refilled the reservoir: R3 east")
    press(page, "Take something out of service")
    write(page, Why="new emitter")
    press(page, "Take out of service")
    expect(page.locator("#service").get_by_role("button", name="Back in service")).to_be_visible()
    follow(page, "7 days")
    press(page, "Pot 04")
    expect(
        page.get_by_role("navigation", name="Show one container alone").get_by_role("link", name="Pot 04")
    ).to_have_attribute("aria-current", "true")


@pytest.mark.parametrize("width", SIZES)
def test_a_house_is_changed_and_its_people_are_looked_after(site: Site, width: int) -> None:
    with psycopg.connect(site.database_url, options="-c timezone=UTC") as conn:
        now = datetime.now(UTC)
        spare = place.channel(conn, site.scene.birchwood)
        place.readings(conn, spare, [(now, 100.0)])
        topic = "wickwatch/1/birchwood/gw-01/senml"
        quarantine.add(conn, [Quarantined(now, site.scene.birchwood, topic, b"[]", "not-senml", "", 1)])
    page = _signed_in(site, width)
    page.goto("/set-up/birchwood/channels")
    heard = page.locator("main li code").inner_text()
    follow(page, "Attach ")
    write(page, Room="Room 1")
    press(page, "Show")
    follow(page, "Pot 02")
    press(page, "Attach it")
    expect(page.locator("main li code")).not_to_have_text(heard)  # what it took the place of is free now
    page.goto("/set-up/birchwood/rules?room=room-01")
    write(page, Dry_limit="170")
    press(page, "Save")
    expect(page.get_by_text("Saved.")).to_be_visible()
    page.goto("/set-up/birchwood/people")
    write(page, Name="Zoe", Role="viewer")
    press(page, "Add the person")
    expect(page.get_by_role("heading", name="The link for Zoe")).to_be_visible()
    write(page, For_whom="Ines")
    press(page, "Make an invitation")
    expect(page.get_by_role("heading", name="The invitation for Ines")).to_be_visible()
    page.goto("/me")
    write(page, Address="root@example.org")
    press(page, "Add it")
    expect(page.get_by_text("root@example.org")).to_be_visible()
    page.goto("/health?reason=not-senml")
    press(page, "Try all of these again")
    expect(page.get_by_text("1 refused pack tried again")).to_be_visible()
    page.goto("/me")
    follow(page, "Sign out")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
