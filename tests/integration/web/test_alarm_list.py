"""The list of alarms: its parts, its filters, and acknowledging several at once without a script."""

from __future__ import annotations

import re

import pytest

from tests.integration.web.conftest import Site
from tests.integration.web.test_pages import Seen, form_token


def _listed(site: Site, query: str, name: str = "Mara") -> list[str]:
    page = site.browser(name).get(f"/alarms?{query}").text
    return [line.strip() for line in re.findall(r'<div><p><a href="/alarms/[0-9a-f-]{36}">([^<]*)</a>', page)]


def test_the_parts_of_the_list_hold_each_alarm_once_the_most_urgent_first(shown: Site) -> None:
    active = _listed(shown, "")
    assert [line.partition(" is ")[0] for line in active[:2]] == ["R3 east in Room 3", "Pot 02 in Room 7"]
    assert active[-1].startswith("Pot 04 in Room 6"), "somebody has it"
    assert len(active) == 4
    assert len(_listed(shown, "show=explained")) == 4
    assert _listed(shown, "show=shelved") == _listed(shown, "show=out-of-service") == []
    assert "Explained 4" in Seen(shown.browser("Mara").get("/alarms").text).text


@pytest.mark.parametrize(
    ("query", "count"),
    [
        ("kind=drying-drift", 1),
        ("priority=high", 2),
        ("priority=high&kind=drying-drift", 0),
        ("text=ROOM 8", 1),
        ("facility=birchwood", 4),
        ("facility=saltmarsh", 0),
        ("text=%25", 0),
        ("kind=nonsense", 4),
    ],
)
def test_filters_narrow_the_list(shown: Site, query: str, count: int) -> None:
    assert len(_listed(shown, query, "Root")) == count


@pytest.mark.parametrize(
    ("query", "count"),
    [("text=vernässung", 1), ("text=raum 8", 0), ("text=dry limit", 1), ("text=vernässung&show=history", 0)],
)
def test_a_text_is_found_as_its_reader_sees_it_and_as_it_is_stored(site: Site, query: str, count: int) -> None:
    with site.connect() as conn:
        conn.execute("UPDATE person SET language = 'de' WHERE name = 'Mara'")
    assert len(_listed(site, query)) == count


def test_several_are_acknowledged_at_once_and_those_that_could_not_be_are_named(site: Site) -> None:
    browser = site.browser("Mara")
    page = browser.get("/alarms").text
    assert page.count('name="alarm"') == 3
    alarms = site.scene.alarms
    browser.post(f"/alarms/{alarms['drift']}/acknowledge", data={"form_token": form_token(page)})
    chosen = [str(alarms[name]) for name in ("empty", "drift", "silent")] + ["nonsense"]
    answer = browser.post("/alarms?show=active", data={"form_token": form_token(page), "alarm": chosen, "note": "all"})
    seen = Seen(answer.text).text
    assert "2 alarms acknowledged. 2 alarms could not be:" in seen
    assert "past its dry limit of 180 mbar. Mara has it nonsense" in seen
    with site.connect() as conn:
        states = dict(conn.execute("SELECT state, count(*) FROM alarm GROUP BY state").fetchall())
    assert states["acknowledged"] == 4
    assert "None was ticked" in browser.post("/alarms", data={"form_token": form_token(page)}).text


def test_nothing_of_another_facility_and_nothing_without_the_role_is_acknowledged(site: Site) -> None:
    alarm = str(site.scene.alarms["empty"])
    for name, said in (("Ines", "there is no such alarm"), ("Otto", "this needs the role grower")):
        browser = site.browser(name)
        token = form_token(browser.get("/alarms").text)
        answer = browser.post("/alarms", data={"form_token": token, "alarm": [alarm]})
        assert said in answer.text.lower()
        assert browser.post("/alarms", data={"alarm": [alarm]}).status_code == 403
    assert 'type="checkbox"' not in site.browser("Otto").get("/alarms").text
    with site.connect() as conn:
        assert conn.execute("SELECT state FROM alarm WHERE id = %s", (alarm,)).fetchone() == ("unacknowledged",)
