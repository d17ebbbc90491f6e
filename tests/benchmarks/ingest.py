"""Draining a queued backlog from a real broker into a real database, beside COPY of the same rows into the same table.

The backlog waits at the broker for the session of the first copy of ingest, as it does after an outage. COPY is one
binary stream in the order the readings were taken, made before the clock starts; it parses, checks and remembers
nothing, so it is what this machine's disk and index can do at best.
"""

from __future__ import annotations

import multiprocessing
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np
import orjson
import psycopg
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.benchmarks import Figure
from tests.parts import broker as broker_part
from tests.parts import databases, plain, timescale
from tests.parts.broker import SIMULATOR, Broker
from tests.parts.postgres import running
from tests.parts.process import free_port, wait_until
from wickwatch.ingest.process import run as run_ingest
from wickwatch.settings import Settings
from wickwatch.store.binary import as_copy
from wickwatch.urls import MQTT_SCHEMES, endpoint

READINGS = 1_000_000
GATEWAYS = 50
PACK = 20
EVERY_S = 10
SESSION = "wickwatch-ingest-1"


def run(scale: float) -> list[Figure]:
    """Readings per second, drained and copied, with TimescaleDB and without."""
    packs = max(GATEWAYS, int(READINGS * scale) // PACK)
    return [
        *_measure("TimescaleDB", timescale.binaries(), packs),
        *_measure("plain PostgreSQL", plain.binaries(), packs),
    ]


def _measure(name: str, binaries: object, packs: int) -> list[Figure]:
    count = packs * PACK
    with running(binaries) as server, databases.migrated(server.url()) as url, broker_part.running() as broker:  # type: ignore[arg-type]
        with psycopg.connect(url) as conn:
            conn.execute(
                "INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo')"
            )
        start = int((datetime.now(UTC) - timedelta(seconds=packs / GATEWAYS * EVERY_S + 60)).timestamp())
        _queue(broker, start, packs)
        drained_s = _drain(url, broker, count)
        with psycopg.connect(url) as conn:
            stored = conn.execute("SELECT count(*) FROM reading").fetchone()
            assert stored == (count,), f"{stored} of {count} readings stored"
        copied_s = _copy(url, start, packs)
    on = f"{count:,} readings in packs of {PACK}, {GATEWAYS * PACK} channels, {name}"
    return [
        Figure("ingest drains a backlog", count / drained_s, "readings/s", on),
        Figure("binary COPY of the same rows", count / copied_s, "readings/s", on),
        Figure("ingest against COPY", copied_s / drained_s, "ratio", on),
    ]


def _pack(start: int, number: int) -> tuple[str, bytes]:
    gateway, step = number % GATEWAYS, number // GATEWAYS
    records: list[dict[str, object]] = [
        {"n": f"0024befffe{gateway * PACK + probe:06x}:tension", "v": 100 + (step * 7 + probe) % 50 / 10}
        for probe in range(PACK)
    ]
    records[0] |= {"bver": 26, "bn": "urn:dev:mac:", "bt": start + step * EVERY_S, "bu": "hPa"}
    return f"wickwatch/1/birchwood/gw-{gateway:02}/senml", orjson.dumps(records)


def _queue(broker: Broker, start: int, packs: int) -> None:
    """Leave the packs with the broker, for a session that is not there."""
    session = _client(broker.url(), SESSION, clean=False)
    subscribed = threading.Event()
    session.on_subscribe = lambda *_: subscribed.set()
    session.subscribe([("wickwatch/1/+/+/senml", 1)])
    assert subscribed.wait(10)
    session.disconnect()
    session.loop_stop()
    publisher = _client(broker.url(SIMULATOR), "publisher", clean=True)
    confirmed = threading.Semaphore(2000)
    publisher.on_publish = lambda *_: confirmed.release()
    for number in range(packs):
        confirmed.acquire()
        publisher.publish(*_pack(start, number), qos=1)
    for _ in range(2000):
        confirmed.acquire()
    publisher.disconnect()
    publisher.loop_stop()


def _client(url: str, name: str, *, clean: bool) -> Client:
    where = endpoint(url, MQTT_SCHEMES)
    client = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=clean)
    client.username_pw_set(where.username, where.password)
    client.max_inflight_messages_set(2000)
    connected = threading.Event()
    client.on_connect = lambda *_: connected.set()
    client.connect(where.host, where.port)
    client.loop_start()
    assert connected.wait(10)
    return client


def _drain(url: str, broker: Broker, count: int) -> float:
    """Seconds from the session's coming up until ingest has committed everything."""
    with _ingesting(url, broker) as port:
        wait_until(lambda: _metric(port, "connected") == 1, "a session", 30, 0.01)
        began = time.monotonic()
        wait_until(lambda: _metric(port, "stored_total") >= count, f"{count} readings stored", 600, 0.1)
        return time.monotonic() - began


@contextmanager
def _ingesting(url: str, broker: Broker) -> Iterator[int]:
    """Ingest in a process of its own; the port that shows its numbers."""
    context = multiprocessing.get_context("spawn")
    stop, port = context.Event(), free_port()
    process = context.Process(target=_ingest, args=(url, broker.url(), port, stop), daemon=True)
    process.start()
    try:
        yield port
    finally:
        stop.set()
        process.join(20)
        process.kill()


def _ingest(url: str, mqtt_url: str, port: int, stop: threading.Event) -> None:
    settings = Settings(database_url=url, mqtt_url=mqtt_url, secret_key="benchmark")
    run_ingest(settings, stop, metrics_port=port)


def _metric(port: int, name: str) -> float:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics") as answer:
            lines = answer.read().decode().splitlines()
    except OSError:
        return 0.0
    return next((float(line.split()[1]) for line in lines if line.startswith(f"wickwatch_ingest_{name} ")), 0.0)


def _copy(url: str, start: int, packs: int) -> float:
    """Seconds for COPY of the same rows into the same table, emptied, as one stream and transaction."""
    numbers = np.repeat(np.arange(packs), PACK)
    channels = (numbers % GATEWAYS * PACK + np.tile(np.arange(PACK), packs) + 1).astype(np.int32)
    at = ((start + numbers // GATEWAYS * EVERY_S) * 1_000_000).astype("M8[us]")
    data = as_copy((channels, at, np.full(len(at), 100.0)))
    with psycopg.connect(url) as conn:
        conn.execute("TRUNCATE reading")
        conn.commit()
        began = time.monotonic()
        with conn.cursor().copy("COPY reading (channel_id, at, value) FROM STDIN (FORMAT BINARY)") as copy:
            for offset in range(0, len(data), 1 << 20):
                copy.write(data[offset : offset + (1 << 20)])
        conn.commit()
        return time.monotonic() - began
