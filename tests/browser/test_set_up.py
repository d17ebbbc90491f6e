"""The guide from an empty database to the first watched room, by the keyboard alone, with and without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID

import psycopg
import pytest
from playwright.sync_api import Browser, expect

from tests.browser.conftest import Site
from tests.browser.keys import follow, to, write
from tests.browser.looks import accessible, fits
from tests.builders import place
from tests.builders.scene import PASSWORD, Scene
from tests.parts.web import serving
from wickwatch.store import people

pytestmark = pytest.mark.timeout(300)

NOBODY = UUID(int=0)


@pytest.fixture
def bare(plain_url: str, browser: Browser) -> Iterator[Site]:
    """A database with nothing in it but its first administrator."""
    with psycopg.connect(plain_url, options="-c timezone=UTC") as conn:
        people.add_person(conn, "Root", "administrator", None, PASSWORD)
    with serving(plain_url, lambda: datetime.now(UTC)) as address:
        yield Site(address, plain_url, Scene(NOBODY, NOBODY, {}, {}, {}), browser)
        for context in browser.contexts:
            context.close()


def heard(site: Site) -> None:
    """A probe that is heard for the first time."""
    now = datetime.now(UTC)
    with psycopg.connect(site.database_url, options="-c timezone=UTC") as conn:
        row = conn.execute("SELECT id FROM facility").fetchone()
        assert row is not None
        place.gateway(conn, row[0], heard_at=now)
        channel = place.channel(conn, row[0])
        place.readings(
            conn, channel, place.series(now, timedelta(days=1), timedelta(minutes=10), place.wavy(100, 9.0, 1))
        )


@pytest.mark.parametrize(("width", "scripts"), [(390, False), (1280, True), (1920, True)])
def test_from_an_empty_database_to_the_first_watched_room_by_the_keyboard_alone(
    bare: Site, width: int, scripts: bool
) -> None:
    page = bare.open("Root", width, scripts=scripts)

    def look() -> None:
        fits(page)
        if width == 1280:  # what a checker sees does not depend on the width
            accessible(page)

    follow(page, "Set it up here, step by step")
    write(page, Name="Birchwood House", Time_zone="Europe/Oslo")
    look()
    follow(page, "Add the facility")
    expect(page.get_by_role("heading", level=1)).to_have_text("Birchwood House")
    look()
    follow(page, "Add a room: A room and its light")
    write(page, Name="Room 3")
    fits(page)
    follow(page, "Add the room")
    follow(page, "Next: add a reservoir")
    write(page, Name="East tank", Inner_diameter="580", Inner_height="900", Outlet="40", Water_needed="30")
    write(page, Water_stands_at="450", You_poured_in="120")
    if not scripts:
        to(page, "Work it out")
        page.keyboard.press("Enter")
    expect(page.get_by_text("That fits what you poured in, 120 l.")).to_be_visible()
    look()
    follow(page, "Add the reservoir")
    follow(page, "Next: add a supply line")
    write(page, Name="Loop")
    follow(page, "Add the supply line")
    follow(page, "Next: add a container")
    write(page, Name="Pot", Holds="20", Medium="coir", How_many_of_them="3")
    fits(page)
    follow(page, "Add the container")
    expect(page.get_by_text("The room stands.")).to_be_visible()
    look()
    heard(bare)
    follow(page, "See what comes next")
    follow(page, "Channels: Probes are attached")
    look()
    follow(page, "Attach ")
    fits(page)
    follow(page, "Pot 02")
    look()
    follow(page, "Attach it")
    expect(page.get_by_text("Every channel that was heard is attached.")).to_be_visible()
    page.goto("/")
    expect(page.get_by_role("heading", level=3).first).to_have_text("Room 3")
    page.goto("/set-up/birchwood-house/fleet-file")
    expect(page.get_by_text('slug = "pot-02"')).to_be_visible()
    look()
