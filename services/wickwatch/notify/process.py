"""The process: workers that send, beacons that show, signs of life inside and out.

It waits for notifications of the database, so that a call leaves as soon as it is queued, and looks by itself now and
then, so that a lost notification costs a second. Several copies share the outbox. Not here: any of the parts' work.
"""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from functools import cache, partial
from uuid import UUID

import psycopg

from wickwatch import log
from wickwatch.errors import UnavailableError
from wickwatch.notify import heartbeat, last_day, links, vapid
from wickwatch.notify.beacons import Beacons
from wickwatch.notify.channels import Channel, Email, Push, Service, Webhook
from wickwatch.notify.outbox import LOOK_S, Worker
from wickwatch.notify.retry import Retry
from wickwatch.settings import Settings
from wickwatch.store import alarms, jobs, notices, rota
from wickwatch.store.connect import Connection, connect
from wickwatch.urls import MAIL_SCHEMES, MQTT_SCHEMES, endpoint

#: Threads for each way: a mail server takes one after the other anyway; webhooks differ and may hang.
WORKERS = {"email": 2, "webhook": 4, "push": 2, "service": 2}

#: Notices failing for longer than this mean that the process does not do its job.
FAILING_MOST = timedelta(minutes=10)

#: Every room is compared with what is published this often, whatever notifications came.
COMPARE_S = 60.0

#: How long a notice under way may take once the process is told to stop.
_GRACE_S = 20.0


def run(settings: Settings, stop: threading.Event, retry: Retry | None = None) -> None:
    """Serve until `stop` is set; a database or broker that is away is waited for."""
    server = endpoint(settings.smtp_url, MAIL_SCHEMES) if settings.smtp_url else None
    mail = Email(server, settings.sender, partial(last_day.picture, settings.database_url))
    push = Push(partial(_vapid, settings.database_url, settings.sender))
    channels: dict[str, Channel] = {"email": mail, "webhook": Webhook(), "push": push, "service": Service()}
    dress = partial(links.personal, settings.secret_key, settings.base_url)
    workers = [
        Worker(settings.database_url, way, channels[way], retry or Retry(), stop, dress)
        for way, count in WORKERS.items()
        for _ in range(count)
    ]
    beacons = None
    if settings.mqtt_url:
        beacons = Beacons(endpoint(settings.mqtt_url, MQTT_SCHEMES), f"wickwatch-notify-{jobs.this_instance()}")
        beacons.start()
    for worker in workers:
        worker.start()
    try:
        _Loop(settings, stop, workers, beacons).run()
    finally:
        end = time.monotonic() + _GRACE_S
        for worker in workers:
            worker.join(max(0.0, end - time.monotonic()))
        if beacons is not None:
            beacons.stop()


@cache
def _vapid(database_url: str, sender: str) -> vapid.Vapid:
    with connect(database_url, "notify-push-key", autocommit=True) as conn:
        return vapid.load(conn, sender)


class _Loop:
    """What happens at intervals, and when the database says that something changed."""

    def __init__(
        self, settings: Settings, stop: threading.Event, workers: list[Worker], beacons: Beacons | None
    ) -> None:
        self._settings = settings
        self._stop = stop
        self._workers = workers
        self._beacons = beacons
        self._instance = jobs.this_instance()
        self._uncovered: list[tuple[str, bool]] = []
        self._due = {"beat": 0.0, "compare": 0.0, "heartbeat": 0.0}

    def run(self) -> None:
        url = self._settings.database_url
        while not self._stop.is_set():
            try:
                with (
                    connect(url, "notify", autocommit=True) as conn,
                    connect(url, "notify-listen", autocommit=True) as listener,
                ):
                    self._serve(conn, listener)
                    jobs.leave(conn, "notify", self._instance)
            except (UnavailableError, psycopg.OperationalError) as error:
                log.warning("notify.database_lost", why=error)
                self._stop.wait(LOOK_S)

    def _serve(self, conn: Connection, listener: Connection) -> None:
        listener.execute(f"LISTEN {notices.QUEUED}")
        listener.execute(f"LISTEN {alarms.CHANGED}")
        self._due["compare"] = 0.0  # what was said while nobody listened
        while not self._stop.is_set():
            notices.tidy(conn, datetime.now(UTC))
            self._publish(conn)
            self._live(conn)
            self._listen(listener)

    def _listen(self, listener: Connection) -> None:
        for told in listener.notifies(timeout=LOOK_S, stop_after=1):
            if told.channel == notices.QUEUED:
                for worker in self._workers:
                    worker.wake()
            elif self._beacons is not None:
                self._beacons.changed(UUID(told.payload))

    def _publish(self, conn: Connection) -> None:
        if self._beacons is not None:
            self._beacons.publish(conn, everything=self._is_due("compare", COMPARE_S))

    def _live(self, conn: Connection) -> None:
        if self._is_due("beat", jobs.BEAT_SECONDS):
            self._beat(conn)
        if self._settings.heartbeat_url and self._is_due("heartbeat", heartbeat.EVERY_S):
            self._heartbeat(conn)

    def _beat(self, conn: Connection) -> None:
        now = datetime.now(UTC)
        outbox = notices.standing(conn, now - timedelta(days=1))
        why = []
        if outbox.failing_since is not None and now - outbox.failing_since > FAILING_MOST:
            why.append(f"{outbox.failing} notices can't be sent")
        if not all(worker.alive for worker in self._workers):
            why.append("a worker stopped")
        detail: dict[str, object] = {"queued": outbox.queued, "failing": outbox.failing, "dead_in_a_day": outbox.dead}
        detail["nobody_on_duty"] = self._nobody_on_duty(conn, now)
        if self._beacons is not None:
            detail["beacons"] = self._beacons.connected
        jobs.beat(conn, "notify", self._instance, not why, {**detail, "why": "; ".join(why)})

    def _nobody_on_duty(self, conn: Connection, now: datetime) -> list[str]:
        """Facilities whose rota reaches nobody now; logged when that changes."""
        uncovered = rota.uncovered(conn, now)
        if uncovered != self._uncovered:
            for facility, managed in uncovered:
                log.warning("rota.nobody", facility=facility, called="managers" if managed else "nobody")
            self._uncovered = uncovered
        return [facility for facility, _ in uncovered]

    def _heartbeat(self, conn: Connection) -> None:
        beats = jobs.parts(conn)
        silent = heartbeat.silent_parts(beats)
        if silent:
            log.warning("heartbeat.withheld", silent=",".join(silent))
            self._due["heartbeat"] = time.monotonic() + jobs.BEAT_SECONDS
        elif heartbeat.is_first(beats, self._instance):
            # In a thread of its own: an address that hangs must not hold up calls.
            threading.Thread(target=heartbeat.fetch, args=(self._settings.heartbeat_url,), daemon=True).start()

    def _is_due(self, what: str, every_s: float) -> bool:
        now = time.monotonic()
        if now < self._due[what]:
            return False
        self._due[what] = now + every_s
        return True
