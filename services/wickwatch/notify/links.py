"""Links that open one alarm for one person without signing in: signed, and over after three days.

A link is made when a notice leaves, not when it is queued, so that nothing in the database opens an alarm. It names
person, alarm and end, and says nothing to anybody else. Not here: what may be done with one (`web.letter`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from uuid import UUID

from wickwatch.sealed import opened, seal
from wickwatch.store.notices import Claimed

#: How long a link holds from the moment its notice was queued. Chosen here: a weekend.
LASTS = timedelta(hours=72)

_UUID = "[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"

#: Two ids and a time: 16 + 16 + 5 octets.
_OCTETS = 37


@dataclass(frozen=True)
class Link:
    """What a link says: who may answer which alarm, until when."""

    person_id: UUID
    alarm_id: UUID
    until: datetime


def sign(secret_key: str, link: Link) -> str:
    """The last part of a link's address."""
    said = link.person_id.bytes + link.alarm_id.bytes + int(link.until.timestamp()).to_bytes(5, "big")
    return seal(secret_key, "link", said)


def read(secret_key: str, token: str) -> Link | None:
    """What a link says, None where it is not one of ours; the caller looks at its end."""
    octets = opened(secret_key, "link", token, _OCTETS)
    if octets is None:
        return None
    until = datetime.fromtimestamp(int.from_bytes(octets[32:], "big"), UTC)
    return Link(UUID(bytes=octets[:16]), UUID(bytes=octets[16:32]), until)


def personal(secret_key: str, base_url: str, notice: Claimed) -> Claimed:
    """The notice with every link to an alarm made its person's own; the same for every try.

    Without a key, or for nobody in particular, links stay as they are and ask for a sign-in.
    """
    person_id = notice.person_id
    if not secret_key or person_id is None:
        return notice
    until = notice.created_at + LASTS

    def own(found: re.Match[str]) -> str:
        return f"{base_url.rstrip('/')}/a/{sign(secret_key, Link(person_id, UUID(found[1]), until))}"

    pattern = re.compile(rf"{re.escape(base_url.rstrip('/'))}/alarms/({_UUID})(?![\w/-])")

    def changed(value: object) -> object:
        if isinstance(value, str):
            return pattern.sub(own, value)
        if isinstance(value, Mapping):
            return {key: changed(each) for key, each in value.items()}
        return [changed(each) for each in value] if isinstance(value, list) else value

    payload = {key: changed(value) for key, value in notice.payload.items()}
    return replace(notice, body=pattern.sub(own, notice.body), payload=payload)
