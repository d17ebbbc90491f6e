"""Reads the last days of a room's containers by the hour, as far as they speak of the emitter as it is set now.

Not here: what follows from them (`web.views.days`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np

from wickwatch import detect
from wickwatch.detect import constants as c
from wickwatch.fleet import Work
from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.web.views.days import DAY_HOURS, Day, days_of
from wickwatch.web.views.state import RoomState

_HOUR = timedelta(hours=1)


def load(conn: Connection, state: RoomState, work: Sequence[Work], now: datetime) -> dict[UUID, Day]:
    """The last days of each container of a room; `work` is what was done lately."""
    end = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    hours = DAY_HOURS * max(round(state.rules.drift_days), 1)
    start = end - timedelta(hours=hours)
    channels = [each.row.channel_id for each in state.containers if each.row.channel_id is not None]
    means = pages.means(conn, channels, start, end, _HOUR)
    attached = pages.attached_since(conn, channels, now)
    hourly = np.full((len(state.containers), hours), np.nan, dtype=np.float32)
    for number, each in enumerate(state.containers):
        channel = each.row.channel_id
        if channel is None:
            continue
        hourly[number] = means.get(channel, np.nan)
        since = [attached.get(channel) or start]
        since += [
            entry.at + detect.settles_for(entry.kind, each.rules.settled_hours)
            for entry in work
            if entry.subject_id == each.row.id and entry.kind in c.CHANGES_HISTORY
        ]
        before = -((start - max(since)) // _HOUR)
        hourly[number, : max(before, 0)] = np.nan
    return days_of(state, hourly)
