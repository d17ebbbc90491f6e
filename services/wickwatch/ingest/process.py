"""One copy of ingest from start to stop: its place, the session at the broker, the writer, and small chores beside.

A copy's place is a number held by a lock in the database. It names the session at the broker, so a copy that starts
again finds what the broker kept for the one before, and no setting has to tell copies apart.
"""

from __future__ import annotations

import threading
import time
from contextlib import ExitStack
from datetime import UTC, datetime

from prometheus_client import start_http_server

from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.ingest.inbox import Inbox
from wickwatch.ingest.metrics import Metrics
from wickwatch.ingest.session import Session
from wickwatch.ingest.writer import Writer
from wickwatch.settings import Settings
from wickwatch.store import channels, copies, jobs
from wickwatch.store.connect import Connection
from wickwatch.urls import MQTT_SCHEMES, endpoint

#: How often usual intervals are estimated: of channels that have none yet, and of all.
NEW_INTERVALS_S = 60.0
ALL_INTERVALS_S = 900.0

#: A place is given up when another copy had it for so long; an old connection of ours is gone by then.
PLACE_LOST_S = 120.0


def run(settings: Settings, stop: threading.Event, *, metrics_port: int | None = None, share: bool = False) -> None:
    """Take readings in until `stop` is set.

    With `share`, copies divide the packs between them; without, each copy gets every pack and the second one to write
    a reading finds it there. `metrics_port` shows Prometheus's numbers on loopback.
    """
    counts, inbox, place = Metrics(), Inbox(), Place()
    broker = endpoint(settings.mqtt_url, MQTT_SCHEMES)
    session = Session(broker, inbox, counts.connected.set, "wickwatch-ingest" if share else None)
    writer = Writer(settings.database_url, inbox, session.acknowledge, counts, place.hold)
    with ExitStack() as ending:
        if metrics_port is not None:
            server, thread = start_http_server(metrics_port, "127.0.0.1", counts.registry)
            ending.callback(thread.join)
            ending.callback(server.server_close)
            ending.callback(server.shutdown)
        ending.callback(writer.close)
        if writer.open(stop):
            session.start(place.name)
            ending.callback(session.stop)
            writer.run(stop, _Chores(session, counts).turn)
            writer.last_words(_leave)


class Place:
    """The number of this copy, taken at the first connection and again at every later one."""

    def __init__(self) -> None:
        self._number: int | None = None
        self._lost_at: float | None = None

    @property
    def name(self) -> str:
        """Name of this copy's session at the broker."""
        return f"wickwatch-ingest-{self._number}"

    def hold(self, conn: Connection) -> None:
        """Take the number. Raises UnavailableError while an earlier connection may still hold it, then RefusedError."""
        if self._number is None:
            self._number = copies.claim(conn, "ingest")
            if self._number is None:
                raise RefusedError(f"there are {copies.MOST} copies of ingest already")
        elif copies.hold(conn, "ingest", self._number):
            self._lost_at = None
        else:
            now = time.monotonic()
            self._lost_at = now if self._lost_at is None else self._lost_at
            if now - self._lost_at > PLACE_LOST_S:
                raise RefusedError(f"another copy of ingest took place {self._number} while the database was away")
            raise UnavailableError("database", f"place {self._number} is still held by an earlier connection")


class _Chores:
    """What is done now and then on the writer's connection."""

    def __init__(self, session: Session, metrics: Metrics) -> None:
        self._session = session
        self._metrics = metrics
        self._said: bool | None = None
        self._next = {"beat": 0.0, "new": 0.0, "all": time.monotonic() + ALL_INTERVALS_S}

    def turn(self, conn: Connection) -> None:
        """Do what is due."""
        self._session.fetch_left_out()
        connected = self._session.connected
        if self._due("beat", jobs.BEAT_SECONDS) or connected != self._said:
            with conn.transaction():
                jobs.beat(conn, "ingest", jobs.this_instance(), connected, self._metrics.totals)
            self._said = connected
        everything = self._due("all", ALL_INTERVALS_S)
        if self._due("new", NEW_INTERVALS_S) or everything:
            with conn.transaction():
                channels.estimate_intervals(conn, datetime.now(UTC), only_new=not everything)

    def _due(self, chore: str, every_s: float) -> bool:
        now = time.monotonic()
        if now < self._next[chore]:
            return False
        self._next[chore] = now + every_s
        return True


def _leave(conn: Connection) -> None:
    jobs.leave(conn, "ingest", jobs.this_instance())
