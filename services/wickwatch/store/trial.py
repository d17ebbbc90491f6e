"""A notice that only tries a way out: "send me a test". It goes through the outbox as any call does.

Not here: how it is sent, or how its result is shown (`store.contacts`).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch.errors import InputError
from wickwatch.store.connect import Connection
from wickwatch.store.notices import QUEUED
from wickwatch.texts import N_, PLAIN, _, speaking

#: After this long a test tells nothing any more.
WORTH_SENDING = timedelta(minutes=15)

#: Pressing twice within this sends one.
ONCE_IN = timedelta(seconds=10)

TITLE = N_("Test: Wickwatch reaches you here")

# A test of one contact of a person, in the first facility that the person sees.
_QUEUE: LiteralString = """
INSERT INTO notice (key, facility_id, person_id, contact_id, way, address, title, body, plain_title, plain_body,
    payload, created_at, due_at, expires_at, purpose)
SELECT %(key)s, f.id, c.person_id, c.id, c.way, c.address, %(title)s, %(body)s, %(plain_title)s, %(plain_body)s,
    %(payload)s, %(now)s, %(now)s, %(until)s, 'test'
FROM contact c
JOIN membership m ON m.person_id = c.person_id
JOIN facility f ON (f.id = m.facility_id OR m.facility_id IS NULL) AND f.retired_at IS NULL
WHERE c.id = %(contact)s AND c.person_id = %(person)s AND c.removed_at IS NULL
ORDER BY f.slug LIMIT 1
ON CONFLICT (key) DO NOTHING
RETURNING id
"""

_FIND: LiteralString = "SELECT id FROM notice WHERE key = %s"

# Sent at commit.
_NOTIFY: LiteralString = "SELECT pg_notify(%s, '')"

# How a test went, with the reason of its last try.
_RESULT: LiteralString = """
SELECT n.state, (SELECT t.detail FROM notice_attempt t WHERE t.notice_id = n.id ORDER BY t.try DESC LIMIT 1)
FROM notice n WHERE n.id = %s
"""


def send(conn: Connection, person_id: UUID, name: str, contact_id: UUID, base_url: str, now: datetime) -> UUID:
    """Queue a test of one contact, in words for whoever is spoken to; returns the notice's id.

    Raises InputError where the person has no such contact.
    """
    key = f"test:{int(now.timestamp() // ONCE_IN.total_seconds())}:{contact_id}"
    page = f"{base_url.rstrip('/')}/me"
    with speaking(PLAIN):
        plain_title, plain_body = _(TITLE), _body(name, page)
    values = {
        "key": key,
        "person": person_id,
        "contact": contact_id,
        "title": _(TITLE),
        "body": _body(name, page),
        "plain_title": plain_title,
        "plain_body": plain_body,
        "payload": Jsonb({"link": page}),
        "now": now,
        "until": now + WORTH_SENDING,
    }
    row = conn.execute(_QUEUE, values).fetchone() or conn.execute(_FIND, (key,)).fetchone()
    if row is None:
        raise InputError(_("contact"), str(contact_id), _("a contact of somebody who has a role in a facility"))
    conn.execute(_NOTIFY, (QUEUED,))
    id: UUID = row[0]
    return id


def _body(name: str, page: str) -> str:
    paragraphs = [
        _("This is a test, asked for by %(name)s. Calls will reach you here.", name=name),
        _("Nothing is wrong and there is nothing to do."),
        _("How you are reached:") + f"\n{page}\n",
    ]
    return "\n\n".join(paragraphs)


def result(conn: Connection, notice_id: UUID) -> tuple[str, str]:
    """State of a test and what its last try led to."""
    row = conn.execute(_RESULT, (notice_id,)).fetchone()
    assert row is not None
    return row[0], row[1] or ""
