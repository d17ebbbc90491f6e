"""Readings are stored once, whatever comes twice, and every bucket they touch is marked."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np
import psycopg
import pytest

from tests.parts.process import wait_until
from wickwatch.store import readings
from wickwatch.store.channels import Heard, gateway, register
from wickwatch.store.connect import Connection, connect
from wickwatch.store.readings import Rows, Written

START = datetime(2026, 11, 20, 4, 0, tzinfo=UTC)


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as opened:
        yield opened


@pytest.fixture
def facility(conn: Connection) -> UUID:
    row = conn.execute(
        "INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo') RETURNING id"
    ).fetchone()
    assert row
    heard = [Heard(f"urn:dev:x{number}:tension", f"urn:dev:x{number}", "tension", "mbar") for number in range(3)]
    channels = register(conn, row[0], gateway(conn, row[0], "gw-01"), heard)
    assert sorted(channel.id for channel in channels) == [1, 2, 3]
    return row[0]  # type: ignore[no-any-return]


def rows(*given: tuple[int, float, float]) -> Rows:
    """Readings as (channel, seconds after START, value)."""
    ids, seconds, values = zip(*given, strict=True)
    at = np.datetime64(START.replace(tzinfo=None), "us") + (np.array(seconds) * 1e6).astype("m8[us]")
    return Rows(np.array(ids, np.int32), at, np.array(values, np.float64))


def stored(conn: Connection) -> list[tuple[int, float, float]]:
    found = conn.execute("SELECT channel_id, at, value FROM reading ORDER BY channel_id, at").fetchall()
    return [(channel, (at - START).total_seconds(), value) for channel, at, value in found]


def conflicts(conn: Connection) -> list[int]:
    return [row[0] for row in conn.execute("SELECT conflicts FROM channel ORDER BY id")]


@pytest.mark.parametrize("likely_new", [True, False])
def test_new_readings_are_stored_in_whatever_order_they_come(
    conn: Connection, facility: UUID, likely_new: bool
) -> None:
    given = rows((2, 20, 5.0), (1, 10.000001, -0.5), (2, 10, 1e-300), (1, 0, 100.25))
    assert readings.write(conn, facility, given, likely_new=likely_new) == Written(4, 0, 0)
    assert stored(conn) == [(1, 0, 100.25), (1, 10.000001, -0.5), (2, 10, 1e-300), (2, 20, 5.0)]


@pytest.mark.parametrize("likely_new", [True, False])
def test_the_same_reading_twice_is_stored_once(conn: Connection, facility: UUID, likely_new: bool) -> None:
    readings.write(conn, facility, rows((1, 0, 1.0), (1, 10, 2.0)))
    again = rows((1, 10, 2.0), (1, 20, 3.0), (1, 0, 1.0))
    assert readings.write(conn, facility, again, likely_new=likely_new) == Written(1, 2, 0)
    assert stored(conn) == [(1, 0, 1.0), (1, 10, 2.0), (1, 20, 3.0)]
    assert conflicts(conn) == [0, 0, 0]


@pytest.mark.parametrize("likely_new", [True, False])
def test_another_value_for_the_same_time_is_counted_and_the_first_kept(
    conn: Connection, facility: UUID, likely_new: bool
) -> None:
    readings.write(conn, facility, rows((1, 0, 1.0), (2, 0, 1.0)))
    again = rows((1, 0, 9.0), (2, 0, 1.0), (1, 10, 2.0))
    assert readings.write(conn, facility, again, likely_new=likely_new) == Written(1, 1, 1)
    assert stored(conn) == [(1, 0, 1.0), (1, 10, 2.0), (2, 0, 1.0)]
    assert conflicts(conn) == [1, 0, 0]


def test_of_two_values_in_one_batch_the_first_that_came_is_kept(conn: Connection, facility: UUID) -> None:
    assert readings.write(conn, facility, rows((1, 10, 5.0), (1, 0, 7.0), (1, 0, 8.0), (1, 0, 7.0))) == Written(2, 1, 1)
    assert stored(conn) == [(1, 0, 7.0), (1, 10, 5.0)]


def test_a_failed_fast_way_does_not_undo_what_the_transaction_did_before(conn: Connection, facility: UUID) -> None:
    readings.write(conn, facility, rows((1, 0, 1.0)))
    readings.write(conn, facility, rows((1, 0, 1.0), (1, 10, 2.0)))
    readings.write(conn, facility, rows((3, 0, 1.0), (1, 10, 2.0)))
    conn.commit()
    assert stored(conn) == [(1, 0, 1.0), (1, 10, 2.0), (3, 0, 1.0)]


def test_every_bucket_touched_is_marked_in_the_same_transaction(conn: Connection, facility: UUID) -> None:
    conn.commit()
    readings.write(conn, facility, rows((1, 0, 1.0), (2, 299.9, 1.0), (1, 300, 2.0), (1, 7200, 3.0)))
    due = conn.execute("SELECT facility_id, at FROM rollup_due ORDER BY at").fetchall()
    assert due == [(facility, START + timedelta(seconds=seconds)) for seconds in (0, 300, 7200)]
    conn.rollback()
    assert conn.execute("SELECT count(*) FROM rollup_due").fetchone() == (0,)
    assert stored(conn) == []


def test_nothing_is_written_of_nothing(conn: Connection, facility: UUID) -> None:
    empty = Rows(np.empty(0, np.int32), np.empty(0, "M8[us]"), np.empty(0))
    assert readings.write(conn, facility, empty) == Written(0, 0, 0)
    assert conn.execute("SELECT count(*) FROM rollup_due").fetchone() == (0,)


def test_facilities_are_written_together(conn: Connection, facility: UUID) -> None:
    (other,) = conn.execute(
        "INSERT INTO facility (slug, name, zone) VALUES ('elmfield', 'Elmfield', 'America/New_York') RETURNING id"
    ).fetchone() or (None,)
    both = {facility: rows((1, 0, 1.0)), other: rows((2, 600, 2.0), (2, 600, 2.0))}
    assert readings.write_all(conn, both) == Written(2, 1, 0)
    assert dict(conn.execute("SELECT facility_id, at FROM rollup_due").fetchall()) == {
        facility: START,
        other: START + timedelta(seconds=600),
    }


WAITING = """
SELECT count(*) FROM pg_stat_activity
WHERE datname = current_database() AND starts_with(application_name, 'wickwatch-second') AND wait_event_type = 'Lock'
"""


def test_a_second_writer_waits_for_the_first_and_finds_it_there(
    conn: Connection, facility: UUID, database_url: str
) -> None:
    conn.commit()
    readings.write(conn, facility, rows((1, 0, 1.0), (1, 10, 2.0)))

    def second() -> Written:
        with connect(database_url, "second") as other:
            return readings.write(other, facility, rows((1, 10, 9.0), (1, 20, 3.0)))

    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(second)
        with connect(database_url, "look", autocommit=True) as look:
            wait_until(lambda: look.execute(WAITING).fetchone() == (1,), "the second writer waiting")
        assert not waiting.done()
        conn.commit()
        assert waiting.result(10) == Written(1, 0, 1)
    assert stored(conn) == [(1, 0, 1.0), (1, 10, 2.0), (1, 20, 3.0)]


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_a_reading_is_finite(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        rows((1, 0, value))


def test_columns_are_of_one_length() -> None:
    with pytest.raises(ValueError, match="length"):
        Rows(np.array([1], np.int32), np.empty(0, "M8[us]"), np.empty(0))


def test_readings_cannot_be_changed(conn: Connection, facility: UUID) -> None:
    readings.write(conn, facility, rows((1, 0, 1.0)))
    with pytest.raises(psycopg.errors.RestrictViolation, match="append-only"):
        conn.execute("UPDATE reading SET value = 2")


def test_a_series_is_what_was_stored_from_start_until_before_end(conn: Connection, facility: UUID) -> None:
    readings.write(conn, facility, rows((1, 0, 1.5), (1, 10, 2.5), (1, 20, 3.5), (2, 10, 9.0)))
    found = readings.series(conn, 1, START, START + timedelta(seconds=20))
    assert found.at.tolist() == [START.replace(tzinfo=None), START.replace(tzinfo=None) + timedelta(seconds=10)]
    assert found.mean.tolist() == found.low.tolist() == found.high.tolist() == [1.5, 2.5]
    assert found.n.tolist() == [1, 1]


def test_a_series_in_buckets_holds_mean_low_high_and_number(conn: Connection, facility: UUID) -> None:
    readings.write(conn, facility, rows((1, 0, 1.0), (1, 10, 2.0), (1, 59, 6.0), (1, 61, 4.0)))
    found = readings.series(conn, 1, START, START + timedelta(hours=1), timedelta(minutes=1))
    assert [(m, low, high, n) for m, low, high, n in zip(found.mean, found.low, found.high, found.n, strict=True)] == [
        (3.0, 1.0, 6.0, 3),
        (4.0, 4.0, 4.0, 1),
    ]
    assert found.at.dtype == np.dtype("M8[us]")
    assert found.at[1] - found.at[0] == np.timedelta64(1, "m")


def test_a_series_of_nothing_is_empty(conn: Connection, facility: UUID) -> None:
    for every in (None, timedelta(hours=1)):
        found = readings.series(conn, 1, START, START + timedelta(days=1), every)
        assert len(found.at) == len(found.n) == 0
