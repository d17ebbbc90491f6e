"""Every page of the application as people see it: on a phone, at a desk and on the wall, in light and in dark.

Which pages there are is not written down: every address that is asked for with GET is one, unless it is named here.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.conftest import SIZES
from tests.browser.looks import misfits, unfold, violations
from tests.integration.web.conftest import Site, opened
from tests.integration.web.doors import knocks
from wickwatch.store import people, readers
from wickwatch.web.permits import DOORS
from wickwatch.web.problems import for_programs

pytestmark = pytest.mark.timeout(600)

#: Every rule at a phone and at a desk, and colours by day and by night.
LOOKS: tuple[tuple[int, Literal["light", "dark"]], ...] = ((390, "light"), (1280, "dark"))

#: Pages are shared out among so many tests, so that they run beside one another.
SHARES = 6

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


@pytest.fixture(scope="module")
def house(plain_server: str) -> Iterator[Site]:
    """One site that is only looked at: by Root in English, and by Rhea in German, whose words are longer."""
    with opened(plain_server) as site:
        with site.connect() as conn:
            rhea = people.add_person(conn, "Rhea", "administrator", None, None)
            conn.execute("UPDATE facility SET language = 'de'")  # who follows a link reads as the facility has it
            readers.choose(conn, rhea, readers.Chosen("de", "kPa", "gal", "12h"))
            readers.choose(conn, site.scene.people["root"], readers.Chosen("en", "mbar", "l", "24h"))
        yield site


@pytest.fixture(scope="module")
def pages(house: Site) -> dict[str, str]:
    """Where each page is shown, by its address in the table."""
    asked = knocks(house, "Rhea")
    doors = (door for door in DOORS if door.startswith("GET ") and not for_programs(door.removeprefix("GET ")))
    return {door: asked[door].path for door in doors if door not in NO_PAGES}


@pytest.fixture(scope="module")
def paths(house: Site, pages: dict[str, str]) -> list[str]:
    """Every page, and what some show if they are asked otherwise."""
    room, alarm = house.scene.rooms["room-03"], house.scene.alarms["empty"]
    return [*pages.values(), *ALSO, f"/rooms/{room}?span=7d", f"/alarms/{alarm}"]


def signed_in(site: Site, browser: Browser, name: str, locale: str, *, scripts: bool = True) -> BrowserContext:
    """A new profile of a browser in which somebody is signed in."""
    made = browser.new_context(base_url=site.address, locale=locale, java_script_enabled=scripts)
    session = site.browser(name).cookies["wickwatch_session"]
    made.add_cookies([{"name": "wickwatch_session", "value": session, "url": site.address}])
    return made


def fit(page: Page) -> Iterator[str]:
    """What does not fit on any of the screens."""
    for width, height in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        yield from (f"at {width}: {each}" for each in misfits(page))


def test_what_is_named_as_no_page_is_none(house: Site) -> None:
    asked, root = knocks(house, "Root"), house.browser("Root")
    for door in NO_PAGES:
        with root.stream("GET", asked[door].path) as answer:
            page = answer.status_code == 200 and answer.headers["content-type"].startswith("text/html")
            assert not page or door == "GET /reports/{id}/{name}", door


@pytest.mark.parametrize("share", range(SHARES))
def test_every_page_fits_every_screen_is_accessible_and_asks_nothing_of_anybody_else(
    house: Site, browser: Browser, paths: list[str], share: int
) -> None:
    wrong: list[str] = []
    context = signed_in(house, browser, "Root", "en-GB")
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: said.extend([request.url] * (not request.url.startswith(house.address))))
    for path in paths[share::SHARES]:
        said.clear()
        page.emulate_media(color_scheme="light")
        answer = page.goto(path)
        assert answer is not None and answer.headers["content-type"].startswith("text/html"), path
        unfold(page)
        found = list(fit(page))
        for width, scheme in LOOKS:
            page.set_viewport_size({"width": width, "height": SIZES[width]})
            page.emulate_media(color_scheme=scheme)
            found += [f"at {width}, {scheme}: {each}" for each in violations(page)]
        wrong += [f"{path}: {each}" for each in (*found, *said)]
    context.close()
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("share", range(2))
def test_every_page_fits_every_screen_in_longer_words_and_is_read_without_scripts(
    house: Site, browser: Browser, pages: dict[str, str], share: int
) -> None:
    wrong: list[str] = []
    context = signed_in(house, browser, "Rhea", "de-DE", scripts=False)
    page = context.new_page()
    for path in list(pages.values())[share::2]:
        page.goto(path)
        unfold(page)
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        expect(page.locator("html")).to_have_attribute("lang", "de")
        wrong += [f"{path}: {each}" for each in fit(page)]
    context.close()
    assert not wrong, "\n".join(wrong)
