"""Which pages there are: every address that is asked for with GET, unless it is named here as none."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Page

from tests.browser.conftest import SIZES
from tests.browser.looks import misfits
from tests.integration.web.conftest import Site, opened
from tests.integration.web.doors import knocks
from wickwatch.store import people, readers
from wickwatch.web.permits import DOORS
from wickwatch.web.problems import for_programs

#: For what a browser asks that no person looks at as a page of the application.
NO_PAGES = {
    "GET /static/{version}/{path}": "a part of pages",
    "GET /worker.js": "a program",
    "GET /live": "a stream without an end",
    "GET /rooms/{id}/values": "numbers for a script",
    "GET /alarms/{id}/values": "numbers for a script",
    "GET /rooms/{id}/values.csv": "a file",
    "GET /audit.csv": "a file",
    "GET /set-up/{slug}/fleet.toml": "a file",
    "GET /rota/{secret}.ics": "a file",
    "GET /reports/{id}/{name}": "a document, which has tests of its own",
    "GET /sign-in/openid": "the way to a provider",
    "GET /sign-in/openid/back": "the way back from it",
}

#: What pages show besides, asked otherwise.
ALSO = (
    *(f"/alarms?show={show}" for show in ("shelved", "explained", "out-of-service", "history")),
    *("/?text=zzz", "/?state=quiet", "/wall?look=dark", "/nothing", "/health?reason=quantity"),
    "/set-up/birchwood/rules?room=room-03&container=pot-01",
)


@contextmanager
def looked_at(server: str) -> Iterator[Site]:
    """One site that is only looked at: by Root in English, and by Rhea in German, whose words are longer."""
    with opened(server) as site:
        with site.connect() as conn:
            rhea = people.add_person(conn, "Rhea", "administrator", None, None)
            conn.execute("UPDATE facility SET language = 'de'")  # who follows a link reads as the facility has it
            readers.choose(conn, rhea, readers.Chosen("de", "kPa", "gal", "12h"))
            readers.choose(conn, site.scene.people["root"], readers.Chosen("en", "mbar", "l", "24h"))
        yield site


def paths(site: Site) -> list[str]:
    """Where each page is shown, and what some show if they are asked otherwise."""
    asked = knocks(site, "Rhea")
    doors = (door for door in DOORS if door.startswith("GET ") and not for_programs(door.removeprefix("GET ")))
    room, alarm = site.scene.rooms["room-03"], site.scene.alarms["empty"]
    pages = [asked[door].path for door in doors if door not in NO_PAGES]
    return [*pages, *ALSO, f"/rooms/{room}?span=7d", f"/alarms/{alarm}"]


def signed_in(site: Site, browser: Browser, name: str, locale: str, *, scripts: bool = True) -> Page:
    """A page in a new profile of a browser in which somebody is signed in."""
    made = browser.new_context(base_url=site.address, locale=locale, java_script_enabled=scripts)
    session = site.browser(name).cookies["wickwatch_session"]
    made.add_cookies([{"name": "wickwatch_session", "value": session, "url": site.address}])
    return made.new_page()


def fit(page: Page) -> Iterator[str]:
    """What does not fit on any of the screens."""
    for width, height in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        yield from (f"at {width}: {each}" for each in misfits(page))
