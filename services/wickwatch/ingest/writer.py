"""The writer: takes batches from the inbox, commits them, and only then has them acknowledged.

Not here: one batch's statements (`writing`). While the database is away a batch is held and tried again, with longer
and longer pauses; nothing is acknowledged, so nothing is lost if the process dies meanwhile. A packet that the database
refuses for what it holds is found by halving its batch, and put aside.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from functools import partial

import psycopg

from wickwatch import log
from wickwatch.errors import UnavailableError
from wickwatch.ingest.heard import Directory
from wickwatch.ingest.inbox import Inbox
from wickwatch.ingest.metrics import Metrics
from wickwatch.ingest.writing import Outcome, Packet, quarantine_packet, reasons, write_batch
from wickwatch.store.connect import Connection, connect

#: Pauses between tries while the database is away: the first, each twice the one before, up to the last.
FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 10.0

#: How long to wait for packets before other chores get their turn.
TURN_S = 0.5

#: The database refused what the batch holds. Anything else it says is about itself, and passes.
_ABOUT_THE_DATA = (psycopg.DataError, psycopg.IntegrityError)


class Writer:
    """Runs in one thread, on one connection."""

    def __init__(
        self,
        database_url: str,
        inbox: Inbox,
        acknowledge: Callable[[Sequence[Packet]], None],
        metrics: Metrics,
        on_connect: Callable[[Connection], None],
    ) -> None:
        """`on_connect` sees every new connection; it may raise UnavailableError to have it tried again later."""
        self._url = database_url
        self._inbox = inbox
        self._acknowledge = acknowledge
        self._metrics = metrics
        self._on_connect = on_connect
        self._directory = Directory(whole=True)
        self._conn: Connection | None = None
        self._came_twice = False

    def open(self, stop: threading.Event) -> bool:
        """Wait for the database; false where `stop` came first."""
        pause = FIRST_PAUSE_S
        while not stop.is_set():
            try:
                self._connection()
            except (psycopg.Error, UnavailableError) as error:
                self._recover(error)
                stop.wait(pause)
                pause = min(pause * 2, LONGEST_PAUSE_S)
            else:
                return True
        return False

    def run(self, stop: threading.Event, chores: Callable[[Connection], None]) -> None:
        """Write until `stop` is set; the batch in hand is finished first. `chores` get the connection each turn."""
        while not stop.is_set():
            packets = self._inbox.take(TURN_S)
            if packets:
                self._write(packets, stop)
            self._metrics.waiting.set(len(self._inbox))
            self._once(chores)

    def last_words(self, say: Callable[[Connection], None]) -> None:
        """Do something in a transaction if the database answers, at the end."""
        self._once(say)

    def close(self) -> None:
        """Let go of the connection."""
        if self._conn is not None:
            self._conn.close()
            self._conn = None

    def _once(self, act: Callable[[Connection], None]) -> None:
        try:
            conn = self._connection()
            act(conn)
            conn.commit()
        except (psycopg.Error, UnavailableError) as error:
            self._recover(error)

    def _write(self, packets: Sequence[Packet], stop: threading.Event) -> None:
        """Commit and acknowledge these packets, or give up on `stop` with nothing acknowledged."""
        pause = FIRST_PAUSE_S
        refusals = 0
        write = partial(self._write_batch, packets)
        while True:
            try:
                self._commit(packets, write)
                return
            except _ABOUT_THE_DATA as error:
                self._recover(error)
                refusals += 1
                if len(packets) > 1:
                    middle = len(packets) // 2
                    self._write(packets[:middle], stop)
                    self._write(packets[middle:], stop)
                    return
                if refusals > 1:  # the second try knew nothing of before: it is the packet
                    write = partial(quarantine_packet, packets[0], _first_line(error))
            except (psycopg.Error, UnavailableError) as error:
                self._recover(error)
                if stop.wait(pause):
                    return
                pause = min(pause * 2, LONGEST_PAUSE_S)

    def _write_batch(self, packets: Sequence[Packet], conn: Connection) -> Outcome:
        return write_batch(conn, self._directory, packets, likely_new=self._new(packets))

    def _commit(self, packets: Sequence[Packet], write: Callable[[Connection], Outcome]) -> None:
        began = time.monotonic()
        with self._connection().transaction():
            outcome = write(self._connection())
        self._acknowledge(packets)
        self._came_twice = outcome.written.duplicates + outcome.written.conflicts > 0
        self._metrics.add(outcome)
        self._metrics.write_s.observe(time.monotonic() - began)
        self._metrics.lag_s.set(time.time() - packets[0].arrived)
        first = {row.reason: row for row in reversed(outcome.refused)}
        for reason, records in sorted(reasons(outcome.refused).items()):
            row = first[reason]
            log.warning("reading.rejected", reason=reason, records=records, topic=row.topic, detail=row.detail)

    def _new(self, packets: Sequence[Packet]) -> bool:
        """Whether these packets hardly can have come before; after a broken session the broker sends again."""
        return not self._came_twice and not any(packet.repeated for packet in packets)

    def _connection(self) -> Connection:
        if self._conn is None or self._conn.closed:
            self._conn = connect(self._url, "ingest")
            self._on_connect(self._conn)
            self._conn.commit()
        return self._conn

    def _recover(self, error: Exception) -> None:
        """After a failure: a connection that is still good is kept, what was learnt in the transaction is not."""
        log.warning("database.failed", error=_first_line(error))
        self._metrics.failed()
        self._directory.clear()
        if self._conn is not None and (self._conn.broken or not isinstance(error, _ABOUT_THE_DATA)):
            self.close()


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]
