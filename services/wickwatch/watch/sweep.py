"""One sweep of one facility: take its window, judge it, step the alarms, queue the calls; all in one transaction.

Either the whole of it happened or nothing did, so a kill at any moment raises no alarm twice and skips none. Copies
of the watch divide the facilities among them by locks. Not here: when sweeps are due (`watch.schedule`), nor any
judgement (`detect`, `alarms`).
"""

from __future__ import annotations

import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

import psycopg

from wickwatch import alarms, detect, log
from wickwatch.errors import UnavailableError
from wickwatch.fleet import Facility
from wickwatch.store import alarms as stored_alarms
from wickwatch.store import fleet as stored_fleet
from wickwatch.store import jobs, rollups, work
from wickwatch.store.connect import Connection, connect
from wickwatch.watch import stepping
from wickwatch.watch.replay import WORK_DAYS, replay
from wickwatch.watch.schedule import SWEEP
from wickwatch.watch.window import Window

JOB = "sweep"

#: A watch that was away longer than this looks at the moments it missed, in coarser steps and not further back than
#: `CATCH_UP_MOST`; where it never looked, half a day tells what stands now. Older history is a backtest's.
CATCH_UP_FROM = timedelta(minutes=10)
CATCH_UP_MOST = timedelta(days=2)
CATCH_UP_FIRST = timedelta(hours=12)
CATCH_UP_EVERY = timedelta(minutes=5)

# Held as long as the connection lives; false where another copy of the watch has this facility.
_OWN = "SELECT pg_try_advisory_lock(hashtextextended('wickwatch.sweep ' || %s::text, 0))"


@dataclass(frozen=True)
class Swept:
    """What a sweep did, for the log and the job's record."""

    as_of: datetime
    judged: int
    raised: int
    cleared: int
    notices: int


class Sweeper:
    """Sweeps one facility again and again, keeping its window between sweeps.

    It owns the facility by a lock on its own connection, since the window it keeps is only right while nobody else
    takes the marks of what is new. With the connection goes the lock, and with the lock the window.
    """

    def __init__(self, database_url: str, facility_id: UUID, base_url: str) -> None:
        self._database_url = database_url
        self._facility_id = facility_id
        self._base_url = base_url
        self._window = Window(facility_id)
        self._conn: Connection | None = None
        self._facility: Facility | None = None
        self._read_again = 0.0

    def sweep(self, as_of: datetime) -> Swept | None:
        """Judge the facility as of a moment; None where another copy of the watch owns it.

        A failure loses the whole sweep, never a part; the next one connects and loads its window afresh.
        """
        started = datetime.now(UTC)
        try:
            conn = self._own()
            if conn is None:
                return None
            with conn.transaction():
                swept = self._sweep(conn, as_of)
                detail = f"raised={swept.raised} cleared={swept.cleared}"
                jobs.record(conn, JOB, self._facility_id, as_of, started, True, detail)
        except BaseException as error:
            self.close()
            self._record_failure(as_of, started, error)
            raise
        log.event(
            "sweep.done",
            facility=self._facility_id,
            as_of=as_of.isoformat(),
            kinds=swept.judged,
            raised=swept.raised,
            cleared=swept.cleared,
            notices=swept.notices,
            seconds=round((datetime.now(UTC) - started).total_seconds(), 3),
        )
        return swept

    def close(self) -> None:
        """Give the facility up."""
        self._window.forget()
        if self._conn is not None:
            self._conn.close()
            self._conn = None

    def _record_failure(self, as_of: datetime, started: datetime, error: BaseException) -> None:
        """Leave a trace of a failed sweep where the database still takes one."""
        why = f"{type(error).__name__}: {error}"
        with (
            suppress(UnavailableError, psycopg.Error),
            connect(self._database_url, "watch", autocommit=True) as conn,
        ):
            jobs.record(conn, JOB, self._facility_id, as_of, started, False, why)

    def _own(self) -> Connection | None:
        if self._conn is not None:
            return self._conn
        conn = connect(self._database_url, "watch", autocommit=True)
        row = conn.execute(_OWN, (self._facility_id,)).fetchone()
        if not row or not row[0]:
            conn.close()
            return None
        self._conn = conn
        return conn

    def _place(self, conn: Connection, as_of: datetime) -> Facility:
        """The facility, read again once that has cost at most a twentieth of the time since."""
        begun = time.monotonic()
        if self._facility is None or begun > self._read_again:
            self._facility = stored_fleet.load_facility(conn, self._facility_id, as_of)
            self._read_again = begun + 20 * (time.monotonic() - begun)
        return self._facility

    def _sweep(self, conn: Connection, as_of: datetime) -> Swept:
        refreshed = rollups.refresh(conn, self._facility_id)
        previous = jobs.last_ok(conn, JOB, self._facility_id)
        missed = as_of - previous if previous else CATCH_UP_FIRST
        if missed > CATCH_UP_FROM:
            previous = catch_up(conn, self._facility_id, as_of - min(missed, CATCH_UP_MOST), as_of)
        frame = self._window.advance(conn, as_of, refreshed)
        place = self._place(conn, as_of)
        done = work.recent(conn, self._facility_id, as_of - timedelta(days=WORK_DAYS))
        judgement = detect.sweep(frame, place, done, detect.due(previous, as_of))
        return step(conn, place, judgement, done, self._base_url)


def catch_up(conn: Connection, facility_id: UUID, start: datetime, end: datetime) -> datetime:
    """Step the alarms through moments that were missed, or never looked at, in the caller's transaction.

    What came and went is in the journal. Every call waits: the sweep that follows makes those that are still needed,
    to whoever is on duty then. Returns the last moment looked at.
    """
    stepping.alone(conn, facility_id)
    book, looked, entries = stored_alarms.load_book(conn, facility_id, start), start, 0
    every = frozenset(alarms.PRIORITIES)
    for _, changes in replay(conn, book, start, end - SWEEP, CATCH_UP_EVERY, rolled_up=True, waiting=every):
        looked = changes.as_of
        entries += len(changes.journal)
        if changes:
            stored_alarms.save(conn, facility_id, changes)
    log.event("sweep.caught-up", facility=facility_id, start=start.isoformat(), end=end.isoformat(), entries=entries)
    return looked


def step(
    conn: Connection,
    place: Facility,
    judgement: detect.Judgement,
    done: list[work.Entry],
    base_url: str,
) -> Swept:
    """Step a facility's alarms by a judgement, in the caller's transaction."""
    changes, queued = stepping.step(conn, place, judgement, done, base_url)
    events = [entry.event for entry in changes.journal]
    return Swept(
        judgement.as_of,
        len(judgement.judged),
        events.count("raised"),
        events.count("cleared"),
        queued,
    )
