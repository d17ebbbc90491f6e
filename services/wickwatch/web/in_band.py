"""How much of the last day each room was in its band, remembered for a few minutes.

By hourly means, since a thousand rooms are told at once; the report counts finer steps. Not here: where a container
lies now (`web.views.state`).
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import Probe
from wickwatch.web.views.state import RoomState

#: How far back is looked, and how old an answer may be.
BACK = timedelta(hours=24)
LIFE = timedelta(minutes=5)


class InBands:
    """Shares by room."""

    def __init__(self) -> None:
        self._kept: dict[UUID, tuple[datetime, float | None]] = {}
        self._lock = threading.Lock()

    def of(self, conn: Connection, states: Sequence[RoomState], now: datetime) -> dict[UUID, float | None]:
        """Share of each room's last day in band, 0 to 1; None where nothing was measured."""
        with self._lock:
            due = [state for state in states if not self._fresh(state.row.id, now)]
            found = shares(conn, due, now) if due else {}
            for state in due:
                self._kept[state.row.id] = (now, found.get(state.row.id))
            return {state.row.id: self._kept[state.row.id][1] for state in states}

    def _fresh(self, room_id: UUID, now: datetime) -> bool:
        kept = self._kept.get(room_id)
        return kept is not None and timedelta() <= now - kept[0] < LIFE


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
