"""A hundred people who leave the status page of a large facility open, while readings come in every minute.

Viewers are another process and do what the page's script does: they listen to the stream, and fetch what changed when
it says so. What is counted is processor time of the server's process; the database's is not in it.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import random
import threading
import time
from datetime import UTC, datetime

import httpx
import psycopg

from tests.benchmarks import Figure
from tests.benchmarks.page import PASSWORD, POTS, ROOMS, serving, sign_in
from tests.builders import events, scale
from tests.parts import databases, timescale
from tests.parts.postgres import running
from wickwatch.store import people

VIEWERS = 100
SECONDS = 90.0
READING_S = 60.0

# Every probe is read anew: the newest bucket of each changes a little.
_READ = """
UPDATE rollup_5m r SET last = last + random() - 0.5, last_at = now()
FROM (SELECT channel_id, max(at) AS at FROM rollup_5m GROUP BY channel_id) newest
WHERE r.channel_id = newest.channel_id AND r.at = newest.at
"""


def run(scale_: float) -> list[Figure]:
    """Share of a core, and what each viewer was sent."""
    rooms = max(1, int(ROOMS * scale_))
    with running(timescale.binaries()) as server, databases.migrated(server.url()) as url:
        now = datetime.now(UTC)
        with psycopg.connect(url) as conn:
            facility = scale.facility(conn, now, rooms, POTS)
            people.add_person(conn, "Mara", "viewer", None, PASSWORD)
            events.alive(conn, [facility], now)
        stop = threading.Event()
        reading = threading.Thread(target=_read, args=(url, facility, stop))
        reading.start()
        try:
            with serving(url) as port:
                used, fetched, octets = _watched(port)
        finally:
            stop.set()
            reading.join()
    on = f"{VIEWERS} viewers, {rooms} rooms, {rooms * POTS} probes, a reading a minute"
    return [
        Figure("live status page, processor time of the server", 100.0 * used, "% of a core", on),
        Figure("live status page, parts fetched", 60.0 * fetched / VIEWERS, "a viewer and minute", on),
        Figure("live status page, over the wire", 60.0 * octets / VIEWERS / 1000, "kB a viewer and minute", on),
    ]


def _watched(port: int) -> tuple[float, float, float]:
    """Processor seconds, parts and octets in a second, once everybody has the page."""
    cookie = sign_in(port)
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    viewers = context.Process(target=_view, args=(port, cookie, theirs))
    viewers.start()
    assert ours.poll(120), "the viewers did not start"
    ours.recv()
    used, began = time.process_time(), time.perf_counter()
    assert ours.poll(SECONDS + 60), "the viewers did not end"
    fetched, octets = ours.recv()
    elapsed = time.perf_counter() - began
    used = time.process_time() - used
    viewers.join()
    return used / elapsed, fetched / elapsed, octets / elapsed


def _view(port: int, cookie: str, pipe: multiprocessing.connection.Connection) -> None:  # type: ignore[name-defined]
    asyncio.run(_all(port, cookie, pipe))


async def _all(port: int, cookie: str, pipe: multiprocessing.connection.Connection) -> None:  # type: ignore[name-defined]
    counts = [0, 0]
    limits = httpx.Limits(max_connections=3 * VIEWERS)
    headers = {"Cookie": cookie, "Accept-Encoding": "gzip"}
    async with httpx.AsyncClient(
        base_url=f"http://127.0.0.1:{port}", headers=headers, limits=limits, timeout=60
    ) as client:
        viewers = [asyncio.create_task(_one(client, counts)) for _ in range(VIEWERS)]
        await asyncio.sleep(20)
        counts[:] = [0, 0]
        pipe.send("ready")
        await asyncio.sleep(SECONDS)
        pipe.send(tuple(counts))
        for viewer in viewers:
            viewer.cancel()


async def _one(client: httpx.AsyncClient, counts: list[int]) -> None:
    tag = ""
    async with client.stream("GET", "/live?of=rooms") as stream:
        async for line in stream.aiter_lines():
            if line != "event: changed":
                continue
            await asyncio.sleep(random.random() * 0.5)
            async with client.stream("GET", "/?part=rooms", headers={"If-None-Match": tag}) as answer:
                counts[0] += 1
                async for chunk in answer.aiter_raw():
                    counts[1] += len(chunk)
                tag = answer.headers.get("etag", tag)


def _read(url: str, facility: object, stop: threading.Event) -> None:
    with psycopg.connect(url, autocommit=True) as conn:
        while not stop.wait(READING_S):
            conn.execute(_READ)
            conn.execute("UPDATE heartbeat SET at = now() + interval '1 hour'")
            conn.execute("UPDATE job_run SET as_of = now(), started_at = now() WHERE facility_id = %s", (facility,))
