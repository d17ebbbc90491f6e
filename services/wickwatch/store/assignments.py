"""Attaching one channel to what it measures, from when on, and ending that; as a page or a program asks.

Not here: what a whole fleet file attaches (`store.fleet_attach`). What is written is never changed but for the open
end of what is in force: that ends when the next begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import LiteralString
from uuid import UUID

import psycopg

from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet import QUANTITIES_OF
from wickwatch.store.connect import Connection
from wickwatch.texts import _

# A channel: its facility and quantity.
_CHANNEL: LiteralString = "SELECT facility_id, quantity FROM channel WHERE id = %s"

# The facility of a subject in use, whatever its type.
_SUBJECT: LiteralString = """
SELECT r.facility_id FROM (
    SELECT 'container' AS type, id, room_id FROM container WHERE retired_at IS NULL
    UNION ALL SELECT 'reservoir', id, room_id FROM reservoir WHERE retired_at IS NULL
    UNION ALL SELECT 'line', id, room_id FROM supply_line WHERE retired_at IS NULL
    UNION ALL SELECT 'room', id, id FROM room WHERE retired_at IS NULL
) AS subject JOIN room r ON r.id = subject.room_id
WHERE subject.type = %s AND subject.id = %s
"""

# What is in force for a channel: its subject, whether as a twin, and since when.
_IN_FORCE: LiteralString = """
SELECT coalesce(container_id, reservoir_id, line_id, room_id), twin, lower(during)
FROM assignment WHERE channel_id = %s AND upper_inf(during)
"""

# The channel in force for a subject, and since when.
_HOLDER: LiteralString = """
SELECT channel_id, lower(during) FROM assignment
WHERE coalesce(container_id, reservoir_id, line_id, room_id) = %s AND quantity = %s AND twin = %s AND upper_inf(during)
"""

# The channels in force for subjects by name, those that count.
_HOLDERS: LiteralString = """
SELECT coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id), c.name
FROM assignment a JOIN channel c ON c.id = a.channel_id
WHERE coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id) = ANY (%s) AND a.quantity = %s AND NOT a.twin
  AND upper_inf(a.during)
"""

# What is in force for a channel ends.
_END: LiteralString = """
UPDATE assignment SET during = tstzrange(lower(during), %s) WHERE channel_id = %s AND upper_inf(during)
"""

# A channel is attached until further notice.
_ATTACH: LiteralString = """
INSERT INTO assignment (channel_id, quantity, container_id, reservoir_id, line_id, room_id, twin, during)
SELECT %(channel)s, %(quantity)s,
       CASE WHEN %(type)s = 'container' THEN %(subject)s::uuid END,
       CASE WHEN %(type)s = 'reservoir' THEN %(subject)s::uuid END,
       CASE WHEN %(type)s = 'line' THEN %(subject)s::uuid END,
       CASE WHEN %(type)s = 'room' THEN %(subject)s::uuid END,
       %(twin)s, tstzrange(%(since)s, NULL)
"""


def attach(
    conn: Connection, channel_id: int, subject_type: str, subject_id: UUID, since: datetime, *, twin: bool = False
) -> None:
    """Attach a channel to a subject of its own facility, from `since` on; changes nothing where that holds already.

    What the channel measured until then, and the channel that the subject had, end at `since`. Raises InputError for
    what does not go together and RefusedError where something was attached no earlier than `since`.
    """
    facility_id, quantity = _channel(conn, channel_id)
    if quantity not in QUANTITIES_OF.get(subject_type, ()):
        fitting = [kind for kind, quantities in QUANTITIES_OF.items() if quantity in quantities]
        raise InputError(
            _("subject of a %(quantity)s channel", quantity=quantity), subject_type, " or ".join(fitting) or "none"
        )
    subject = conn.execute(_SUBJECT, (subject_type, subject_id)).fetchone()
    if subject is None or subject[0] != facility_id:
        raise InputError(
            subject_type,
            str(subject_id),
            _("the id of a %(subject_type)s of the channel's facility", subject_type=subject_type),
        )
    before = conn.execute(_IN_FORCE, (channel_id,)).fetchone()
    if before is not None and before[:2] == (subject_id, twin) and before[2] <= since:
        return
    detach(conn, channel_id, since)
    holder = conn.execute(_HOLDER, (subject_id, quantity, twin)).fetchone()
    if holder is not None:
        detach(conn, holder[0], since)
    values = {
        "channel": channel_id,
        "quantity": quantity,
        "type": subject_type,
        "subject": subject_id,
        "twin": twin,
        "since": since,
    }
    try:
        with conn.transaction():
            conn.execute(_ATTACH, values)
    except psycopg.errors.ExclusionViolation:
        raise RefusedError(
            _(
                "the channel or the %(subject_type)s was attached otherwise after %(since)s",
                subject_type=subject_type,
                since=since.isoformat(),
            )
        ) from None


def detach(conn: Connection, channel_id: int, at: datetime) -> None:
    """End what a channel is attached to, if anything. Raises RefusedError where that began no earlier than `at`."""
    before = conn.execute(_IN_FORCE, (channel_id,)).fetchone()
    if before is None:
        return
    if before[2] >= at:
        raise RefusedError(
            _(
                "the channel is attached since %(before)s and can't leave at %(at)s; give a later moment",
                before=before[2].isoformat(),
                at=at.isoformat(),
            )
        )
    conn.execute(_END, (at, channel_id))


def holders(conn: Connection, quantity: str, subject_ids: Sequence[UUID]) -> dict[UUID, str]:
    """Names of the channels that count for a quantity of subjects now, by subject; twins are left out."""
    return dict(conn.execute(_HOLDERS, (list(subject_ids), quantity)).fetchall())


def _channel(conn: Connection, channel_id: int) -> tuple[UUID, str]:
    row = conn.execute(_CHANNEL, (channel_id,)).fetchone()
    if row is None:
        raise InputError(_("channel"), channel_id, _("the id of a channel that was heard"))
    return row[0], row[1]
