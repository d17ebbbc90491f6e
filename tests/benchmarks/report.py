"""The weekly report of a large facility: time and peak memory of the command, from its start to the last file.

Twelve weeks of hours and two of 5-minute buckets, with waterings, drifts, refills and alarms in them. The command runs
as a process of its own, so that its peak is its own.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import LiteralString

import psycopg

from tests.benchmarks import Figure
from tests.builders import scale
from tests.parts import databases, timescale
from tests.parts.postgres import running

ROOMS = 100
POTS = 20
WEEKS = 12

#: The week that is reported ends here.
END = datetime(2026, 11, 23, tzinfo=UTC)

# Values as they look: levels that fall and are refilled, tension that is watered twice a day, some pots drifting.
_VALUE: LiteralString = """
CROSS JOIN LATERAL (SELECT CASE c.quantity
    WHEN 'level' THEN 750 - mod((extract(epoch FROM at)::bigint / 400 + c.id * 137)::int, 600)
    ELSE 80 + mod((extract(epoch FROM at)::bigint / 1500 + c.id * 7)::int, 30) + mod(c.id * 37, 20)
        + CASE WHEN mod(c.id, 50) = 0 THEN greatest(extract(epoch FROM at - %(end)s) / 86400 + 7, 0) * 5 ELSE 0 END
    END AS value) v
"""
_FINE: LiteralString = (
    """
INSERT INTO rollup_5m (channel_id, at, n, low, high, mean, last, last_at)
SELECT c.id, at, 5, value - 1, value + 1, value, value, at + interval '4 minutes' FROM channel c
CROSS JOIN generate_series(%(end)s - interval '14 days', %(end)s - interval '5 minutes', '5 minutes') at
"""
    + _VALUE
    + "ON CONFLICT DO NOTHING"
)
_COARSE: LiteralString = (
    """
INSERT INTO rollup_1h (channel_id, at, n, low, high, mean)
SELECT c.id, at, 60, value - 1, value + 1, value FROM channel c
CROSS JOIN generate_series(%(end)s - %(weeks)s * interval '7 days', %(end)s - interval '1 hour', '1 hour') at
"""
    + _VALUE
    + "ON CONFLICT DO NOTHING"
)


def run(scale_: float) -> list[Figure]:
    """Seconds, megabytes at the peak, and the size of what is written."""
    rooms = max(1, int(ROOMS * scale_))
    with running(timescale.binaries()) as server, databases.migrated(server.url()) as url:
        _fill(url, rooms)
        with tempfile.TemporaryDirectory() as folder:
            seconds, processor_s, peak_mb = _report(url, folder)
            size = sum(file.stat().st_size for file in Path(folder).iterdir())
    on = f"{rooms} rooms, {rooms * POTS:,} probes; HTML, PDF, CSV and Parquet"
    return [
        Figure("weekly report", seconds, "s", on),
        Figure("weekly report, processor time without the database", processor_s, "s", on),
        Figure("weekly report, peak memory", peak_mb, "MB", on),
        Figure("weekly report, all its files", size / 1e6, "MB", on),
    ]


def _fill(url: str, rooms: int) -> None:
    with psycopg.connect(url) as conn:
        scale.facility(conn, END, rooms, POTS, fine=1, coarse=1)
        conn.execute("UPDATE assignment SET during = tstzrange(%s, NULL)", (END - timedelta(days=400),))
        for statement in (_FINE, _COARSE):
            conn.execute(statement, {"end": END, "weeks": WEEKS})
        conn.commit()
        conn.autocommit = True
        conn.execute("ANALYZE")


def _report(url: str, folder: str) -> tuple[float, float, float]:
    """Seconds the command took, seconds of processor time, and its peak memory in MB."""
    command = [sys.executable, "-m", "wickwatch", "report", "--week", f"{(END - timedelta(days=1)):%G-W%V}"]
    environment = os.environ | {"WICKWATCH_DATABASE_URL": url, "WICKWATCH_SECRET_KEY": "k" * 32}
    started = time.perf_counter()
    child = os.posix_spawn(sys.executable, [*command, "--out", folder], environment)
    _, status, used = os.wait4(child, 0)
    assert status == 0
    return time.perf_counter() - started, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024
