"""The status page of a large facility, as the server makes it: time to the last byte, and bytes over the wire.

Asked of the real server over loopback, one visitor after another, for longer than a snapshot lives, so that making
it anew is in the figures. Not here: what a browser then takes to draw it.
"""

from __future__ import annotations

import http.client
import statistics
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from urllib.parse import urlencode

import psycopg

from tests.benchmarks import Figure
from tests.builders import events, scale
from tests.parts import databases, timescale
from tests.parts.postgres import running
from tests.parts.process import free_port, wait_until
from wickwatch.settings import Settings
from wickwatch.store import people
from wickwatch.web import run as run_web

ROOMS = 1000
POTS = 20
SECONDS = 30.0
PAUSE_S = 0.1
PASSWORD = "open sesame today"


def run(scale_: float) -> list[Figure]:
    """95th percentile and median of the status page, and its size."""
    rooms = max(1, int(ROOMS * scale_))
    with running(timescale.binaries()) as server, databases.migrated(server.url()) as url:
        now = datetime.now(UTC)
        with psycopg.connect(url) as conn:
            facility = scale.facility(conn, now, rooms, POTS)
            people.add_person(conn, "Mara", "viewer", None, PASSWORD)
            events.alive(conn, [facility], now)
        with serving(url) as port:
            cookie = sign_in(port)
            first, _ = _ask(port, cookie)
            used = time.process_time()
            times, size = _ask_for(port, cookie, SECONDS)
            used = time.process_time() - used
    on = f"{rooms} rooms, {rooms * POTS} probes"
    return [
        Figure("status page, 95th percentile", statistics.quantiles(times, n=20)[-1] * 1000, "ms", on),
        Figure("status page, median", statistics.median(times) * 1000, "ms", f"{on}, {len(times)} visits"),
        Figure("status page, processor time a visit", used / len(times) * 1000, "ms", f"{on}, asking included"),
        Figure("status page, first visit after a start", first * 1000, "ms", on),
        Figure("status page over the wire", size / 1000, "kB", f"{on}, gzip"),
    ]


@contextmanager
def serving(url: str) -> Iterator[int]:
    """The port of a server over a database, in a thread of this process."""
    port = free_port()
    stop = threading.Event()
    settings = Settings(database_url=url, secret_key="k" * 32, base_url=f"http://127.0.0.1:{port}")
    serving = threading.Thread(target=run_web, args=(settings, stop), kwargs={"port": port}, daemon=True)
    serving.start()
    try:
        wait_until(lambda: _answers(port), "the web server to answer", 20)
        yield port
    finally:
        stop.set()
        serving.join(15)


def _answers(port: int) -> bool:
    try:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
        connection.request("GET", "/healthz")
        return connection.getresponse().status == 200
    except OSError:
        return False


def sign_in(port: int) -> str:
    """A session's cookie."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    form = urlencode({"name": "Mara", "password": PASSWORD})
    connection.request("POST", "/sign-in", form, {"Content-Type": "application/x-www-form-urlencoded"})
    cookie = connection.getresponse().getheader("Set-Cookie")
    assert cookie is not None
    return cookie.partition(";")[0]


def _ask(port: int, cookie: str) -> tuple[float, int]:
    """Seconds to the last byte, and bytes of the body."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    started = time.perf_counter()
    connection.request("GET", "/", headers={"Cookie": cookie, "Accept-Encoding": "gzip", "Accept": "text/html"})
    answer = connection.getresponse()
    body = answer.read()
    taken = time.perf_counter() - started
    assert answer.status == 200
    assert answer.getheader("Content-Encoding") == "gzip"
    return taken, len(body)


def _ask_for(port: int, cookie: str, seconds: float) -> tuple[list[float], int]:
    times, size = [], 0
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        taken, size = _ask(port, cookie)
        times.append(taken)
        time.sleep(PAUSE_S)
    return times, size
