"""From publishing the reading that makes a reservoir empty to the mail at an SMTP server, through all of it.

Real broker, database and mail server; ingest, watch and notify as processes of their own, as deployed. The levels of
the reservoirs fall slowly and pass the level at which their lines starve one after another, at times that fall anywhere
between two sweeps. Not here: how fast any part is alone.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.benchmarks import Figure
from tests.builders.emptying import TOPIC, house, records
from tests.parts import broker as broker_part
from tests.parts import databases, mail, timescale
from tests.parts.broker import SIMULATOR, Broker
from tests.parts.mail import Mailbox
from tests.parts.postgres import running
from tests.parts.process import wait_until
from wickwatch.store.connect import connect
from wickwatch.urls import MQTT_SCHEMES, endpoint
from wickwatch.watch import SWEEP

TRIALS = 20
#: Between the moments at which two reservoirs empty: no divisor of the sweep's period, so that all phases occur.
APART_S = 13.0
EVERY_S = 5.0


def run(scale: float) -> list[Figure]:
    """Median and worst of the seconds from the reading to the mail."""
    trials = max(3, int(TRIALS * scale))
    with ExitStack() as stack:
        server = stack.enter_context(running(timescale.binaries()))
        url = stack.enter_context(databases.migrated(server.url()))
        broker = stack.enter_context(broker_part.running())
        mailbox = stack.enter_context(mail.running())
        _house(url, trials)
        stack.enter_context(_services(url, broker, mailbox))
        seconds = _empty(broker, mailbox, trials)
    on = f"{len(seconds)} reservoirs, a sweep every {SWEEP.total_seconds():.0f} s, a reading every {EVERY_S:.0f} s"
    return [
        Figure("emptying reading to mail, median", float(np.median(seconds)), "s", on),
        Figure("emptying reading to mail, worst", max(seconds), "s", on),
    ]


def _house(url: str, rooms: int) -> None:
    with connect(url, "bench") as conn:
        house(conn, rooms, datetime.now(UTC) - timedelta(days=1))


@contextmanager
def _services(url: str, broker: Broker, mailbox: Mailbox) -> Iterator[None]:
    environment = os.environ | {
        "WICKWATCH_DATABASE_URL": url,
        "WICKWATCH_MQTT_URL": broker.url(),
        "WICKWATCH_SMTP_URL": mailbox.url,
        "WICKWATCH_SECRET_KEY": "only for this measurement",
    }
    with TemporaryDirectory() as folder:
        processes = []
        for name in ("ingest", "watch", "notify"):
            with Path(folder, name).open("wb") as log:
                command = [sys.executable, "-m", "wickwatch", name]
                processes.append(subprocess.Popen(command, env=environment, stdout=log, stderr=log))
        try:
            with connect(url, "bench", autocommit=True) as conn:
                alive = "SELECT count(DISTINCT part) FROM heartbeat WHERE part IN ('ingest', 'watch', 'notify')"
                wait_until(lambda: conn.execute(alive).fetchone() == (3,), "the services to beat", 60)
            yield
        finally:
            for process in processes:
                process.terminate()
            for process in processes:
                process.wait(30)


def _empty(broker: Broker, mailbox: Mailbox, trials: int) -> list[float]:
    """Let the reservoirs run empty; returns the seconds to each one's mail."""
    client = Client(CallbackAPIVersion.VERSION2, client_id="bench")
    where = endpoint(broker.url(SIMULATOR), MQTT_SCHEMES)
    client.username_pw_set(where.username, where.password)
    client.connect(where.host, where.port)
    client.loop_start()
    first = time.time() + 60.0
    passes = {n: first + n * APART_S for n in range(1, trials + 1)}
    published: dict[int, float] = {}
    for at in np.arange(first - 7200, time.time(), 60.0):
        _publish(client, float(at), passes, {})
    last = max(passes.values()) + 30.0
    while time.time() < last:
        _publish(client, time.time(), passes, published)
        time.sleep(EVERY_S)
    mailbox_of = {n: f"R{n}," for n in passes}

    def arrived() -> dict[int, float]:
        return {
            n: seen
            for n in passes
            for subject, seen in _subjects(mailbox)
            if "empty" in subject and mailbox_of[n] in subject
        }

    wait_until(lambda: len(arrived()) == trials, "a mail for every reservoir", 180)
    client.loop_stop()
    return [arrived()[n] - published[n] for n in passes]


def _subjects(mailbox: Mailbox) -> list[tuple[str, float]]:
    return [(str(each.message["Subject"]), each.arrived) for each in mailbox.mails]


def _publish(client: Client, at: float, passes: dict[int, float], published: dict[int, float]) -> None:
    client.publish(TOPIC, json.dumps(records(at, passes)), qos=1)
    for number, empties in passes.items():
        if empties <= at:
            published.setdefault(number, time.time())
