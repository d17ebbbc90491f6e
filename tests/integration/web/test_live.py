"""The stream of events by which pages learn that something changed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest

from tests.integration.web.conftest import Site, later
from tests.integration.web.test_pages import form_token
from wickwatch.web import live


@pytest.fixture(autouse=True)
def _brisk(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look ten times as often, so that no test waits."""
    monkeypatch.setattr(live, "LOOK_S", 0.2)
    monkeypatch.setattr(live, "BEAT_S", 1.0)


@contextmanager
def _events(browser: httpx.Client, query: str = "", last: str = "") -> Iterator[Iterator[tuple[str, str]]]:
    """Events as they come: name and data."""
    headers = {"Accept": "text/event-stream"} | ({"Last-Event-ID": last} if last else {})
    with browser.stream("GET", f"/live?{query}", headers=headers, timeout=20) as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert "content-encoding" not in answer.headers
        lines = answer.iter_lines()

        def read() -> Iterator[tuple[str, str]]:
            name = ""
            for line in lines:
                if line.startswith("event: "):
                    name = line.removeprefix("event: ")
                elif line.startswith("data: "):
                    yield name, line.removeprefix("data: ")

        yield read()


def test_a_page_is_told_that_somebody_answered_an_alarm_and_of_nothing_else(site: Site) -> None:
    browser = site.browser("Mara")
    with _events(browser) as events:
        name, seen = next(events)
        assert name == "changed"
        assert next(events)[0] == "beat", "nothing changed since"
        path = f"/alarms/{site.scene.alarms['drift']}"
        browser.post(f"{path}/acknowledge", data={"form_token": form_token(browser.get(path).text)})
        name, now = next(event for event in events if event[0] == "changed")
        assert now != seen
    with _events(browser, last=now) as events:
        assert next(events)[0] == "beat", "it was told of that already"
    with _events(browser, query=f"seen={now}") as events:
        assert next(events)[0] == "beat"


def test_new_readings_are_told_to_pages_that_show_rooms_only(site: Site) -> None:
    browser = site.browser("Mara")
    with _events(browser, "of=rooms") as rooms, _events(browser) as others:
        next(rooms), next(others)
        later(site, seconds=61)
        assert next(event for event in rooms if event[0] == "changed")
        assert next(others)[0] == "beat"


def test_a_stream_tells_nobody_of_another_facility(site: Site) -> None:
    mara, ines = site.browser("Mara"), site.browser("Ines")
    with _events(ines) as events:
        next(events)
        path = f"/alarms/{site.scene.alarms['drift']}"
        mara.post(f"{path}/acknowledge", data={"form_token": form_token(mara.get(path).text)})
        assert {next(events)[0] for _ in range(2)} == {"beat"}


def test_a_stream_tells_when_the_watching_stops(site: Site) -> None:
    with _events(site.browser("Mara")) as events:
        next(events)
        with site.connect() as conn:
            conn.execute("UPDATE heartbeat SET at = now() - interval '10 minutes' WHERE part = 'watch'")
        assert next(event for event in events if event[0] == "changed")


def test_a_stream_tells_nothing_new_to_who_reads_another_language(site: Site) -> None:
    """What a page shows is told apart by its words: a banner in German is no news to who read it in German."""
    with site.connect() as conn:
        conn.execute("UPDATE person SET language = 'de' WHERE name = 'Mara'")
        conn.execute("DELETE FROM heartbeat WHERE part = 'watch'")
    browser = site.browser("Mara")
    page = browser.get("/").text
    assert "Niemand überwacht" in page
    seen = page.partition("seen=")[2].partition('"')[0]
    with _events(browser, query=f"of=rooms&seen={seen}") as events:
        assert next(events)[0] == "beat"


def test_who_is_not_signed_in_hears_nothing(shown: Site) -> None:
    answer = shown.visitor(Accept="text/event-stream").get("/live")
    assert answer.status_code in (303, 401)


def test_a_stream_ends_by_itself_so_that_who_lost_a_role_is_found_out(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "LASTS_S", 1.0)
    with _events(site.browser("Mara")) as events:
        assert len(list(events)) < 5
