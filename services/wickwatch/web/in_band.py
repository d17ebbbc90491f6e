"""How much of the last day each room was in its band, remembered for a few minutes.

By hourly means, since a thousand rooms are told at once; the report counts finer steps. Not here: where a container
lies now (`web.views.state`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import Probe
from wickwatch.web.recent import Recent
from wickwatch.web.views.state import RoomState

#: How far back is looked, how old an answer may be, and how many are kept.
BACK = timedelta(hours=24)
LIFE = timedelta(minutes=5)
MOST = 50_000


class InBands:
    """Shares by room."""

    def __init__(self) -> None:
        self._recent: Recent[float] = Recent(LIFE, MOST)

    def of(self, conn: Connection, states: Sequence[RoomState], now: datetime) -> dict[UUID, float]:
        """Share of each room's last day in band, 0 to 1; no room in which nothing was measured."""
        return self._recent.of(
            [state.row.id for state in states],
            now,
            lambda due: shares(conn, [state for state in states if state.row.id in due], now),
        )


def shares(conn: Connection, states: Sequence[RoomState], now: datetime) -> dict[UUID, float]:
    """Share of the last day in band by room; what is out of service does not count."""
    probes = [
        Probe(number, each.row.channel_id, each.rules.wet_limit_mbar, each.rules.dry_limit_mbar, each.row.stands_for)
        for number, state in enumerate(states)
        for each in state.containers
        if each.row.channel_id is not None and not each.out
    ]
    found = pages.in_band(conn, probes, now - BACK, now)
    return {states[number].row.id: share for number, share in found.items()}
