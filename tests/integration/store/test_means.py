"""Means of buckets, from the rollups: what charts, tables and forecasts of pages are made of."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from wickwatch.store import pages
from wickwatch.store.connect import Connection, connect

START = datetime(2026, 11, 20, 10, tzinfo=UTC)
FIVE, TEN, HOUR = timedelta(minutes=5), timedelta(minutes=10), timedelta(hours=1)
NONE = np.nan


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as connection:
        yield connection


def _fine(conn: Connection, channel: int, *, after: timedelta, mean: float, n: int) -> None:
    at = START + after
    conn.execute(
        """INSERT INTO rollup_5m (channel_id, at, n, low, high, mean, last, last_at)
        VALUES (%s, %s, %s, 0, 0, %s, 0, %s)""",
        (channel, at, n, mean, at),
    )


def _hour(conn: Connection, channel: int, *, after: timedelta, mean: float, n: int) -> None:
    conn.execute(
        "INSERT INTO rollup_1h (channel_id, at, n, low, high, mean) VALUES (%s, %s, %s, 0, 0, %s)",
        (channel, START + after, n, mean),
    )


def test_each_bucket_is_the_mean_of_its_readings_wherever_they_stood_in_it(conn: Connection) -> None:
    _fine(conn, 1, after=timedelta(), mean=100.0, n=1)
    _fine(conn, 1, after=FIVE, mean=130.0, n=2)
    _fine(conn, 1, after=3 * FIVE, mean=90.0, n=5)
    _fine(conn, 2, after=4 * FIVE, mean=80.0, n=1)
    end = START + 25 * timedelta(minutes=1)
    fine = pages.means(conn, [1, 2, 3], START, end, FIVE)
    assert {channel: values.tolist() for channel, values in fine.items()} == {
        1: pytest.approx([100.0, 130.0, NONE, 90.0, NONE], nan_ok=True),
        2: pytest.approx([NONE, NONE, NONE, NONE, 80.0], nan_ok=True),
    }
    ten = pages.means(conn, [1], START, end, TEN)
    assert ten[1].tolist() == pytest.approx([120.0, 90.0, NONE], nan_ok=True)


def test_what_lies_outside_is_left_out_and_a_channel_with_nothing_inside_too(conn: Connection) -> None:
    _fine(conn, 1, after=-FIVE, mean=100.0, n=1)
    _fine(conn, 1, after=2 * FIVE, mean=100.0, n=1)
    assert pages.means(conn, [1], START, START + 2 * FIVE, FIVE) == {}
    assert pages.means(conn, [], START, START + 2 * FIVE, FIVE) == {}


def test_from_an_hour_on_the_hours_serve(conn: Connection) -> None:
    _fine(conn, 1, after=timedelta(), mean=7.0, n=1)
    _hour(conn, 1, after=HOUR, mean=100.0, n=60)
    _hour(conn, 1, after=2 * HOUR, mean=160.0, n=30)
    _hour(conn, 1, after=3 * HOUR, mean=70.0, n=30)
    assert pages.means(conn, [1], START, START + 4 * HOUR, HOUR)[1].tolist() == pytest.approx(
        [NONE, 100.0, 160.0, 70.0], nan_ok=True
    )
    assert pages.means(conn, [1], START, START + 4 * HOUR, 2 * HOUR)[1].tolist() == [100.0, 115.0]
