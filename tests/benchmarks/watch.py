"""A whole sweep of one facility against a real database: roll up what came in, top up the window, judge, step, commit.

20,000 probes and 1,000 reservoirs report once a minute; the history before them is written as rollups. The first sweep
loads the window; those after it pay for what is new. Not here: the judging alone (`sweep`).
"""

from __future__ import annotations

import multiprocessing
import resource
import time
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection as Pipe

import numpy as np
import psycopg

from tests.benchmarks import Figure
from tests.parts import databases, plain
from tests.parts.postgres import running
from wickwatch.store import readings
from wickwatch.store.connect import Connection, connect
from wickwatch.watch.sweep import Sweeper

ROOMS = 1000
PER_ROOM = 20
MINUTES = 16
START = datetime(2026, 11, 20, 11, 58, tzinfo=UTC)

# Rooms with a reservoir, a loop and their containers, each with a channel of its own.
_PLACE = """
INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo');
INSERT INTO gateway (facility_id, slug, declared) SELECT id, 'gw-01', true FROM facility;
INSERT INTO room (facility_id, slug, name, lights_on, lights_off)
SELECT id, 'room-' || n, 'Room ' || n, '06:00', '18:00' FROM facility, generate_series(1, {rooms}) n;
INSERT INTO reservoir (room_id, slug, name, shape, keys, outlet_mm, head_mm)
SELECT id, 'tank', name || ' tank', 'cylinder', '{{"diameter_mm": 580, "height_mm": 900}}', 40, 30 FROM room;
INSERT INTO supply_line (room_id, reservoir_id, slug, name, kind)
SELECT room_id, id, 'loop', 'loop', 'loop' FROM reservoir;
INSERT INTO container (room_id, line_id, slug, name, volume_l, medium)
SELECT room_id, id, 'pot-' || n, 'pot ' || n, 20, 'peat-perlite' FROM supply_line, generate_series(1, {per_room}) n;
INSERT INTO device (facility_id, urn, gateway_id)
SELECT f.id, 'urn:dev:ow:' || s.id, g.id FROM facility f, gateway g,
     (SELECT id FROM container UNION ALL SELECT id FROM reservoir) s;
INSERT INTO channel (facility_id, device_id, name, quantity, unit, interval_s)
SELECT d.facility_id, d.id, d.urn || CASE WHEN c.id IS NULL THEN ':level' ELSE ':tension' END,
       CASE WHEN c.id IS NULL THEN 'level' ELSE 'tension' END, CASE WHEN c.id IS NULL THEN 'mm' ELSE 'mbar' END, 60
FROM device d LEFT JOIN container c ON d.urn = 'urn:dev:ow:' || c.id ORDER BY c.id IS NULL;
INSERT INTO assignment (channel_id, quantity, container_id, during)
SELECT ch.id, 'tension', c.id, tstzrange('2026-01-01', NULL) FROM channel ch
JOIN container c ON ch.name = 'urn:dev:ow:' || c.id || ':tension';
INSERT INTO assignment (channel_id, quantity, reservoir_id, during)
SELECT ch.id, 'level', r.id, tstzrange('2026-01-01', NULL) FROM channel ch
JOIN reservoir r ON ch.name = 'urn:dev:ow:' || r.id || ':level';
INSERT INTO job_run (job, facility_id, as_of, started_at, ended_at, ok)
SELECT 'sweep', id, '{start}', now(), now(), true FROM facility;
"""

# Healthy rooms: a daily swing with the drips of each emitter on it, and reservoirs that are drawn from and refilled.
_VALUE = """
CASE quantity WHEN 'tension' THEN 95 + 10 * sin(2 * pi() * extract(epoch FROM at) / 86400 + id)
                                  + 4 * sin(2 * pi() * extract(epoch FROM at) / 5000 + id) + random()
ELSE 800 - 500 * ((extract(epoch FROM at) / 345600 + id * 0.37) % 1) END"""
_HISTORY = """
INSERT INTO rollup_{name} SELECT id, at, {n}, v - 0.5, v + 0.5, v {last}
FROM channel, generate_series('{start}'::timestamptz - interval '{days} days', '{start}', interval '{step}') at,
LATERAL (SELECT {value} AS v) each
"""


def run(scale: float) -> list[Figure]:
    """Seconds of sweeps in steady state and of the first, and the process's peak memory."""
    rooms = max(10, int(ROOMS * scale))
    with running(plain.binaries()) as server, databases.migrated(server.url()) as url:
        _fill(url, rooms)
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        child = context.Process(target=_sweep, args=(url, there))
        child.start()
        first, seconds, peak_mb = here.recv()
        child.join()
    on = f"{rooms * PER_ROOM:,} probes and {rooms:,} reservoirs, one-minute readings"
    return [
        Figure("sweep, usual", float(np.median(seconds)), "s", on),
        Figure("sweep, slowest of a quarter of an hour", max(seconds), "s", f"{on}; all kinds due"),
        Figure("sweep, first after a start", first, "s", f"{on}; loads the window"),
        Figure("sweep, peak memory", peak_mb, "MB", on),
    ]


def _fill(url: str, rooms: int) -> None:
    start = START.isoformat()
    fine = {"name": "5m", "n": 5, "last": ", v, at + interval '4 minutes'", "days": 2, "step": "5 minutes"}
    coarse = {"name": "1h", "n": 60, "last": "", "days": 21, "step": "1 hour"}
    with psycopg.connect(url, autocommit=True) as conn:
        conn.execute(_PLACE.format(rooms=rooms, per_room=PER_ROOM, start=start).encode())
        for grid in (fine, coarse):
            conn.execute(_HISTORY.format(**grid, start=start, value=_VALUE).encode())
        conn.execute("VACUUM ANALYZE")


def _sweep(url: str, results: Pipe) -> None:
    """Minute by minute in a process of its own, so that its memory is that of a watch."""
    with connect(url, "bench", autocommit=True) as conn:
        (facility,) = conn.execute("SELECT id FROM facility").fetchone() or (None,)
        assert facility is not None
        ids = np.array([row[0] for row in conn.execute("SELECT id FROM channel ORDER BY id")], dtype=np.int32)
        sweeper = Sweeper(url, facility, "http://wickwatch.example")
        _minute(conn, facility, ids, START)
        first = _timed(sweeper, START)
        seconds: list[float] = []
        for minute in range(1, MINUTES + 1):
            at = START + timedelta(minutes=minute)
            seconds.append(_timed(sweeper, at - timedelta(seconds=30)))
            _minute(conn, facility, ids, at)
            seconds.append(_timed(sweeper, at))
        sweeper.close()
    results.send((first, seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6))


def _minute(conn: Connection, facility: object, ids: np.ndarray, at: datetime) -> None:
    # What a probe says is random within its usual swing; a level goes on falling as in the history.
    seconds = at.timestamp()
    tension = conn.execute("SELECT count(*) FROM channel WHERE quantity = 'tension'").fetchone()
    level = np.arange(len(ids)) >= (tension or (0,))[0]
    waves = 95 + 10 * np.sin(2 * np.pi * seconds / 86400 + ids) + 4 * np.sin(2 * np.pi * seconds / 5000 + ids)
    values = np.where(level, 800 - 500 * ((seconds / 345600 + ids * 0.37) % 1), waves)
    times = np.full(len(ids), np.datetime64(at.replace(tzinfo=None), "us"))
    with conn.transaction():
        readings.write(conn, facility, readings.Rows(ids, times, values))  # type: ignore[arg-type]


def _timed(sweeper: Sweeper, at: datetime) -> float:
    begun = time.perf_counter()
    assert sweeper.sweep(at) is not None
    return time.perf_counter() - begun
