"""Calls that never arrived are shown with the reason to those who may know, and can be tried again."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest

from tests.integration.web.conftest import NOW, Site
from tests.integration.web.test_contacts import somebody
from tests.integration.web.test_pages import Seen, form_token
from wickwatch.store import contacts


def dead_letter(site: Site, name: str, alarm: str = "empty") -> UUID:
    """A call to somebody about an alarm of Birchwood that was refused for good."""
    with site.connect() as conn:
        who = site.scene.people[name]
        contact = contacts.add(conn, who, "webhook", "https://hooks.example.org/secret-path")
        row = conn.execute(
            "INSERT INTO notice (key, facility_id, alarm_id, person_id, contact_id, way, address, title, body, payload,"
            " created_at, due_at, expires_at, tries, state, done_at)"
            " VALUES (%(key)s, %(site)s, %(alarm)s, %(who)s, %(contact)s, 'webhook',"
            " 'https://hooks.example.org/secret-path', 'Now: reservoir empty, R3 east, Room 3', 'x', '{}', %(now)s,"
            " %(now)s, %(now)s, 2, 'dead', %(now)s) RETURNING id",
            {
                "key": f"k:{contact}",
                "site": site.scene.birchwood,
                "alarm": site.scene.alarms[alarm],
                "who": who,
                "contact": contact,
                "now": NOW,
            },
        ).fetchone()
        assert row is not None
        conn.execute("INSERT INTO notice_attempt VALUES (%s, 2, %s, false, '410 Gone')", (row[0], NOW))
    id: UUID = row[0]
    return id


def again(site: Site, name: str, letter: UUID) -> Any:
    browser = site.browser(name)
    token = form_token(browser.get("/me").text)
    return browser.post(f"/undelivered/{letter}/again", data={"form_token": token})


def line(site: Site, visitor: str, name: str) -> str:
    """What a visitor reads of the call to somebody; empty where it is not on the page."""
    lines = site.browser(visitor).get("/undelivered").text.split("<li>")
    return next((Seen(each).text for each in lines if f"to {name} by" in Seen(each).text), "")


def state(site: Site, letter: UUID) -> tuple[str, int]:
    with site.connect() as conn:
        row = conn.execute("SELECT state, tries FROM notice WHERE id = %s", (letter,)).fetchone()
    assert row is not None
    return row


def test_managers_and_the_person_called_see_why_and_where_it_would_have_gone(shown: Site) -> None:
    name = somebody(shown)
    dead_letter(shown, name)
    for visitor in ("Root", name):
        seen = line(shown, visitor, name)
        assert "410 Gone (tried 2 times)" in seen
        assert f"to {name} by webhook, https://hooks.example.org" in seen
        assert "secret-path" not in shown.browser(visitor).get("/undelivered").text
    assert "1 message could not be delivered in the last week." in Seen(shown.browser(name).get("/alarms").text).text
    for visitor in ("Otto", "Ines"):
        assert "Every message was delivered." in shown.browser(visitor).get("/undelivered").text
        assert "could not be delivered" not in shown.browser(visitor).get("/alarms").text


def test_trying_again_queues_it_at_once_and_keeps_its_tries(shown: Site) -> None:
    name = somebody(shown)
    letter = dead_letter(shown, name)
    assert again(shown, "Root", letter).status_code == 303
    assert state(shown, letter) == ("queued", 2)
    with shown.connect() as conn:
        row = conn.execute(
            "SELECT due_at, expires_at - due_at > '59 minutes' FROM notice WHERE id = %s", (letter,)
        ).fetchone()
    assert row == (NOW, True)
    assert line(shown, "Root", name) == ""
    assert again(shown, "Root", letter).status_code == 409


@pytest.mark.parametrize("why", ["answered", "removed", "disabled"])
def test_what_nobody_needs_any_more_cannot_be_tried_again(shown: Site, why: str) -> None:
    name = somebody(shown)
    letter = dead_letter(shown, name, alarm="wet" if why == "answered" else "empty")
    with shown.connect() as conn:
        if why == "removed":
            conn.execute("UPDATE contact SET removed_at = %s WHERE person_id = %s", (NOW, shown.scene.people[name]))
        if why == "disabled":
            conn.execute("UPDATE person SET disabled_at = %s WHERE name = %s", (NOW, name))
    seen = line(shown, "Root", name)
    assert "nobody needs it any more" in seen and "Try again" not in seen
    assert again(shown, "Root", letter).status_code == 409
    assert state(shown, letter)[0] == "dead"


def test_nobody_else_tries_it_again(shown: Site) -> None:
    letter = dead_letter(shown, somebody(shown))
    for visitor in ("Otto", "Ines"):
        assert again(shown, visitor, letter).status_code == 409
    assert shown.browser("Root").post(f"/undelivered/{letter}/again").status_code == 403
    assert state(shown, letter) == ("dead", 2)
