"""What a look at the whole asks the database: its clock, its channels, and what it refused lately.

Not here: what follows from it (`cli.check`, `detect`).
"""

from __future__ import annotations

from datetime import datetime
from typing import LiteralString, NamedTuple

from wickwatch.fleet import Rules
from wickwatch.store.connect import Connection

# The database's clock.
_NOW: LiteralString = "SELECT clock_timestamp()"

# Channels in use: attached, attached and silent, attached to nothing. A battery is never attached.
_CHANNELS: LiteralString = """
SELECT count(*) FILTER (WHERE attached),
       count(*) FILTER (WHERE attached AND last IS NULL),
       count(*) FILTER (WHERE NOT attached AND quantity <> 'battery')
FROM (
    SELECT c.quantity, a.channel_id IS NOT NULL AS attached, r.at AS last
    FROM channel c JOIN facility f ON f.id = c.facility_id AND f.retired_at IS NULL
    LEFT JOIN assignment a ON a.channel_id = c.id AND a.during @> now()
    LEFT JOIN LATERAL (
        SELECT at FROM reading r
        WHERE a.channel_id IS NOT NULL AND r.channel_id = c.id
          AND r.at > now()
              - make_interval(secs => greatest(60 * %(minutes)s, %(intervals)s * coalesce(c.interval_s, 0)))
        LIMIT 1
    ) r ON true
) AS each
"""

# Records refused within the last day, by reason.
_REFUSED: LiteralString = """
SELECT reason, sum(records)::bigint FROM quarantine
WHERE at > now() - interval '24 hours' GROUP BY reason ORDER BY 2 DESC
"""


class Channels(NamedTuple):
    """How many channels are attached, how many of those are silent, and how many wait to be attached."""

    attached: int
    silent: int
    waiting: int


def clock(conn: Connection) -> datetime:
    """The database's own time."""
    row = conn.execute(_NOW).fetchone()
    assert row is not None
    found: datetime = row[0]
    return found


def channels(conn: Connection) -> Channels:
    """Channel health by the default rules of silence, whatever rules a place has of its own."""
    rules = Rules()
    values = {"minutes": rules.silent_minutes, "intervals": rules.silent_intervals}
    row = conn.execute(_CHANNELS, values).fetchone()
    assert row is not None
    return Channels(*row)


def refused(conn: Connection) -> dict[str, int]:
    """Records in quarantine from the last 24 hours, by reason, the most frequent first."""
    return dict(conn.execute(_REFUSED).fetchall())
