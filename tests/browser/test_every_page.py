"""Every page of the application as people see it: on a phone, at a desk and on the wall, in light and in dark.

Which pages there are is not written down here: each address that answers with HTML is one (`doors.py`).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.conftest import SIZES
from tests.browser.looks import misfits, violations
from tests.integration.web.conftest import Site, opened
from tests.integration.web.doors import knocks
from tests.integration.web.test_doors import visitor
from wickwatch.web.permits import DOORS

pytestmark = pytest.mark.timeout(600)

#: Pages are shared out among so many tests, so that they run beside one another.
SHARES = 4


#: Neither is a page: a stream without an end, and a document that has tests of its own.
NO_PAGES = ("GET /live", "GET /reports/{id}/{name}")


@pytest.fixture(scope="module")
def house(shared_plain_url: str) -> Iterator[Site]:
    """One site that is only looked at."""
    with opened(shared_plain_url) as site:
        yield site


@pytest.fixture(scope="module")
def paths(house: Site) -> dict[str, str]:
    """Every page by what it is, as whoever administers all opens it; and what some show if asked otherwise."""
    site = house
    asked = knocks(site, visitor(site, "Somebody at home", "grower").name)
    root = site.browser("Root")
    found = {}
    for door in DOORS:
        if not door.startswith("GET ") or door in NO_PAGES:
            continue
        with root.stream("GET", asked[door].path) as answer:
            if answer.headers.get("content-type", "").startswith("text/html") and answer.status_code == 200:
                found[door] = asked[door].path
    more = [f"/alarms?show={show}" for show in ("shelved", "explained", "out-of-service", "history")]
    more += [
        "/?text=zzz",
        "/?state=quiet",
        "/wall?look=dark",
        "/nothing",
        "/health?reason=quantity",
        "/set-up/birchwood/rules",
    ]
    more += [f"/rooms/{site.scene.rooms['room-03']}?span=7d", f"/alarms/{site.scene.alarms['empty']}"]
    return found | {path: path for path in more}


def signed_in(site: Site, browser: Browser, **context: object) -> BrowserContext:
    """A new profile of a browser in which Root is signed in."""
    made = browser.new_context(base_url=site.address, locale="en-GB", **context)  # type: ignore[arg-type]
    session = site.browser("Root").cookies["wickwatch_session"]
    made.add_cookies([{"name": "wickwatch_session", "value": session, "url": site.address}])
    return made


def test_the_pages_are_those_that_people_use(paths: dict[str, str]) -> None:
    assert len(paths) > 45
    for door in ("GET /", "GET /wall", "GET /rooms/{id}", "GET /alarms", "GET /a/{token}", "GET /audit", "GET /me"):
        assert door in paths
    assert "GET /healthz" not in paths


@pytest.mark.parametrize("share", range(SHARES))
def test_every_page_fits_every_screen_is_accessible_and_is_read_without_scripts(
    house: Site, browser: Browser, paths: dict[str, str], share: int
) -> None:
    wrong: list[str] = []
    scripted = signed_in(house, browser)
    plain = signed_in(house, browser, java_script_enabled=False, viewport={"width": 390, "height": SIZES[390]})
    page, read = scripted.new_page(), plain.new_page()
    for path in list(paths.values())[share::SHARES]:
        found: list[str] = []
        page.emulate_media(color_scheme="light")
        page.goto(path)
        for details in page.locator("details").all():
            details.evaluate("each => { each.open = true }")
        for width, height in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            found += [f"at {width}: {each}" for each in misfits(page)]
            if width == 390:  # what axe looks at is the same for all; where targets are smallest, it sees most
                found += [f"at {width}: {each}" for each in violations(page)]
        page.emulate_media(color_scheme="dark")
        found += [f"dark: {each}" for each in violations(page, "color-contrast")]
        read.goto(path)
        expect(read.get_by_role("heading", level=1)).to_be_visible()
        found += [f"without scripts: {each}" for each in misfits(read)]
        wrong += [f"{path}: {each}" for each in found]
    scripted.close()
    plain.close()
    assert not wrong, "\n".join(wrong)
