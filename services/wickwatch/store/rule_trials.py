"""What changes of rules would have done: what was asked for, how far it is, and what came out.

One at a time in each facility. Not here: working it out (`watch.rule_trial`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, LiteralString
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch.fleet.difference import Place
from wickwatch.store.connect import Connection
from wickwatch.texts import N_

#: Whoever works one out and says nothing for so long is gone.
LOST_AFTER = timedelta(minutes=2)

#: Results are of use only until the rules are saved; they go after this.
KEPT = timedelta(days=2)

#: Why nothing came out, as it is kept; looked up where it is shown.
STOPPED = N_("it stopped before it was done")
_ENDED = N_("it was ended")
_FAILED = N_("it failed")

# Those that nobody works out any longer end, and old ones go.
_LOST: LiteralString = """
UPDATE rule_trial SET done_at = %(now)s, failure = %(why)s
WHERE facility_id = %(facility)s AND done_at IS NULL AND told_at < %(lost)s
"""
_FORGET: LiteralString = "DELETE FROM rule_trial WHERE done_at < %s"

# One more, unless one is under way in the facility.
_ORDER: LiteralString = """
INSERT INTO rule_trial
    (facility_id, room_id, kind, subject_id, rules, starts_at, ends_at, person_id, ordered_at, told_at)
VALUES (%(facility)s, %(room)s, %(kind)s, %(subject)s, %(rules)s, %(start)s, %(end)s, %(person)s, %(now)s, %(now)s)
ON CONFLICT (facility_id) WHERE done_at IS NULL DO NOTHING RETURNING id
"""

# The first hour since a time that a channel now in use in a room, or anywhere in the facility, was heard in.
_HEARD: LiteralString = """
SELECT min(first.at) FROM assignment a
LEFT JOIN container k ON k.id = a.container_id LEFT JOIN reservoir v ON v.id = a.reservoir_id
CROSS JOIN LATERAL (
    SELECT at FROM rollup_1h WHERE channel_id = a.channel_id AND at >= %(since)s ORDER BY at LIMIT 1
) first
JOIN room r ON r.id = coalesce(a.room_id, k.room_id, v.room_id)
WHERE r.facility_id = %(facility)s AND (%(room)s::uuid IS NULL OR r.id = %(room)s) AND upper_inf(a.during)
"""

# One by its id, with the slugs of its facility, its room if it is of one, and of where the rules would be given.
_ONE: LiteralString = """
SELECT t.facility_id, t.room_id, t.kind, t.subject_id, f.slug, r.slug,
       coalesce((SELECT slug FROM container WHERE id = t.subject_id),
                (SELECT slug FROM reservoir WHERE id = t.subject_id)),
       t.rules, t.starts_at, t.ends_at
FROM rule_trial t JOIN facility f ON f.id = t.facility_id LEFT JOIN room r ON r.id = t.room_id
WHERE t.id = %s AND t.done_at IS NULL
"""

# Channels that ever measured something in a room, and others of the same devices, such as their charge.
_CHANNELS: LiteralString = """
SELECT DISTINCT other.id FROM assignment a
LEFT JOIN container k ON k.id = a.container_id LEFT JOIN reservoir v ON v.id = a.reservoir_id
LEFT JOIN supply_line l ON l.id = a.line_id
JOIN channel c ON c.id = a.channel_id JOIN channel other ON other.device_id = c.device_id
WHERE coalesce(a.room_id, k.room_id, v.room_id, l.room_id) = %s ORDER BY 1
"""

# How far one is; nothing is changed where it was ended meanwhile.
_TELL: LiteralString = "UPDATE rule_trial SET share = %s, told_at = %s WHERE id = %s AND done_at IS NULL"

# What came out, or why nothing did.
_DONE: LiteralString = """
UPDATE rule_trial SET done_at = %s, share = 1, result = %s, failure = %s WHERE id = %s AND done_at IS NULL
"""

# Somebody no longer wants it.
_CANCEL: LiteralString = """
UPDATE rule_trial SET done_at = %s, failure = %s WHERE id = %s AND facility_id = %s AND done_at IS NULL
"""

# The newest of a place in a facility.
_NEWEST: LiteralString = """
SELECT t.id, coalesce(r.name, f.name), t.rules, t.starts_at, t.ends_at, t.ordered_at, t.share, t.told_at, t.done_at,
       t.result, t.failure
FROM rule_trial t JOIN facility f ON f.id = t.facility_id LEFT JOIN room r ON r.id = t.room_id
WHERE t.facility_id = %(facility)s AND t.subject_id = %(subject)s
ORDER BY t.done_at IS NULL DESC, t.ordered_at DESC LIMIT 1
"""


@dataclass(frozen=True)
class Trial:
    """What is to be worked out: rules that would be given at one place, over readings in [start, end).

    `subject_id` is the place's id, `room` the slug of the room with `room_id`; both None where the rules would be a
    facility's, of which all is looked at.
    """

    facility_id: UUID
    room_id: UUID | None
    subject_id: UUID
    place: Place
    room: str | None
    rules: Mapping[str, float]
    start: datetime
    end: datetime


@dataclass(frozen=True)
class Tried:
    """One as people see it: `share` 0 to 1 until it is done, then `result` or why there is none.

    `name` is that of the room, or the facility, that is looked at.
    """

    id: UUID
    name: str
    rules: Mapping[str, float]
    start: datetime
    end: datetime
    ordered_at: datetime
    share: float
    told_at: datetime
    done_at: datetime | None
    result: Mapping[str, Any] | None
    failure: str | None

    def lost(self, now: datetime) -> bool:
        """Whether whoever worked it out is gone."""
        return self.done_at is None and now - self.told_at > LOST_AFTER


def order(conn: Connection, trial: Trial, person_id: UUID, now: datetime) -> UUID | None:
    """Ask for one; None where one is under way in the facility."""
    conn.execute(_LOST, {"facility": trial.facility_id, "now": now, "lost": now - LOST_AFTER, "why": STOPPED})
    conn.execute(_FORGET, (now - KEPT,))
    values = {
        "facility": trial.facility_id,
        "room": trial.room_id,
        "kind": trial.place.kind,
        "subject": trial.subject_id,
        "rules": Jsonb(dict(trial.rules)),
        "start": trial.start,
        "end": trial.end,
        "person": person_id,
        "now": now,
    }
    row = conn.execute(_ORDER, values).fetchone()
    return None if row is None else row[0]


def heard_from(conn: Connection, facility_id: UUID, room_id: UUID | None, since: datetime) -> datetime | None:
    """From when on a room, or the facility, has readings, `since` at the earliest; None where it has none since."""
    row = conn.execute(_HEARD, {"facility": facility_id, "room": room_id, "since": since}).fetchone()
    return None if row is None else row[0]


def load(conn: Connection, trial_id: UUID) -> Trial | None:
    """One that is not done, None for any other."""
    row = conn.execute(_ONE, (trial_id,)).fetchone()
    if row is None:
        return None
    facility_id, room_id, kind, subject_id, facility, room, part, rules, start, end = row
    slugs: Mapping[str, tuple[str | None, str]] = {"facility": (None, facility), "room": (None, room)}
    above, slug = slugs.get(kind, (room, part or ""))
    return Trial(facility_id, room_id, subject_id, Place(kind, facility, above, slug), room, rules, start, end)


def channels(conn: Connection, room_id: UUID) -> list[int]:
    """Ids of all channels that tell, or told, something of a room."""
    return [row[0] for row in conn.execute(_CHANNELS, (room_id,))]


def tell(conn: Connection, trial_id: UUID, share: float, now: datetime) -> bool:
    """Say how far one is; False where it was ended meanwhile."""
    return conn.execute(_TELL, (min(max(share, 0.0), 1.0), now, trial_id)).rowcount == 1


def finish(conn: Connection, trial_id: UUID, result: Mapping[str, Any], now: datetime) -> None:
    """Keep what came out, unless it was ended meanwhile."""
    conn.execute(_DONE, (now, Jsonb(dict(result)), None, trial_id))


def give_up(conn: Connection, trial_id: UUID, why: str, now: datetime) -> None:
    """Say why nothing came out."""
    conn.execute(_DONE, (now, None, why[:300] or _FAILED, trial_id))


def cancel(conn: Connection, trial_id: UUID, facility_id: UUID, now: datetime) -> None:
    """End one of a facility that is under way; whoever works it out stops soon after."""
    conn.execute(_CANCEL, (now, _ENDED, trial_id, facility_id))


def newest(conn: Connection, facility_id: UUID, subject_id: UUID) -> Tried | None:
    """The one under way of a place in a facility, else the newest."""
    row = conn.execute(_NEWEST, {"facility": facility_id, "subject": subject_id}).fetchone()
    return None if row is None else Tried(*row)
