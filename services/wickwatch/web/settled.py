"""Reads what tells whether containers are settled: their last two days in buckets of 5 minutes.

Not here: the judgement (`detect.settled`), nor how it is shown (`web.views.settled`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch import detect
from wickwatch.detect import Settled
from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.web.views.state import ContainerState

_BUCKET = timedelta(minutes=5)

#: As far back as the longest rule of settling asks.
_BACK = timedelta(hours=48)


def answers(conn: Connection, containers: Sequence[ContainerState], now: datetime) -> dict[UUID, Settled]:
    """For each container whether it is settled as of now, from whole buckets since its probe was attached."""
    end = pages.bucket_end(now, _BUCKET) - _BUCKET
    start = end - _BACK
    channels = [each.row.channel_id for each in containers if each.row.channel_id is not None]
    series = pages.means(conn, channels, start, end, _BUCKET)
    since = pages.attached_since(conn, channels, now)
    found: dict[UUID, Settled] = {}
    heard: dict[UUID, NDArray[np.float64]] = {}
    for each in containers:
        channel = each.row.channel_id
        if channel is None:
            found[each.row.id] = detect.no_probe()
        elif each.place in ("silent", "unread") or channel not in series:
            found[each.row.id] = detect.silent()
        else:
            began = since.get(channel)
            first = 0 if began is None else max(-((start - began) // _BUCKET), 0)
            heard[each.row.id] = series[channel][first:]
    rules = [each.rules for each in containers if each.row.id in heard]
    return found | dict(zip(heard, detect.settled(list(heard.values()), end, rules), strict=True))
