"""Reservoirs empty while every part is killed in turn: one alarm and one mail for each."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psycopg
import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.builders.emptying import TOPIC, house, records
from tests.parts import broker as broker_part
from tests.parts import databases, mail, timescale
from tests.parts.broker import SIMULATOR, Broker
from tests.parts.mail import Mailbox
from tests.parts.postgres import running
from tests.parts.process import wait_until
from wickwatch.alarms.flood import BEGINS_ABOVE
from wickwatch.store.connect import connect
from wickwatch.urls import MQTT_SCHEMES, endpoint

#: As many alarms as are told one by one, however many of them come in one sweep; of more a flood's summary could tell.
RESERVOIRS = BEGINS_ABOVE
APART_S = 11.0
EVERY_S = 5.0


class Services:
    """The services as processes, each of which may be killed and started again."""

    def __init__(self, url: str, broker: Broker, mailbox: Mailbox, logs: Path) -> None:
        self._logs = logs
        self._environment = os.environ | {
            "WICKWATCH_DATABASE_URL": url,
            "WICKWATCH_MQTT_URL": broker.url(),
            "WICKWATCH_SMTP_URL": mailbox.url,
            "WICKWATCH_SECRET_KEY": "only for this test",
        }
        self._processes: dict[str, subprocess.Popen[bytes]] = {}

    def start(self, name: str) -> None:
        with (self._logs / f"{name}.log").open("ab") as log:
            command = [sys.executable, "-m", "wickwatch", name]
            self._processes[name] = subprocess.Popen(command, env=self._environment, stdout=log, stderr=log)

    def kill(self, name: str) -> None:
        self._processes[name].kill()
        self._processes[name].wait()
        self.start(name)

    def stop(self) -> None:
        for process in self._processes.values():
            process.kill()
            process.wait()


@contextmanager
def publishing(broker: Broker, empties: dict[int, float]) -> Iterator[Client]:
    """A gateway that keeps what the broker has not confirmed."""
    client = Client(CallbackAPIVersion.VERSION2, client_id="gw-01", clean_session=False)
    where = endpoint(broker.url(SIMULATOR), MQTT_SCHEMES)
    client.username_pw_set(where.username, where.password)
    client.reconnect_delay_set(1, 1)
    client.connect(where.host, where.port)
    client.loop_start()
    at = min(empties.values()) - 7200
    while at < time.time():
        client.publish(TOPIC, json.dumps(records(at, empties)), qos=1)
        at += 60.0
    yield client
    client.disconnect()
    client.loop_stop()


def asked(url: str, statement: str) -> list[tuple[object, ...]]:
    """Rows, once the database answers."""
    while True:
        try:
            with psycopg.connect(url) as conn:
                return conn.execute(statement.encode()).fetchall()
        except psycopg.OperationalError:
            time.sleep(0.2)


@pytest.mark.timeout(900)
def test_killing_everything_in_turn_raises_each_alarm_once_and_calls_once(tmp_path: Path) -> None:
    with (
        running(timescale.binaries()) as server,
        databases.migrated(server.url()) as url,
        broker_part.running() as broker,
        mail.running() as mailbox,
    ):
        with connect(url, "test") as conn:
            house(conn, RESERVOIRS, datetime.now(UTC) - timedelta(days=1))
        services = Services(url, broker, mailbox, tmp_path)
        for name in ("ingest", "watch", "notify"):
            services.start(name)

        def kill_database() -> None:
            server.kill()
            server.start()

        def kill_broker() -> None:
            broker.kill()
            broker.start()

        kills = [
            lambda: services.kill("watch"),
            lambda: services.kill("ingest"),
            lambda: services.kill("notify"),
            kill_broker,
            kill_database,
        ]
        first = time.time() + 45.0
        empties = {number: first + number * APART_S for number in range(1, RESERVOIRS + 1)}
        try:
            with publishing(broker, empties) as client:
                last = max(empties.values()) + 60.0
                turn = 0
                while time.time() < last:
                    client.publish(TOPIC, json.dumps(records(time.time(), empties)), qos=1)
                    time.sleep(EVERY_S)
                    if turn % 2 == 1:
                        kills[turn // 2 % len(kills)]()
                    turn += 1
                counted = "SELECT count(*) FROM alarm WHERE kind = 'reservoir-empty'"
                wait_until(lambda: asked(url, counted)[0][0] >= RESERVOIRS, "an alarm for every reservoir", 150)  # type: ignore[operator]
                sent = "SELECT count(*) FROM notice WHERE state = 'queued'"
                wait_until(lambda: asked(url, sent) == [(0,)], "every notice to leave", 150)
        finally:
            services.stop()
        raised = asked(url, "SELECT subject_name, count(*) FROM alarm WHERE kind = 'reservoir-empty' GROUP BY 1")
        assert dict(raised) == {f"R{number}": 1 for number in range(1, RESERVOIRS + 1)}
        journal = asked(
            url, "SELECT count(*) - count(DISTINCT (alarm_id, event)) FROM alarm_journal WHERE event = 'raised'"
        )
        assert journal == [(0,)]
        mails = Counter(str(each.message["Message-ID"]) for each in mailbox.mails)
        queued = asked(url, "SELECT count(*) FROM notice WHERE state = 'sent'")
        assert len(mails) == queued[0][0]
        # A crash between sending and recording may send once more, under the same id, and never more often than that.
        assert max(mails.values()) <= 2
        empty = {
            str(each.message["Subject"]) for each in mailbox.mails if "reservoir empty" in str(each.message["Subject"])
        }
        assert len(empty) == RESERVOIRS
