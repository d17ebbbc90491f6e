"""Where PostgreSQL with and without TimescaleDB differ, both do what the store promises."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np
import pytest

from wickwatch.store import readings, timescale
from wickwatch.store.channels import Heard, gateway, register
from wickwatch.store.connect import Connection, connect

START = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as opened:
        yield opened


def ten_days(conn: Connection) -> UUID:
    """Two channels with a reading at noon of each of ten days."""
    row = conn.execute(
        "INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo') RETURNING id"
    ).fetchone()
    assert row
    heard = [Heard(f"urn:dev:x{n}:tension", f"urn:dev:x{n}", "tension", "mbar") for n in range(2)]
    register(conn, row[0], gateway(conn, row[0], "gw-01"), heard)
    at = np.datetime64("2026-11-20T12:00:00", "us") - np.arange(10).repeat(2) * np.timedelta64(1, "D")
    readings.write(conn, row[0], readings.Rows(np.tile(np.array([1, 2], np.int32), 10), at, np.zeros(20)))
    return row[0]  # type: ignore[no-any-return]


def count(conn: Connection) -> int:
    row = conn.execute("SELECT count(*) FROM reading").fetchone()
    assert row
    return int(row[0])


def test_the_edition_is_what_the_server_has(timescale_url: str, plain_url: str) -> None:
    with connect(timescale_url, "test") as with_it, connect(plain_url, "test") as without:
        assert timescale.edition(with_it) == "apache"
        assert timescale.version(with_it)
        assert (timescale.edition(without), timescale.version(without)) == ("none", None)


def test_readings_lie_in_chunks_by_day_where_there_are_chunks(timescale_url: str, plain_url: str) -> None:
    with connect(timescale_url, "test") as with_it, connect(plain_url, "test") as without:
        ten_days(with_it)
        ten_days(without)
        assert timescale.sizes(with_it).chunks == 10
        assert timescale.sizes(without).chunks == 0


def test_sizes_tell_what_is_on_disk(conn: Connection) -> None:
    ten_days(conn)
    found = timescale.sizes(conn)
    assert 0 < found.reading_bytes < found.database_bytes


def test_settling_again_changes_nothing(conn: Connection) -> None:
    assert timescale.settle(conn) == timescale.settle(conn) == timescale.edition(conn)


def test_readings_before_a_moment_are_dropped_and_the_others_stay(conn: Connection) -> None:
    ten_days(conn)
    midnight = START.replace(hour=0) - timedelta(days=3)
    dropped = timescale.drop_old_readings(conn, midnight)
    assert dropped == (12 if timescale.edition(conn) == "none" else 6)
    assert count(conn) == 8
    assert timescale.drop_old_readings(conn, midnight) == 0
