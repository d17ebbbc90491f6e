"""The state of each facility, remembered for a few seconds and shared by everybody who looks at it.

A facility's rooms are read and drawn once for all viewers, and again when an alarm's life went on, a sweep was done,
or the memory is old. So a hundred viewers cost little more than one, and somebody who acknowledges an alarm sees it
at once. Not here: what a viewer may see; the caller names facilities that were checked.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from markupsafe import Markup

from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import Stamp
from wickwatch.store.people import Visible
from wickwatch.web.run_out import RunOuts
from wickwatch.web.views import status
from wickwatch.web.views.state import RoomState, room_states
from wickwatch.web.views.status import Card, Soon, Trouble

#: A memory older than this is made anew whatever happened, since rooms and rules change without an alarm.
LIFE = timedelta(seconds=10)

#: More rooms or open alarms than this in one facility are not shown.
_MOST_ROOMS = 20_000
_MOST_ALARMS = 20_000


@dataclass(frozen=True)
class Drawn:
    """One room with its HTML."""

    card: Card
    html: Markup


@dataclass(frozen=True)
class Snapshot:
    """One facility at one moment."""

    stamp: Stamp | None
    at: datetime
    rooms: tuple[Drawn, ...]
    soon: tuple[Soon, ...]
    whole: tuple[Trouble, ...]


class Snapshots:
    """Remembers snapshots by facility; one thread makes one, those who want the same wait for it."""

    def __init__(self, draw: Callable[[Card], Markup]) -> None:
        self._draw = draw
        self.run_outs = RunOuts()
        self._kept: dict[UUID, Snapshot] = {}
        self._locks: dict[UUID, threading.Lock] = {}
        self._guard = threading.Lock()

    def of(self, conn: Connection, facilities: Sequence[Visible], now: datetime) -> list[Snapshot]:
        """Snapshots of facilities, none older than `LIFE` nor than the last event of an alarm."""
        stamps = pages.stamp(conn, [facility.id for facility in facilities])
        return [self._one(conn, facility.id, stamps.get(facility.id), now) for facility in facilities]

    def _one(self, conn: Connection, facility_id: UUID, stamp: Stamp | None, now: datetime) -> Snapshot:
        with self._guard:
            lock = self._locks.setdefault(facility_id, threading.Lock())
        with lock:
            kept = self._kept.get(facility_id)
            if kept is None or kept.stamp != stamp or not timedelta() <= now - kept.at < LIFE:
                kept = self._make(conn, facility_id, stamp, now)
                self._kept[facility_id] = kept
            return kept

    def _make(self, conn: Connection, facility_id: UUID, stamp: Stamp | None, now: datetime) -> Snapshot:
        states, alarms = load(conn, facility_id, now, self.run_outs)
        cards = [status.card(state, now) for state in states]
        soon = [one for state in states for one in status.soon(state, now)]
        whole = status.whole_facility(alarms, now)
        return Snapshot(stamp, now, tuple(Drawn(card, self._draw(card)) for card in cards), tuple(soon), whole)


def load(
    conn: Connection, facility_id: UUID, now: datetime, run_outs: RunOuts
) -> tuple[list[RoomState], list[pages.AlarmRow]]:
    """States of all rooms of a facility, and its open alarms."""
    ids = pages.room_ids(conn, [facility_id], _MOST_ROOMS)
    return load_rooms(conn, facility_id, ids, now, run_outs)


def load_rooms(
    conn: Connection, facility_id: UUID, room_ids: Sequence[UUID], now: datetime, run_outs: RunOuts
) -> tuple[list[RoomState], list[pages.AlarmRow]]:
    """States of some rooms of one facility, and all its open alarms."""
    alarms = pages.alarms(conn, [facility_id], _MOST_ALARMS, active=True)
    rooms = pages.rooms(conn, room_ids)
    reservoirs = pages.reservoirs(conn, room_ids, now)
    states = room_states(
        rooms,
        pages.containers(conn, room_ids, now),
        reservoirs,
        pages.lines(conn, room_ids),
        alarms,
        now,
        run_outs.of(conn, rooms, reservoirs, now),
    )
    return states, alarms
