"""Every page in its longest words fits every screen, asks its own host only, and keeps to the policy it is sent with.

Its looks in light and in dark, and what is read without scripts, are `test_every_look.py`.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.browser.looks import unfold
from tests.browser.pages import NO_PAGES, fit, looked_at, paths, signed_in
from tests.integration.web.conftest import Site
from tests.integration.web.doors import knocks

pytestmark = pytest.mark.timeout(300)

#: Pages are shared out among so many tests, so that they run beside one another.
SHARES = 3


@pytest.fixture(scope="module")
def house(plain_server: str) -> Iterator[Site]:
    """A site that is only looked at."""
    with looked_at(plain_server) as site:
        yield site


def test_what_is_named_as_no_page_is_none(house: Site) -> None:
    asked, root = knocks(house, "Root"), house.browser("Root")
    for door in NO_PAGES:
        with root.stream("GET", asked[door].path) as answer:
            page = answer.status_code == 200 and answer.headers["content-type"].startswith("text/html")
            assert not page or door == "GET /reports/{id}/{name}", door


@pytest.mark.parametrize("share", range(SHARES))
def test_every_page_fits_every_screen_in_long_words_and_asks_nothing_of_anybody_else(
    house: Site, browser: Browser, share: int
) -> None:
    wrong: list[str] = []
    page = signed_in(house, browser, "Rhea", "de-DE")
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: said.extend([request.url] * (not request.url.startswith(house.address))))
    for path in paths(house)[share::SHARES]:
        said.clear()
        answer = page.goto(path)
        assert answer is not None and answer.headers["content-type"].startswith("text/html"), path
        assert answer.ok or path == "/nothing", path
        assert page.get_attribute("html", "lang") == "de", path
        unfold(page)
        expected = 1 if path == "/nothing" else 0  # a browser says itself that there is nothing
        wrong += [f"{path}: {each}" for each in (*fit(page), *said[expected:])]
    page.context.close()
    assert not wrong, "\n".join(wrong)
