"""The watch: a clock and its jobs, which judge every facility and step its alarms.

Each facility has its own sweep; beside them run a look at the watching itself and an hourly tidying. Several copies
may run: each facility is owned by one of them.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import psycopg

from wickwatch import log
from wickwatch.errors import UnavailableError
from wickwatch.settings import Settings
from wickwatch.store import fleet as stored_fleet
from wickwatch.store import jobs
from wickwatch.store.connect import Connection, connect
from wickwatch.watch import housekeeping
from wickwatch.watch.health import EVERY as HEALTH_EVERY
from wickwatch.watch.health import Health
from wickwatch.watch.schedule import ALLOW, SWEEP, Clock, moment
from wickwatch.watch.sweep import JOB, Sweeper, Swept

__all__ = ["ALLOW", "SWEEP", "Sweeper", "Swept", "judged", "moment", "run"]

#: Facilities swept at the same time; the judging itself uses one core each.
_WORKERS = 4


def run(settings: Settings, stop: threading.Event, every: timedelta = SWEEP) -> None:
    """Watch every facility in the database until `stop`."""
    Watch(settings, every).run(stop)


def judged(conn: Connection) -> bool:
    """Whether every facility has been swept well at least once."""
    return all(jobs.last_ok(conn, JOB, facility.id) is not None for facility in stored_fleet.facilities(conn))


class Watch:
    """One copy of the watch."""

    def __init__(self, settings: Settings, every: timedelta) -> None:
        self._settings = settings
        self._every = every
        self._clock = Clock(_WORKERS)
        self._sweepers: dict[UUID, Sweeper] = {}

    def run(self, stop: threading.Event) -> None:
        """Run until `stop`; a database that is away is tried again by each job at its next time."""
        settings = self._settings
        data_folder = None if settings.database_url and not _is_embedded(settings) else settings.home
        health = Health(settings.database_url, settings.base_url, data_folder, datetime.now(UTC))
        self._take_up()
        self._beat()
        self._clock.every(timedelta(seconds=jobs.BEAT_SECONDS), "beat", self._beat)
        self._clock.every(timedelta(seconds=10), "facilities", self._take_up)
        self._clock.every(HEALTH_EVERY, "health", lambda: health.look(datetime.now(UTC)), after=timedelta(seconds=12))
        self._clock.every(
            housekeeping.EVERY,
            "housekeeping",
            lambda: housekeeping.tidy(settings.database_url),
        )
        try:
            self._clock.run(stop)
        finally:
            for sweeper in self._sweepers.values():
                sweeper.close()
            with (
                suppress(UnavailableError, psycopg.OperationalError),  # it may have been stopped first
                connect(settings.database_url, "watch", autocommit=True) as conn,
            ):
                jobs.leave(conn, "watch", jobs.this_instance())

    def _take_up(self) -> None:
        """Begin to sweep facilities that are new and stop sweeping those that are gone."""
        with connect(self._settings.database_url, "watch", autocommit=True) as conn:
            present = {facility.id: facility.slug for facility in stored_fleet.facilities(conn)}
        for facility_id in present.keys() - self._sweepers.keys():
            sweeper = Sweeper(self._settings.database_url, facility_id, self._settings.base_url)
            self._sweepers[facility_id] = sweeper
            self._clock.every(self._every, f"sweep {facility_id}", self._job(sweeper), after=ALLOW)
            log.event("watch.facility", facility=present[facility_id])
        for facility_id in self._sweepers.keys() - present.keys():
            self._clock.drop(f"sweep {facility_id}")
            self._sweepers.pop(facility_id).close()

    def _job(self, sweeper: Sweeper) -> Callable[[], None]:
        def job() -> None:
            sweeper.sweep(moment(datetime.now(UTC), self._every))

        return job

    def _beat(self) -> None:
        with connect(self._settings.database_url, "watch", autocommit=True) as conn:
            jobs.beat(
                conn,
                "watch",
                jobs.this_instance(),
                detail={"facilities": len(self._sweepers)},
            )


def _is_embedded(settings: Settings) -> bool:
    return Path(settings.home, "postgres").exists() and "127.0.0.1" in settings.database_url
