"""A report asked for, made and read in a real browser."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Site
from tests.browser.looks import accessible
from wickwatch.report.process import fulfil
from wickwatch.store.connect import connect

pytestmark = pytest.mark.timeout(300)


def test_a_report_is_asked_for_made_and_read_and_everybody_can_read_it(site: Site) -> None:
    page = site.open("Root", 390)
    refused: list[str] = []
    page.on("console", lambda message: refused.append(message.text))
    page.goto("/reports?facility=birchwood")
    year, week, _ = datetime.now(UTC).isocalendar()
    page.get_by_label("Week").fill(f"{year:04}-W{week:02}")
    page.get_by_role("button", name="Make it").click()
    expect(page.get_by_role("status")).to_contain_text("waiting to be made")
    with connect(site.database_url, "test", autocommit=True) as conn:
        assert fulfil(conn, site.database_url, site.address)
    page.reload()
    page.get_by_role("link", name="Read it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Birchwood House, week {year:04}-W{week:02}")
    expect(page.get_by_role("heading", name="Room 3", exact=True)).to_be_visible()
    picture = page.get_by_role("img", name="Median tension in mbar by day").first
    assert picture.evaluate("(image) => image.complete && image.naturalWidth > 100")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    accessible(page)
    assert refused == []
