"""The room page in a real browser: from asking for it until its charts can be read to the digit."""

from __future__ import annotations

import statistics
import time
from datetime import UTC, datetime

import psycopg
from playwright.sync_api import Page

from tests.benchmarks import Figure
from tests.benchmarks.page import PASSWORD, serving
from tests.builders import events, scale
from tests.parts import browser, databases, timescale
from tests.parts.postgres import running
from tests.parts.process import wait_until
from wickwatch.store import people

POTS = 24
VISITS = 10

_DRAWN = "performance.getEntriesByName('charts-drawn')[0]?.startTime"
_PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


def run(scale_: float) -> list[Figure]:
    """Milliseconds until the server's drawing is seen, and until the script's can be used."""
    pots = max(1, int(POTS * scale_))
    with running(timescale.binaries()) as server, databases.migrated(server.url()) as url:
        now = datetime.now(UTC)
        with psycopg.connect(url) as conn:
            facility = scale.facility(conn, now, 1, pots, 1, fine=2 * 288, coarse=8 * 24)
            people.add_person(conn, "Mara", "grower", None, PASSWORD)
            events.alive(conn, [facility], now)
            row = conn.execute("SELECT id FROM room").fetchone()
            assert row is not None
        with serving(url) as port, browser.running() as chromium:
            page = chromium.new_context(base_url=f"http://127.0.0.1:{port}").new_page()
            page.goto("/sign-in")
            page.get_by_label("Name").fill("Mara")
            page.get_by_label("Password").fill(PASSWORD)
            page.get_by_role("button", name="Sign in").click()
            used = time.process_time()
            visits = [_visit(page, f"/rooms/{row[0]}?span=7d") for _ in range(VISITS)]
            used = (time.process_time() - used) / VISITS
    on = f"{pots} containers, 7 days, Chromium without a graphics card"
    return [
        Figure("room page, drawn by the server, first visit", visits[0][0], "ms", on),
        Figure("room page, drawn by the script, first visit", visits[0][1], "ms", on),
        Figure("room page, drawn by the script, median", statistics.median(v[1] for v in visits[1:]), "ms", on),
        Figure("room page, drawn by the script, slowest", max(v[1] for v in visits), "ms", on),
        Figure("room page, processor time of the server", used * 1000, "ms", f"{on}; a visit, asking included"),
    ]


def _visit(page: Page, path: str) -> tuple[float, float]:
    page.goto(path)
    # The pages' policy forbids the browser to evaluate text, as waiting inside of it would.
    wait_until(lambda: page.evaluate(f"Boolean({_DRAWN} && {_PAINTED})"), "the charts to be drawn")
    return page.evaluate(_PAINTED), page.evaluate(_DRAWN)
