"""A site with something of everything, behind a real server, for a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest
from playwright.sync_api import Browser, Page

from tests.builders.scene import Scene, scene
from tests.parts import browser as browser_part
from tests.parts.web import serving
from wickwatch.store import access, people

#: What people use: a phone, a desk, a screen on the wall.
SIZES = {390: 844, 1280: 900, 1920: 1080}


@dataclass(frozen=True)
class Site:
    """Where the pages are, and what is on them."""

    address: str
    database_url: str
    scene: Scene
    browser: Browser

    def open(self, name: str, width: int = 1280, at: str = "/", *, scripts: bool = True, scheme: str = "light") -> Page:
        """A page in a new profile, with somebody's session as signing in leaves it (which has tests of its own)."""
        context = self.browser.new_context(
            base_url=self.address,
            viewport={"width": width, "height": SIZES[width]},
            java_script_enabled=scripts,
            color_scheme="dark" if scheme == "dark" else "light",
            locale="en-GB",
        )
        with psycopg.connect(self.database_url, options="-c timezone=UTC") as conn:
            person = people.person_named(conn, name)
            secret = access.open_session(conn, person, "127.0.0.1", datetime.now(UTC), None)
        context.add_cookies([{"name": "wickwatch_session", "value": secret, "url": self.address}])
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.goto(at)
        return page


_STARTED = ExitStack()
_BROWSERS: list[Browser] = []


@pytest.fixture
def browser() -> Browser:
    """One browser for all tests here that follow one another; what each does in it is in contexts of its own."""
    if not _BROWSERS:
        _BROWSERS.append(_STARTED.enter_context(browser_part.running()))
    return _BROWSERS[0]


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page in a new profile."""
    context = browser.new_context(locale="en-GB", timezone_id="UTC")
    try:
        yield context.new_page()
    finally:
        context.close()


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(nextitem: pytest.Item | None) -> None:
    """End the browser when tests of another folder follow, which could not run beside it."""
    if nextitem is None or not nextitem.path.is_relative_to(Path(__file__).parent):
        _BROWSERS.clear()
        _STARTED.close()


@pytest.fixture
def site(plain_url: str, browser: Browser) -> Iterator[Site]:
    """The site; everything in it happened just now."""
    now = datetime.now(UTC)
    with psycopg.connect(plain_url, options="-c timezone=UTC") as conn:
        made = scene(conn, now, days=1.1)
    with serving(plain_url, lambda: datetime.now(UTC)) as address:
        opened = Site(address, plain_url, made, browser)
        yield opened
        for context in browser.contexts:
            context.close()
