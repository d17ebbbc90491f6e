"""Once an hour: let go of what is past its retention.

Not here: anything that judges.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from wickwatch import log
from wickwatch.store import fleet as stored_fleet
from wickwatch.store import jobs, rollups, timescale
from wickwatch.store.connect import connect

EVERY = timedelta(hours=1)


def tidy(database_url: str) -> None:
    """Drop readings that no facility keeps any more, fine rollups past their use, and old job records."""
    now = datetime.now(UTC)
    with connect(database_url, "housekeeping", autocommit=True) as conn:
        days = [stored_fleet.load_facility(conn, f.id, now).rules.retention_days for f in stored_fleet.facilities(conn)]
        if days:
            timescale.drop_old_readings(conn, now - timedelta(days=max(days)))
        forgotten = jobs.forget_old_runs(conn)
        rollups.forget_fine(conn, now)
    log.event("housekeeping.done", runs=forgotten)
