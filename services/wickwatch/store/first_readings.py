"""Attachments that begin with their channel's first reading, however old that is.

A fleet file that names no moment attaches what was never heard: nothing else can have been measured by it since. So a
history imported later, or kept by a gateway until it could send, belongs to what its channels are attached to. Not
here: what begins at a moment that somebody named (`store.fleet_attach`, `store.assignments`).
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime, timedelta
from typing import LiteralString, NamedTuple

import numpy as np
from numpy.typing import NDArray

from wickwatch.store.connect import Connection
from wickwatch.store.readings import Rows

#: Readings younger than this come as they are taken, after whatever attached their channel; they are not looked up.
_FRESH = timedelta(minutes=1)

# Attachments begin with these readings, but not before another one of the channel or of the subject has ended.
_BEGIN: LiteralString = """
WITH early AS (
    SELECT a.id, greatest(g.at, (
        SELECT max(upper(o.during)) FROM assignment o
        WHERE o.id <> a.id AND upper(o.during) <= lower(a.during)
          AND (o.channel_id = a.channel_id
               OR (coalesce(o.container_id, o.reservoir_id, o.line_id, o.room_id)
                       = coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id)
                   AND o.quantity = a.quantity AND o.twin = a.twin)))) AS at
    FROM unnest(%s::int[], %s::timestamptz[]) AS g (channel_id, at)
    JOIN assignment a ON a.channel_id = g.channel_id AND a.from_first_reading AND lower(a.during) > g.at
)
UPDATE assignment a SET during = tstzrange(early.at, upper(a.during))
FROM early WHERE early.id = a.id AND early.at < lower(a.during)
RETURNING a.channel_id
"""

# Attachments that this transaction wrote of channels that had been heard before they begin.
_HEARD_BEFORE: LiteralString = """
SELECT count(*) FROM assignment a JOIN channel c ON c.id = a.channel_id
WHERE a.created_at = now() AND c.first_heard_at < lower(a.during) AND NOT a.from_first_reading
"""

# Of these channels: how many were never attached, though they could be, how many first later than their reading, and
# when the last of these.
_OUTSIDE: LiteralString = """
SELECT count(*) FILTER (WHERE a.since IS NULL AND c.quantity <> 'battery'), count(*) FILTER (WHERE a.since > g.at),
       max(a.since) FILTER (WHERE a.since > g.at)
FROM unnest(%s::int[], %s::timestamptz[]) AS g (channel_id, at)
JOIN channel c ON c.id = g.channel_id
CROSS JOIN LATERAL (SELECT min(lower(during)) AS since FROM assignment WHERE channel_id = g.channel_id) AS a
"""


class Outside(NamedTuple):
    """How many channels' readings belong to nothing, at least in part.

    `unattached` are those that never measured anything, `later` those attached after a reading, the last at `since`.
    """

    unattached: int
    later: int
    since: datetime | None


class Oldest:
    """The oldest reading of each of some channels, as rows of them come."""

    def __init__(self) -> None:
        self._at: dict[int, datetime] = {}

    def add(self, rows: Rows) -> None:
        """Look at more readings."""
        for channel_id, at in zip(*_oldest(rows.channel_ids, rows.at), strict=True):
            self._at[channel_id] = min(at, self._at.get(channel_id, at))

    def outside(self, conn: Connection) -> Outside:
        """Which of them belong to nothing."""
        return Outside(*conn.execute(_OUTSIDE, (list(self._at), list(self._at.values()))).fetchone() or (0, 0, None))


def begin(conn: Connection, written: Collection[Rows], now: datetime) -> set[int]:
    """Let attachments begin with these readings where they are their channel's first; returns these channels' ids."""
    limit = np.datetime64((now - _FRESH).astimezone(UTC).replace(tzinfo=None), "us")
    late = [(rows.channel_ids[old], rows.at[old]) for rows in written if (old := rows.at < limit).any()]
    if not late:
        return set()
    ids, at = (np.concatenate(column) for column in zip(*late, strict=True))
    return {row[0] for row in conn.execute(_BEGIN, _oldest(ids, at))}


def heard_before(conn: Connection) -> int:
    """How many channels this transaction attached that had been heard before: what they measured then is nobody's."""
    return int(conn.execute(_HEARD_BEFORE).fetchone()[0])  # type: ignore[index]


def _oldest(ids: NDArray[np.int32], at: NDArray[np.datetime64]) -> tuple[list[int], list[datetime]]:
    """Each channel once, and its oldest time."""
    order = np.lexsort((at, ids))
    channel, first = np.unique(ids[order], return_index=True)
    oldest = at[order][first].astype("M8[us]").tolist()
    return channel.tolist(), [each.replace(tzinfo=UTC) for each in oldest]
