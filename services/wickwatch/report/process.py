"""The process that makes reports: on Mondays at each facility's own time, and whenever somebody asks.

What the clock asks for and what people ask for are the same kind of order, so that a copy that was away makes up for
it, and several copies share the work. Not here: how a report is made (`reporter`).
"""

from __future__ import annotations

import threading
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import psycopg

from wickwatch import log
from wickwatch.errors import UnavailableError
from wickwatch.report.reporter import LEASE, make, order_due
from wickwatch.settings import Settings
from wickwatch.store import fleet, jobs, reports
from wickwatch.store.connect import Connection, connect
from wickwatch.watch.schedule import Clock

#: On Mondays at this hour of the facility's clock. Chosen here: before the morning walk.
HOUR = 6

#: How often orders are looked for [s].
LOOK_S = 2.0

#: How often the clock's own orders are looked over, for what was missed while no copy ran.
MISSED = timedelta(minutes=10)

_PART = "report"


def run(settings: Settings, stop: threading.Event) -> None:
    """Make reports until `stop`."""
    Reporter(settings).run(stop)


def fulfil(conn: Connection, database_url: str, base_url: str) -> bool:
    """Make the report that waits longest, or give it up where that fails; False where none waits.

    `conn` commits each statement; the report is made over connections of its own.
    """
    order = reports.claim(conn, datetime.now(UTC), LEASE)
    if order is None:
        return False
    try:
        make(database_url, base_url, order, datetime.now(UTC))
    except psycopg.OperationalError:
        raise  # the database went: the order is taken up again when its claim runs out
    except Exception as error:
        # A report that can't be made must not hold up the others; it is told on the page, and loud in the log.
        log.warning("report.failed", order=order.id, week=order.week, error=type(error).__name__, why=error)
        reports.give_up(conn, order.id, f"{type(error).__name__}: {error}", datetime.now(UTC))
    return True


class Reporter:
    """One copy of the process."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._clock = Clock(2)
        self._zones: set[str] = set()

    def run(self, stop: threading.Event) -> None:
        """Run until `stop`; a database that is away is tried again by each job at its next time."""
        self._order_due()
        self._beat()
        self._clock.every(timedelta(seconds=jobs.BEAT_SECONDS), "beat", self._beat)
        self._clock.every(MISSED, "missed", self._order_due)
        working = threading.Thread(target=self._work, args=(stop,), name="reports", daemon=True)
        working.start()
        try:
            self._clock.run(stop)
        finally:
            working.join()
            with (
                suppress(UnavailableError, psycopg.OperationalError),  # it may have been stopped first
                connect(self._settings.database_url, _PART, autocommit=True) as conn,
            ):
                jobs.leave(conn, _PART, jobs.this_instance())

    def _order_due(self) -> None:
        """Order what is due, and have the clock wake for Monday in each facility's zone."""
        with connect(self._settings.database_url, _PART, autocommit=True) as conn:
            order_due(conn, datetime.now(UTC), timedelta(hours=HOUR))
            zones = {site.zone for site in fleet.facilities(conn)}
        for zone in zones - self._zones:
            self._zones.add(zone)
            self._clock.weekly("mon", HOUR, zone, f"mondays in {zone}", self._order_due)

    def _work(self, stop: threading.Event) -> None:
        """Make what is ordered, one after the other; a report takes longer than the clock's jobs may."""
        url, base_url = self._settings.database_url, self._settings.base_url
        while not stop.wait(LOOK_S):
            try:
                with connect(url, _PART, autocommit=True) as conn:
                    while not stop.is_set():
                        if not fulfil(conn, url, base_url):
                            stop.wait(LOOK_S)
            except (UnavailableError, psycopg.OperationalError) as error:
                log.warning("report.database_lost", why=error)

    def _beat(self) -> None:
        with connect(self._settings.database_url, _PART, autocommit=True) as conn:
            jobs.beat(conn, _PART, jobs.this_instance())
