"""Attaching channels to what a fleet file says they measure, and ending that; all rows of a change at once.

Not here: attaching one channel from a page (`store.assignments`). A channel that was never heard is registered, so that
it is attached before its first reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, LiteralString

import psycopg
from psycopg.types.json import Jsonb

from wickwatch.agronomy.units import quantity
from wickwatch.errors import RefusedError
from wickwatch.fleet.declared import CHANNEL_FIELDS
from wickwatch.fleet.difference import Change
from wickwatch.store.connect import Connection
from wickwatch.texts import _

# The first channel that was attached where it is no earlier than the moment at which it shall leave.
_ATTACHED_LATER: LiteralString = """
SELECT c.name, lower(a.during)
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, channel text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
JOIN channel c ON c.facility_id = f.id AND c.name = g.channel
JOIN assignment a ON a.channel_id = c.id AND upper_inf(a.during)
WHERE lower(a.during) >= %(at)s
ORDER BY c.name LIMIT 1
"""

# Attachments end.
_DETACH: LiteralString = """
UPDATE assignment a SET during = tstzrange(lower(a.during), %(at)s)
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, channel text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
JOIN channel c ON c.facility_id = f.id AND c.name = g.channel
WHERE a.channel_id = c.id AND upper_inf(a.during)
"""

# Devices of channels that were never heard, so that they can be attached before their first reading.
_REGISTER_DEVICES: LiteralString = """
INSERT INTO device (facility_id, urn)
SELECT DISTINCT f.id, g.device
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, device text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
WHERE NOT EXISTS (SELECT FROM device d WHERE d.facility_id = f.id AND d.urn = g.device)
ORDER BY 1, 2
ON CONFLICT (facility_id, urn) DO NOTHING
"""

# The channels themselves; in the order of their names, as everybody inserts them, so that two never wait in a circle.
_REGISTER_CHANNELS: LiteralString = """
INSERT INTO channel (facility_id, device_id, name, quantity, unit)
SELECT f.id, d.id, g.channel, g.quantity, g.unit
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, device text, channel text, quantity text, unit text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
JOIN device d ON d.facility_id = f.id AND d.urn = g.device
WHERE NOT EXISTS (SELECT FROM channel c WHERE c.facility_id = f.id AND c.name = g.channel)
ORDER BY g.channel
ON CONFLICT (facility_id, name) DO NOTHING
RETURNING id
"""

# What an attachment is to, by id; the one of the four columns that its kind names.
_PLACED: LiteralString = """
WITH placed AS (
    SELECT g.channel, g.slug, g.quantity, g.twin, ch.id AS channel_id,
           CASE WHEN g.kind = 'container' THEN c.id END AS container_id,
           CASE WHEN g.kind = 'reservoir' THEN v.id END AS reservoir_id,
           CASE WHEN g.kind = 'line' THEN l.id END AS line_id,
           CASE WHEN g.kind = 'room' THEN r.id END AS room_id
    FROM jsonb_to_recordset(%(rows)s)
         AS g (facility text, room text, kind text, slug text, quantity text, twin boolean, channel text)
    JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
    JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
    JOIN channel ch ON ch.facility_id = f.id AND ch.name = g.channel
    LEFT JOIN container c ON g.kind = 'container' AND c.room_id = r.id AND c.slug = g.slug AND c.retired_at IS NULL
    LEFT JOIN reservoir v ON g.kind = 'reservoir' AND v.room_id = r.id AND v.slug = g.slug AND v.retired_at IS NULL
    LEFT JOIN supply_line l ON g.kind = 'line' AND l.room_id = r.id AND l.slug = g.slug AND l.retired_at IS NULL
)"""

# The first attachment asked for that overlaps one written already: of the same channel, or to the same subject.
_OVERLAPS: LiteralString = (
    _PLACED
    + """
SELECT p.channel, p.slug, other.name, lower(a.during), upper(a.during)
FROM placed p
JOIN assignment a ON a.during && tstzrange(%(at)s, NULL)
    AND (a.channel_id = p.channel_id
         OR (coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id)
                 = coalesce(p.container_id, p.reservoir_id, p.line_id, p.room_id)
             AND a.quantity = p.quantity AND a.twin = p.twin))
JOIN channel other ON other.id = a.channel_id
ORDER BY p.channel, lower(a.during) LIMIT 1
"""
)

# Channels are attached until further notice; new ones, where no moment was named, from their first reading on.
_ATTACH: LiteralString = (
    _PLACED
    + """
INSERT INTO assignment
    (channel_id, quantity, container_id, reservoir_id, line_id, room_id, twin, during, from_first_reading)
SELECT channel_id, quantity, container_id, reservoir_id, line_id, room_id, twin, tstzrange(%(at)s, NULL),
       channel_id = ANY (%(unheard)s)
FROM placed
"""
)


def detach(conn: Connection, changes: Sequence[Change], at: datetime) -> None:
    """End what these changes detach, at `at`. Raises RefusedError where one began no earlier."""
    if not changes:
        return
    asked = {"rows": Jsonb([_attachment(change) for change in changes]), "at": at}
    late = conn.execute(_ATTACHED_LATER, asked).fetchone()
    if late is not None:
        raise RefusedError(
            _(
                "%(channel)s is where it is since %(since)s and can't leave at %(at)s; "
                "what is written stays, give a later moment",
                channel=late[0],
                since=late[1].isoformat(),
                at=at.isoformat(),
            )
        )
    conn.execute(_DETACH, asked)


def attach(conn: Connection, changes: Sequence[Change], at: datetime, *, from_first_reading: bool = False) -> None:
    """Attach what these changes attach, from `at` on. Raises RefusedError where that overlaps what is written.

    With `from_first_reading` what was never heard is attached from its first reading on (`store.first_readings`).
    """
    if not changes:
        return
    asked = {"rows": Jsonb([_attachment(change) for change in changes]), "at": at}
    conn.execute(_REGISTER_DEVICES, asked)
    unheard = [row[0] for row in conn.execute(_REGISTER_CHANNELS, asked)]
    taken = conn.execute(_OVERLAPS, asked).fetchone()
    if taken is not None:
        channel, subject, other, since, until = taken
        was = _("%(subject)s had %(channel)s", subject=subject, channel=other)
        if other == channel:
            was = _("%(channel)s was attached elsewhere", channel=channel)
        raise RefusedError(
            _(
                "%(channel)s can't be attached to %(subject)s from %(at)s on: %(was)s "
                "from %(since)s until %(end)s; give a later moment",
                channel=channel,
                subject=subject,
                at=at.isoformat(),
                was=was,
                since=since.isoformat(),
                end=_("now") if until is None else until.isoformat(),
            )
        )
    try:
        conn.execute(_ATTACH, asked | {"unheard": unheard if from_first_reading else []})
    except psycopg.errors.ExclusionViolation as error:
        raise RefusedError(
            _("an attachment overlaps another one: %(message_detail)s", message_detail=error.diag.message_detail)
        ) from error


def _attachment(change: Change) -> dict[str, Any]:
    place, measured = change.place, CHANNEL_FIELDS[change.place.kind][change.field]
    room = place.slug if place.kind == "room" else place.room
    return {
        "facility": place.facility,
        "room": room,
        "kind": place.kind,
        "slug": place.slug,
        "quantity": measured,
        "twin": change.field == "twin",
        "channel": change.channel,
        "device": change.channel.rpartition(":")[0],
        "unit": quantity(measured).stored_unit,
    }
