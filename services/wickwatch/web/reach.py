"""How the caller is reached, for pages and programs alike: what to show, what may be added, and a test of one way.

Not here: contacts themselves (`store.contacts`), or sending (`notify`).
"""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.notify import vapid
from wickwatch.store import contacts as stored
from wickwatch.store import trial
from wickwatch.store.connect import Connection
from wickwatch.web.access import Call
from wickwatch.web.views import contacts as view

#: What a service ended is shown this long.
_ENDED = timedelta(days=30)


def send_test(conn: Connection, call: Call, contact_id: UUID) -> UUID:
    """Queue a test of one of the caller's contacts; returns the notice's id."""
    return trial.send(conn, call.person_id, call.name, contact_id, call.web.settings.base_url, call.now)


def may_add_urls(call: Call) -> bool:
    """Whether the caller may name addresses that this machine calls: managers, since these may lie inside the house."""
    return bool(call.where("name addresses to call"))


def shown(conn: Connection, call: Call, zone: ZoneInfo) -> view.Contacts:
    """The caller's contacts."""
    return view.contacts(
        stored.reaches(conn, call.person_id),
        stored.ended(conn, call.person_id, call.now - _ENDED),
        vapid.load(conn, call.web.settings.sender).public_key,
        may_add_urls(call),
        zone,
        call.now,
    )
