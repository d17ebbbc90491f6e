"""Tells pages that what they show has changed, as server-sent events.

One thread looks for all who listen, so that a hundred viewers ask the database no more often than one. An event says
only that something changed and carries no content: the page fetches that by an ordinary request, with its own rights.
Streams end after some minutes, and a browser that comes back is recognised anew. Not here: what a page shows.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from uuid import UUID

import psycopg
from psycopg_pool import ConnectionPool, PoolTimeout

from wickwatch import log
from wickwatch.store import jobs, pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import Stamp
from wickwatch.store.people import Visible
from wickwatch.texts import Choices, speaking, spoken
from wickwatch.web.snapshot import Snapshots
from wickwatch.web.views.watching import Banner, banners

#: How often is looked [s]; how often a stream shows that it lives; how long it lasts.
LOOK_S = 2.0
BEAT_S = 15.0
LASTS_S = 600.0


@dataclass(eq=False)
class _Listener:
    """One stream: what it is about, who listens, and what it was told last."""

    facilities: tuple[Visible, ...]
    choices: Choices
    rooms: bool
    seen: str
    loop: asyncio.AbstractEventLoop
    told: asyncio.Queue[str] = field(default_factory=asyncio.Queue)


def version(stamps: Mapping[UUID, Stamp], made: Mapping[UUID, datetime], found: Sequence[Banner]) -> str:
    """What changes with anything a page shows: alarms, the moment its rooms were read, whether watching is alive."""
    told = (sorted(stamps.items()), sorted(made.items()), [banner.text for banner in found])
    return sha256(repr(told).encode()).hexdigest()[:16]


class Live:
    """Everybody who listens in this process; the thread runs while there is anybody."""

    def __init__(self, pool: ConnectionPool[Connection], snapshots: Snapshots, clock: Callable[[], datetime]) -> None:
        self._pool = pool
        self._snapshots = snapshots
        self._clock = clock
        self._listeners: set[_Listener] = set()
        self._guard = threading.Lock()
        self._looking = False

    async def stream(self, facilities: Sequence[Visible], rooms: bool, seen: str) -> AsyncIterator[str]:
        """Events about facilities that were checked; with `rooms` new readings count too. `seen` is what is shown."""
        loop = asyncio.get_running_loop()
        listener = _Listener(tuple(facilities), spoken(), rooms, seen, loop)
        self._add(listener)
        ends = loop.time() + LASTS_S
        try:
            yield "retry: 3000\n\n"
            while loop.time() < ends:
                try:
                    told = await asyncio.wait_for(listener.told.get(), BEAT_S)
                    yield f"event: changed\nid: {told}\ndata: {told}\n\n"
                except TimeoutError:
                    yield "event: beat\ndata: 1\n\n"
        finally:
            with self._guard:
                self._listeners.discard(listener)

    def _add(self, listener: _Listener) -> None:
        with self._guard:
            self._listeners.add(listener)
            if not self._looking:
                self._looking = True
                threading.Thread(target=self._look, name="live", daemon=True).start()

    def _look(self) -> None:
        pause = threading.Event()
        while True:
            with self._guard:
                listeners = list(self._listeners)
                if not listeners:
                    self._looking = False
                    return
            try:
                self._tell(listeners)
            except (psycopg.Error, PoolTimeout) as error:
                log.warning("live.failed", why=type(error).__name__)
            pause.wait(LOOK_S)

    def _tell(self, listeners: Sequence[_Listener]) -> None:
        """Tell those whose version is another one than they were told last."""
        now = self._clock()
        every = {facility.id for each in listeners for facility in each.facilities}
        drawn = {facility.id for each in listeners if each.rooms for facility in each.facilities}
        with self._pool.connection() as conn:
            stamps = pages.stamp(conn, list(every), now)
            made = self._snapshots.moments(conn, {id: stamp for id, stamp in stamps.items() if id in drawn}, now)
            beats, sweeps = jobs.parts(conn), pages.sweeps(conn, list(every))
        known: dict[tuple[tuple[Visible, ...], bool, Choices], str] = {}
        for each in listeners:
            key = (each.facilities, each.rooms, each.choices)
            if key not in known:
                ids = [facility.id for facility in each.facilities]
                with speaking(each.choices):
                    found = banners(beats, sweeps, each.facilities, now)
                read = {id: made[id] for id in ids if id in made} if each.rooms else {}
                known[key] = version({id: stamps[id] for id in ids if id in stamps}, read, found)
            if known[key] != each.seen:
                each.seen = known[key]
                with suppress(RuntimeError):  # its loop is closed: the server stops
                    each.loop.call_soon_threadsafe(each.told.put_nowait, each.seen)
