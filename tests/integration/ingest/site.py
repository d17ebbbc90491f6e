"""A facility with gateways that publish to a real broker, and ingest running against it.

Not here: what is expected of them.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from subprocess import Popen
from time import time

import orjson
import psycopg
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.parts.process import spawn, stop, wait_until
from wickwatch import ingest
from wickwatch.settings import Settings
from wickwatch.urls import MQTT_SCHEMES, endpoint

DEVICE = "urn:dev:mac:0024befffe804ff1"
TOPIC = "wickwatch/1/birchwood/gw-01/senml"
NOW = float(int(time()))


def pack(*records: dict[str, object], device: str = DEVICE, at: float = NOW) -> bytes:
    """A pack of one device; its first record carries the base name and time."""
    first, *others = records
    return orjson.dumps([{"bn": f"{device}:", "bt": at, **first}, *others])


def tension(value: float, ago_s: float = 0.0) -> dict[str, object]:
    """A record of tension."""
    return {"n": "tension", "u": "hPa", "v": value, "t": -ago_s}


def found(url: str, facility: str = "birchwood") -> None:
    """Found a facility."""
    with psycopg.connect(url) as conn:
        conn.execute("INSERT INTO facility (slug, name, zone) VALUES (%s, %s, 'Europe/Oslo')", (facility, facility))


def rows(url: str, statement: str) -> list[tuple[object, ...]]:
    """What a statement finds."""
    with psycopg.connect(url) as conn:
        return conn.execute(statement).fetchall()  # type: ignore[call-overload,no-any-return]


def readings(url: str) -> list[tuple[object, ...]]:
    """(channel's name, seconds before NOW, value) of every reading."""
    statement = "SELECT name, extract(epoch FROM at)::float, value FROM reading JOIN channel c ON c.id = channel_id"
    return sorted((name, NOW - at, value) for name, at, value in rows(url, statement))  # type: ignore[operator]


def refused(url: str) -> list[tuple[object, ...]]:
    """(reason, records) of every row of the quarantine, in the order they came."""
    return rows(url, "SELECT reason, records FROM quarantine ORDER BY id")


def count(url: str) -> int:
    """Readings stored."""
    return int(str(rows(url, "SELECT count(*) FROM reading")[0][0]))


def wait_for(url: str, wanted: int, limit_s: float = 20.0) -> None:
    """Return once so many readings are stored."""
    wait_until(lambda: count(url) >= wanted, f"{wanted} readings stored", limit_s)


class Gateway:
    """A gateway's client, which keeps trying until the broker has what it published."""

    def __init__(self, url: str, name: str = "gateway", will: str | None = None) -> None:
        where = endpoint(url, MQTT_SCHEMES)
        self._client = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=False)
        self._client.username_pw_set(where.username, where.password)
        self._client.reconnect_delay_set(1, 1)
        self._client.max_inflight_messages_set(1000)
        if will is not None:
            self._client.will_set(will, b"offline", 1, retain=True)
        self._room = threading.Semaphore(1000)
        self._client.on_publish = lambda *_: self._room.release()
        self.connections = 0
        self._client.on_connect = self._on_connect
        self._client.connect(where.host, where.port)
        self._client.loop_start()

    def publish(self, payload: bytes, topic: str = TOPIC, *, retain: bool = False) -> None:
        """Publish at QoS 1; waits only while a thousand are unconfirmed."""
        self._room.acquire()
        self._client.publish(topic, payload, 1, retain)

    def confirmed(self, limit_s: float = 30.0) -> None:
        """Return once the broker has everything."""
        for taken in range(1000):
            if not self._room.acquire(timeout=limit_s):
                raise TimeoutError(f"{1000 - taken} messages are not confirmed")
        self._room.release(1000)

    def _on_connect(self, *_: object) -> None:
        self.connections += 1

    def vanish(self) -> None:
        """Break the connection without a word, as a gateway without power does."""
        sock = self._client.socket()
        self._client.loop_stop()
        assert sock is not None
        sock.close()

    def stop(self) -> None:
        """Say good-bye."""
        self._client.disconnect()
        self._client.loop_stop()


@contextmanager
def gateway(url: str, name: str = "gateway") -> Iterator[Gateway]:
    """A gateway for the length of a block."""
    client = Gateway(url, name)
    try:
        yield client
    finally:
        client.stop()


@contextmanager
def ingesting(url: str, mqtt_url: str) -> Iterator[threading.Event]:
    """Ingest in a thread of this process; set the event to stop it early."""
    ending = threading.Event()
    settings = Settings(database_url=url, mqtt_url=mqtt_url, secret_key="test")
    thread = threading.Thread(target=ingest.run, args=(settings, ending), daemon=True)
    thread.start()
    try:
        yield ending
    finally:
        ending.set()
        thread.join(20)
        assert not thread.is_alive()


def ingest_process(url: str, mqtt_url: str, log: Path, *options: str) -> Popen[bytes]:
    """Ingest as it is deployed, in a process of its own that may be killed."""
    env = {**os.environ, "WICKWATCH_DATABASE_URL": url, "WICKWATCH_MQTT_URL": mqtt_url, "WICKWATCH_SECRET_KEY": "test"}
    return spawn([sys.executable, "-m", "wickwatch", "ingest", *options], log, env=env)


@contextmanager
def two_copies(url: str, mqtt_url: str, log: Path, *options: str) -> Iterator[None]:
    """Two processes of ingest, both of them subscribed."""
    with ExitStack() as ending:
        for _ in range(2):
            ending.callback(stop, ingest_process(url, mqtt_url, log, *options))
        subscribed(url, copies=2)
        yield


def subscribed(url: str, copies: int = 1) -> None:
    """Return once ingest's sessions are up, which its heartbeat tells."""
    beats = "SELECT count(*) FROM heartbeat WHERE part = 'ingest' AND healthy"
    wait_until(lambda: rows(url, beats)[0][0] == copies, "ingest connected", 30)
