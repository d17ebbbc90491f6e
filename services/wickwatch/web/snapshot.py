"""The state of each facility, remembered for a few seconds and shared by everybody who looks at it.

A facility's rooms are read once for all viewers, and drawn once for all who chose the same language and units. What
happens to an alarm is shown at once: only the rooms it is in are drawn again. Readings may be a few seconds old: a
memory that is past its life is made anew by one thread, and where that takes long, viewers are served the old one
meanwhile. So a hundred viewers cost little more than one, and nobody waits for a thousand rooms. Not here: what a
viewer may see; the caller names facilities that were checked.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from uuid import UUID

import psycopg
from markupsafe import Markup
from psycopg_pool import ConnectionPool, PoolTimeout

from wickwatch import log
from wickwatch.store import pages, service
from wickwatch.store.connect import Connection
from wickwatch.store.pages import AlarmRow, Stamp
from wickwatch.store.people import Visible
from wickwatch.texts import Choices, speaking, spoken
from wickwatch.web.in_band import InBands
from wickwatch.web.run_out import RunOuts
from wickwatch.web.views.card import Card, card
from wickwatch.web.views.state import RoomState, room_states, urgency
from wickwatch.web.views.trouble import Trouble, whole_facility
from wickwatch.web.views.water import Soon, soon

#: A memory older than this is made anew, and one older than the second is not shown at all.
LIFE = timedelta(seconds=10)
MOST = timedelta(seconds=60)

#: Making a memory that took less than this (seconds) is waited for.
_QUICK_S = 0.05

#: A memory lives at least this many times as long as it took to make: a twentieth of a core goes into it at most.
_LIFE_PER_COST = 20

#: For so many kinds of readers a facility is drawn, those who asked last, as long as they asked within this.
_READERS = 6
_ASKED = timedelta(seconds=60)

#: More rooms, open alarms or parts out of service than this in one facility are not shown.
_MOST_ROOMS = 20_000
_MOST_ALARMS = 20_000
_MOST_OUT = 20_000


@dataclass(frozen=True)
class Remembered:
    """What follows from days of readings and is told anew every few minutes only."""

    run_outs: RunOuts = field(default_factory=RunOuts)
    in_bands: InBands = field(default_factory=InBands)


@dataclass(frozen=True)
class Drawn:
    """One room with its state and HTML."""

    state: RoomState
    card: Card
    html: Markup


@dataclass(frozen=True)
class Snapshot:
    """One facility at one moment, as readers who chose the same read it."""

    facility_id: UUID
    stamp: Stamp
    at: datetime
    rooms: tuple[Drawn, ...]
    soon: tuple[Soon, ...]
    whole: tuple[Trouble, ...]


@dataclass(frozen=True)
class _Read:
    """One facility as it was read, and drawn so far; `cost_s` is what it took to make."""

    stamp: Stamp
    at: datetime
    cost_s: float
    states: tuple[RoomState, ...]
    alarms: tuple[AlarmRow, ...]
    drawn: Mapping[Choices, Snapshot]

    @property
    def life(self) -> timedelta:
        """How long it serves before it is made anew."""
        return max(LIFE, timedelta(seconds=_LIFE_PER_COST * self.cost_s))


class Snapshots:
    """Remembers facilities; one thread reads and draws one, those who want the same wait for it."""

    def __init__(self, pool: ConnectionPool[Connection], draw: Callable[[Card], Markup]) -> None:
        self.remembered = Remembered()
        self._pool = pool
        self._draw = draw
        self._kept: dict[UUID, _Read] = {}
        self._asked: dict[UUID, dict[Choices, datetime]] = {}
        self._locks: dict[UUID, threading.Lock] = {}
        self._renewing: set[UUID] = set()
        self._guard = threading.Lock()

    def of(self, conn: Connection, facilities: Sequence[Visible], now: datetime) -> list[Snapshot]:
        """Snapshots of facilities for whoever is spoken to, with every event of an alarm up to now."""
        stamps = pages.stamp(conn, [facility.id for facility in facilities], now)
        return [self._drawn(conn, facility.id, stamps[facility.id], now) for facility in facilities]

    def moments(self, conn: Connection, stamps: Mapping[UUID, Stamp], now: datetime) -> dict[UUID, datetime]:
        """When each facility was read last, by what its alarms are up to; made anew as for a viewer."""
        found = {}
        for id, stamp in stamps.items():
            with self._lock(id):
                found[id] = self._fresh(conn, id, stamp, now).at
        return found

    def _lock(self, facility_id: UUID) -> threading.Lock:
        with self._guard:
            return self._locks.setdefault(facility_id, threading.Lock())

    def _drawn(self, conn: Connection, facility_id: UUID, stamp: Stamp, now: datetime) -> Snapshot:
        choices = spoken()
        with self._lock(facility_id):
            asked = self._asked.setdefault(facility_id, {})
            asked.pop(choices, None)
            asked[choices] = now
            kept = self._fresh(conn, facility_id, stamp, now)
            if choices not in kept.drawn:
                every = {**kept.drawn, choices: self._drawing(facility_id, kept, choices)}
                kept = replace(kept, drawn={each: every[each] for each in list(asked)[-_READERS:] if each in every})
                self._kept[facility_id] = kept
            return kept.drawn[choices]

    def _fresh(self, conn: Connection, facility_id: UUID, stamp: Stamp, now: datetime) -> _Read:
        """What is remembered of a facility, its events up to now; to be called under its lock."""
        kept = self._kept.get(facility_id)
        age = MOST if kept is None else abs(now - kept.at)
        old = kept is None or age >= kept.life
        if kept is None or age >= max(MOST, 3 * kept.life) or (old and kept.cost_s < _QUICK_S):
            kept, old = self._make(conn, facility_id, stamp, now), False
        elif kept.stamp != stamp:
            kept = self._with_events(conn, facility_id, kept, stamp, now)
        self._kept[facility_id] = kept
        if old:
            self._renew(facility_id, now)
        return kept

    def _make(self, conn: Connection, facility_id: UUID, stamp: Stamp, now: datetime) -> _Read:
        """A facility read anew, and drawn for whoever asked lately."""
        started = time.perf_counter()
        states, alarms = load(conn, facility_id, now, self.remembered)
        former = self._kept.get(facility_id)
        lately = [each for each, at in list(self._asked.get(facility_id, {}).items()) if abs(now - at) <= _ASKED]
        read = _Read(stamp, now, 0.0, tuple(states), tuple(alarms), {})
        drawn = {
            choices: self._drawing(facility_id, read, choices, former.drawn.get(choices) if former else None)
            for choices in lately[-_READERS:]
        }
        return replace(read, drawn=drawn, cost_s=time.perf_counter() - started)

    def _drawing(self, facility_id: UUID, read: _Read, choices: Choices, former: Snapshot | None = None) -> Snapshot:
        """A facility as it was read, for readers who chose this; cards that did not change keep their HTML."""
        known = {room.card: room.html for room in former.rooms} if former else {}
        with speaking(choices):
            rooms = tuple(self._room(state, read.at, known) for state in read.states)
            running_out = tuple(one for state in read.states for one in soon(state, read.at))
            whole = whole_facility(read.alarms, read.at)
        return Snapshot(facility_id, read.stamp, read.at, rooms, running_out, whole)

    def _with_events(self, conn: Connection, facility_id: UUID, kept: _Read, stamp: Stamp, now: datetime) -> _Read:
        """The same with the alarms and maintenance there are now; only rooms where those changed are drawn again."""
        alarms = tuple(pages.alarms(conn, [facility_id], _MOST_ALARMS, active=True))
        of_room = _by_room(alarms)
        fresh = self._out_changed(conn, facility_id, kept, now) if kept.stamp.out != stamp.out else {}
        states = tuple(
            state
            if state.alarms == (now_open := of_room.get(id := state.row.id, ())) and id not in fresh
            else replace(fresh.get(id, state), alarms=now_open)
            for state in kept.states
        )
        drawn = {}
        for choices, shot in kept.drawn.items():
            with speaking(choices):
                rooms = tuple(
                    room if room.state is state else self._room(state, now)
                    for room, state in zip(shot.rooms, states, strict=True)
                )
                drawn[choices] = replace(shot, stamp=stamp, rooms=rooms, whole=whole_facility(alarms, now))
        return replace(kept, stamp=stamp, states=states, alarms=alarms, drawn=drawn)

    def _out_changed(self, conn: Connection, facility_id: UUID, kept: _Read, now: datetime) -> Mapping[UUID, RoomState]:
        """Rooms of which something went out of service or came back since, read anew."""
        out: dict[UUID, list[service.Listed]] = {}
        for each in service.listed(conn, [facility_id], now, limit=_MOST_OUT):
            if each.room_id is not None:
                out.setdefault(each.room_id, []).append(each)
        changed = [state.row.id for state in kept.states if list(state.out) != out.get(state.row.id, [])]
        states, _ = load_rooms(conn, facility_id, changed, now, self.remembered)
        return {state.row.id: state for state in states}

    def _room(self, state: RoomState, now: datetime, known: Mapping[Card, Markup] | None = None) -> Drawn:
        """A room, with its HTML from before where nothing on its card changed."""
        made = card(state, now)
        html = known.get(made) if known else None
        return Drawn(state, made, html or self._draw(made))

    def _renew(self, facility_id: UUID, now: datetime) -> None:
        """Make a snapshot anew beside the requests, unless that is under way."""
        with self._guard:
            if facility_id in self._renewing:
                return
            self._renewing.add(facility_id)
        threading.Thread(target=self._renewed, args=(facility_id, now), name="snapshot", daemon=True).start()

    def _renewed(self, facility_id: UUID, now: datetime) -> None:
        try:
            with self._pool.connection() as conn:
                made = self._make(conn, facility_id, pages.stamp(conn, [facility_id], now)[facility_id], now)
            with self._lock(facility_id):
                self._kept[facility_id] = made
        except (psycopg.Error, PoolTimeout) as error:
            log.warning("snapshot.failed", facility=facility_id, why=type(error).__name__)
        finally:
            with self._guard:
                self._renewing.discard(facility_id)


def load(
    conn: Connection, facility_id: UUID, now: datetime, remembered: Remembered
) -> tuple[list[RoomState], list[AlarmRow]]:
    """States of all rooms of a facility, and its open alarms."""
    ids = pages.room_ids(conn, [facility_id], _MOST_ROOMS)
    return load_rooms(conn, facility_id, ids, now, remembered)


def load_rooms(
    conn: Connection, facility_id: UUID, room_ids: Sequence[UUID], now: datetime, remembered: Remembered
) -> tuple[list[RoomState], list[AlarmRow]]:
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
        remembered.run_outs.of(conn, rooms, reservoirs, now),
        service.listed(conn, [facility_id], now, limit=_MOST_OUT),
    )
    shares = remembered.in_bands.of(conn, states, now)
    return [replace(state, in_band=shares.get(state.row.id)) for state in states], alarms


def _by_room(alarms: Sequence[AlarmRow]) -> Mapping[UUID, tuple[AlarmRow, ...]]:
    """Alarms of each room, the most urgent first."""
    found: dict[UUID, list[AlarmRow]] = {}
    for alarm in alarms:
        if alarm.room_id is not None:
            found.setdefault(alarm.room_id, []).append(alarm)
    return {room_id: tuple(sorted(of_room, key=urgency)) for room_id, of_room in found.items()}
