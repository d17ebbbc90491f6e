"""Workers that take notices from the outbox, one at a time, and carry them over one way.

A worker claims and commits, sends, then records and commits. Killed before the claim's commit it leaves the notice due;
killed later it leaves it claimed, and another try follows when the claim runs out: one duplicate at most for each
crash, and none lost. Ways have workers of their own, so that a hanging webhook holds up no mail. Not here: how a way
sends (`channels`), when to try again (`retry`), how a link becomes one person's (`links`).
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import psycopg

from wickwatch import log
from wickwatch.errors import UnavailableError
from wickwatch.notify.channels import Channel, Result
from wickwatch.notify.retry import Retry
from wickwatch.store import contacts, notices, readers
from wickwatch.store.connect import Connection, connect
from wickwatch.store.notices import Claimed
from wickwatch.texts import PLAIN, Choices, speaking

#: Longer than any way takes to send, also when each of its steps waits as long as it may.
LEASE = timedelta(seconds=120)

#: How often the outbox is looked at without being told: finds retries that came due.
LOOK_S = 1.0

#: Detail of a try is kept up to this length.
_DETAIL = 500


#: Makes what leaves of what was queued: links that are one person's own.
Dress = Callable[[Claimed], Claimed]


class Worker:
    """One thread for one way, with its own connection, from `start` until the stop event."""

    def __init__(
        self, database_url: str, way: str, channel: Channel, retry: Retry, stop: threading.Event, dress: Dress
    ) -> None:
        self._database_url = database_url
        self._way = way
        self._channel = channel
        self._retry = retry
        self._stop = stop
        self._dress = dress
        self._wake = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"notify-{way}", daemon=True)

    @property
    def alive(self) -> bool:
        """Whether it still works."""
        return self._thread.is_alive()

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def wake(self) -> None:
        """Look at the outbox now."""
        self._wake.set()

    def join(self, limit_s: float) -> None:
        """Wait until the notice under way is done with, once the stop event is set."""
        self._wake.set()
        self._thread.join(limit_s)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                with connect(self._database_url, f"notify-{self._way}", autocommit=True) as conn:
                    self._serve(conn)
            except (UnavailableError, psycopg.OperationalError) as error:
                log.warning("outbox.database_lost", way=self._way, why=error)
                self._stop.wait(LOOK_S)

    def _serve(self, conn: Connection) -> None:
        while not self._stop.is_set():
            self._wake.clear()
            while not self._stop.is_set():
                notice = notices.claim(conn, datetime.now(UTC), self._way, LEASE)
                if notice is None:
                    break
                with speaking(_reader(conn, notice)):
                    self._deliver(conn, self._dress(notice))
            self._wake.wait(LOOK_S)

    def _deliver(self, conn: Connection, notice: Claimed) -> None:
        result = send(self._channel, notice, datetime.now(UTC))
        try:
            record(conn, notice, result, self._retry, datetime.now(UTC))
        except psycopg.OperationalError:
            # The database went while this was sent: what is known must not be lost, or it is sent again.
            self._record_later(notice, result)
            raise

    def _record_later(self, notice: Claimed, result: Result) -> None:
        until = datetime.now(UTC) + LEASE
        while datetime.now(UTC) < until and not self._stop.wait(LOOK_S):
            with (
                suppress(UnavailableError, psycopg.OperationalError),
                connect(self._database_url, f"notify-{self._way}", autocommit=True) as conn,
            ):
                record(conn, notice, result, self._retry, datetime.now(UTC))
                return


def _reader(conn: Connection, notice: Claimed) -> Choices:
    """To whom a notice speaks: its person, or a program."""
    if notice.person_id is None or notice.way == "webhook":
        return PLAIN
    return readers.of_person(conn, notice.person_id, notice.facility_id)


def send(channel: Channel, notice: Claimed, at: datetime) -> Result:
    """Try once to send a claimed notice."""
    if notice.removed:
        return Result(False, "this way to reach the person is no longer used", final=True)
    try:
        return channel.send(notice, at)
    except Exception as error:
        # A bug in a way must not stop the others' notices; it is recorded, and loud in the log.
        log.warning("notice.bug", notice=notice.id, way=notice.way, error=type(error).__name__, why=error)
        return Result(False, f"{type(error).__name__}: {error}")


def record(conn: Connection, notice: Claimed, result: Result, retry: Retry, now: datetime) -> None:
    """Record what a try led to, and queue what follows from it, in one transaction."""
    detail = result.detail[:_DETAIL]
    fields = {"notice": notice.id, "way": notice.way, "alarm": notice.alarm_id, "tries": notice.tries, "detail": detail}
    with conn.transaction():
        if result.ok:
            notices.record_sent(conn, notice, now, detail)
            log.event("notice.sent", **fields, seconds=round((now - notice.created_at).total_seconds(), 3))
            return
        again_at = None if result.final else retry.again_at(notice.tries, now, notice.expires_at)
        next_way = retry.next_way(notice.tries, over=again_at is None)
        notices.record_failed(conn, notice, now, detail, again_at, next_contact=next_way)
        if result.gone and notice.contact_id is not None:
            contacts.gone(conn, notice.contact_id, now, detail)
    log.warning("notice.dead" if again_at is None else "notice.failed", **fields)
