"""Calls that never arrived are shown with the reason to those who may know, and can be tried again."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest

from tests.integration.web.conftest import NOW, Site
from tests.integration.web.test_pages import Seen, form_token
from wickwatch.store import contacts


def dead_letter(site: Site, person: str = "mara", alarm: str = "empty") -> UUID:
    """A call about an alarm of Birchwood that was refused for good."""
    with site.connect() as conn:
        who = site.scene.people[person]
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
        conn.execute(
            "INSERT INTO notice_attempt VALUES (%s, 2, %s, false, '410 Gone')",
            (row[0], NOW),
        )
    id: UUID = row[0]
    return id


def again(site: Site, name: str, letter: UUID) -> Any:
    browser = site.browser(name)
    token = form_token(browser.get("/me").text)
    return browser.post(f"/undelivered/{letter}/again", data={"form_token": token})


def state(site: Site) -> tuple[str, int]:
    with site.connect() as conn:
        row = conn.execute("SELECT state, tries FROM notice").fetchone()
    assert row is not None
    return row


def test_managers_and_the_person_called_see_why_and_where_it_would_have_gone(site: Site) -> None:
    dead_letter(site)
    for name in ("Root", "Mara"):
        seen = Seen(site.browser(name).get("/undelivered").text)
        assert "410 Gone (tried 2 times)" in seen.text
        assert "to Mara by webhook, https://hooks.example.org" in seen.text
        assert "secret-path" not in seen.text
        assert "1 call could not be delivered in the last week." in Seen(site.browser(name).get("/alarms").text).text
    for name in ("Otto", "Ines"):
        assert "Every call was delivered." in site.browser(name).get("/undelivered").text
        assert "could not be delivered" not in site.browser(name).get("/alarms").text


def test_trying_again_queues_it_at_once_and_keeps_its_tries(site: Site) -> None:
    letter = dead_letter(site)
    assert again(site, "Root", letter).status_code == 303
    assert state(site) == ("queued", 2)
    with site.connect() as conn:
        assert conn.execute("SELECT due_at, expires_at - due_at > '59 minutes' FROM notice").fetchone() == (NOW, True)
    assert "Every call was delivered." in site.browser("Root").get("/undelivered").text
    assert again(site, "Root", letter).status_code == 409


@pytest.mark.parametrize("why", ["answered", "removed", "disabled"])
def test_what_nobody_needs_any_more_cannot_be_tried_again(site: Site, why: str) -> None:
    letter = dead_letter(site, alarm="wet" if why == "answered" else "empty")
    with site.connect() as conn:
        if why == "removed":
            conn.execute("UPDATE contact SET removed_at = %s", (NOW,))
        if why == "disabled":
            conn.execute("UPDATE person SET disabled_at = %s WHERE name = 'Mara'", (NOW,))
    page = site.browser("Root").get("/undelivered").text
    assert "nobody needs it any more" in page and "Try again" not in page
    assert again(site, "Root", letter).status_code == 409
    assert state(site)[0] == "dead"


def test_nobody_else_tries_it_again(site: Site) -> None:
    letter = dead_letter(site)
    for name in ("Otto", "Ines"):
        assert again(site, name, letter).status_code == 409
    assert site.browser("Root").post(f"/undelivered/{letter}/again").status_code == 403
    assert state(site) == ("dead", 2)
