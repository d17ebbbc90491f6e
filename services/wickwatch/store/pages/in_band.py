"""How much of a span rooms were in their band, from the hourly rollups. Not here: which limits hold where (`fleet`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString

from wickwatch.store.connect import Connection

# Hours of each group's probes that were measured, and those whose mean lay within the limits, since each was attached.
_IN_BAND: LiteralString = """
SELECT u.number, coalesce(sum(u.weight) FILTER (WHERE h.mean BETWEEN u.wet AND u.dry), 0)::float / sum(u.weight)
FROM unnest(%(numbers)s::integer[], %(channels)s::integer[], %(wet)s::real[], %(dry)s::real[], %(weights)s::integer[])
    AS u (number, channel, wet, dry, weight)
JOIN assignment a ON a.channel_id = u.channel AND a.during @> %(end)s
JOIN rollup_1h h ON h.channel_id = u.channel AND h.at >= greatest(%(start)s, lower(a.during)) AND h.at < %(end)s
GROUP BY u.number
"""


@dataclass(frozen=True)
class Probe:
    """One probe of the group with this number, its limits, and how many like containers it speaks for."""

    number: int
    channel_id: int
    wet_limit_mbar: float
    dry_limit_mbar: float
    stands_for: int


def in_band(conn: Connection, probes: Sequence[Probe], start: datetime, end: datetime) -> dict[int, float]:
    """Share (0 to 1) of the hours in [start, end) whose mean lay in the band, by group; groups unmeasured are left out.

    `end` is now: what a probe measured before it was attached where it is does not count.
    """
    values = {
        "numbers": [each.number for each in probes],
        "channels": [each.channel_id for each in probes],
        "wet": [each.wet_limit_mbar for each in probes],
        "dry": [each.dry_limit_mbar for each in probes],
        "weights": [each.stands_for for each in probes],
        "start": start,
        "end": end,
    }
    return dict(conn.execute(_IN_BAND, values, binary=True).fetchall())
