"""Every page on a phone by day and at a desk by night, by axe, and read without scripts: `make looks`, for its minutes.

Axe's rules do not depend on the language; fits in longer words are `test_every_page.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.conftest import SIZES
from tests.browser.looks import misfits, unfold, violations
from tests.browser.pages import fit, looked_at, paths, signed_in
from tests.integration.web.conftest import Site

pytestmark = pytest.mark.timeout(600)

#: Every rule at a phone and at a desk, and colours by day and by night.
LOOKS: tuple[tuple[int, Literal["light", "dark"]], ...] = ((390, "light"), (1280, "dark"))

#: Pages are shared out among so many tests, so that they run beside one another.
SHARES = 6


@pytest.fixture(scope="module")
def house(plain_server: str) -> Iterator[Site]:
    """A site that is only looked at."""
    with looked_at(plain_server) as site:
        yield site


@pytest.mark.parametrize("share", range(SHARES))
def test_every_page_is_accessible_fits_every_screen_and_is_read_without_scripts(
    house: Site, browser: Browser, share: int
) -> None:
    wrong: list[str] = []
    page = signed_in(house, browser, "Root", "en-GB")
    plain = signed_in(house, browser, "Root", "en-GB", scripts=False)
    plain.set_viewport_size({"width": 390, "height": SIZES[390]})
    for path in paths(house)[share::SHARES]:
        page.goto(path)
        unfold(page)
        found = list(fit(page))
        for width, scheme in LOOKS:
            page.set_viewport_size({"width": width, "height": SIZES[width]})
            page.emulate_media(color_scheme=scheme)
            found += [f"at {width}, {scheme}: {each}" for each in violations(page)]
        plain.goto(path)
        expect(plain.get_by_role("heading", level=1)).to_be_visible()
        found += [f"without scripts: {each}" for each in misfits(plain)]
        wrong += [f"{path}: {each}" for each in found]
    page.context.close()
    plain.context.close()
    assert not wrong, "\n".join(wrong)
