"""The live window, a fresh one and the history of a backtest hold the same numbers, late readings included."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np
import pandas as pd
import psycopg
import pytest

from wickwatch.detect import Frame
from wickwatch.store import rollups
from wickwatch.store.connect import Connection, connect
from wickwatch.watch.history import History
from wickwatch.watch.window import Window

START = datetime(2026, 10, 24, 22, 0, tzinfo=UTC)  # the clock of Oslo goes back during what follows
CHANNELS = 5


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test", autocommit=True) as opened:
        yield opened


@pytest.fixture
def facility(conn: Connection) -> UUID:
    row = conn.execute(
        "INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo') RETURNING id"
    ).fetchone()
    assert row
    (device,) = conn.execute(
        "INSERT INTO device (facility_id, urn) VALUES (%s, 'urn:dev:mac:0024befffe804ff1') RETURNING id", row
    ).fetchone() or (None,)
    for number in range(CHANNELS):
        conn.execute(
            "INSERT INTO channel (facility_id, device_id, name, quantity, unit) VALUES (%s, %s, %s, 'tension', 'mbar')",
            (row[0], device, f"urn:dev:mac:0024befffe804f{number:02x}:tension"),
        )
    return UUID(str(row[0]))


def made(seed: int, hours: float, step_s: float) -> pd.DataFrame:
    """Readings of every channel at uneven times, in no order."""
    random = np.random.default_rng(seed)
    seconds = np.arange(0, hours * 3600, step_s)
    rows = [
        (
            number + 1,
            START + timedelta(seconds=float(at + random.uniform(0, step_s * 0.9))),
            float(random.normal(100, 20)),
        )
        for number in range(CHANNELS)
        for at in seconds
    ]
    frame = pd.DataFrame(rows, columns=["channel_id", "at", "value"])
    return frame.sample(frac=1, random_state=seed)


def write(conn: Connection, facility: UUID, rows: pd.DataFrame) -> None:
    """Readings and the marks of their buckets, in one transaction as ingest writes them."""
    offset = conn.execute("SELECT min(id) - 1 FROM channel").fetchone() or (0,)
    with conn.transaction(), conn.cursor() as cursor:
        cursor.executemany(
            "INSERT INTO reading (channel_id, at, value) VALUES (%s, %s, %s) ON CONFLICT DO NOTHING",
            [(channel + offset[0], at.to_pydatetime(), value) for channel, at, value in rows.itertuples(index=False)],
        )
        due = rows["at"].dt.floor("5min").drop_duplicates()
        cursor.executemany("INSERT INTO rollup_due (facility_id, at) VALUES (%s, %s)", [(facility, at) for at in due])


def advance(conn: Connection, window: Window, as_of: datetime) -> Frame:
    with conn.transaction():
        return window.advance(conn, as_of, rollups.refresh(conn, window.facility_id))


def same(one: Frame, other: Frame) -> None:
    for name in ("fine", "coarse"):
        a, b = getattr(one, name), getattr(other, name)
        width = min(a.mean.shape[1], b.mean.shape[1])
        assert a.times[-1] == b.times[-1]
        for field in ("mean", "low", "high"):
            np.testing.assert_allclose(getattr(a, field)[:, -width:], getattr(b, field)[:, -width:], rtol=1e-6)
    np.testing.assert_array_equal(one.last_at, other.last_at)
    np.testing.assert_array_equal(one.last_value, other.last_value)


def test_a_window_topped_up_equals_one_loaded_afresh_and_the_history_of_a_backtest(
    conn: Connection, facility: UUID
) -> None:
    readings = made(seed=1, hours=75, step_s=240)
    late = readings.sample(frac=0.1, random_state=2)
    prompt = readings.drop(late.index)
    live = Window(facility)
    moments = [START + timedelta(hours=h) for h in (1, 3, 3.3, 20, 49, 50.5, 75)]
    for before, as_of in zip([START - timedelta(hours=1), *moments], moments, strict=False):
        write(conn, facility, prompt[(prompt["at"] > before) & (prompt["at"] <= as_of)])
        advance(conn, live, as_of)
    write(conn, facility, late)
    topped_up = advance(conn, live, moments[-1])
    same(topped_up, advance(conn, Window(facility), moments[-1]))
    history = History(conn, facility, START + timedelta(hours=7))
    for as_of in (START + timedelta(hours=8), START + timedelta(hours=33, minutes=7), moments[-1]):
        frame = history.frame(as_of)
        newest = readings[readings["at"] <= as_of].groupby("channel_id")["at"].max()
        assert list(frame.last_at) == list(newest.dt.tz_localize(None).to_numpy("datetime64[us]"))
    same(topped_up, history.frame(moments[-1]))
    same(topped_up, History(conn, facility, START + timedelta(hours=7), rolled_up=True).frame(moments[-1]))


def test_buckets_equal_an_independent_computation_by_pandas(conn: Connection, facility: UUID) -> None:
    readings = made(seed=3, hours=30, step_s=600)
    write(conn, facility, readings)
    frame = advance(conn, Window(facility), START + timedelta(hours=30))
    for grid, rule, hours in ((frame.fine, "5min", 30), (frame.coarse, "1h", 30)):
        wanted = readings.groupby(["channel_id", pd.Grouper(key="at", freq=rule)])["value"].agg(["mean", "min", "max"])
        for number in range(CHANNELS):
            own = wanted.loc[number + 1]
            columns = np.searchsorted(grid.times, own.index.tz_localize(None).to_numpy("datetime64[us]"))
            np.testing.assert_allclose(grid.mean[number, columns], own["mean"], rtol=1e-5)
            np.testing.assert_allclose(grid.low[number, columns], own["min"], rtol=1e-6)
            np.testing.assert_allclose(grid.high[number, columns], own["max"], rtol=1e-6)
        assert np.isfinite(grid.mean).sum() == len(wanted), (rule, hours)


def test_a_reading_committed_while_its_bucket_is_rolled_up_is_not_left_out(
    conn: Connection, facility: UUID, database_url: str
) -> None:
    readings = made(seed=4, hours=0.05, step_s=60)
    # The day's chunk exists already: who makes it would hold the other writer up.
    write(conn, facility, readings.assign(at=readings["at"] + timedelta(hours=1)))
    with psycopg.connect(database_url) as ingest:
        write(ingest, facility, readings)
        # Another batch for the same bucket is under way while the first is rolled up.
        with psycopg.connect(database_url) as other:
            later = readings.assign(at=readings["at"] + timedelta(seconds=1), value=7.0)
            with other.transaction():
                write(other, facility, later)
                ingest.commit()
                advance(conn, Window(facility), START + timedelta(minutes=10))
            other.commit()
    frame = advance(conn, Window(facility), START + timedelta(minutes=10))
    assert conn.execute("SELECT count(*) FROM rollup_due").fetchone() == (0,)
    assert float(np.nanmin(frame.fine.low)) == 7.0


def test_a_new_channel_appears_in_the_window_at_the_next_sweep(conn: Connection, facility: UUID) -> None:
    window = Window(facility)
    assert len(advance(conn, window, START).channels) == CHANNELS
    conn.execute(
        "INSERT INTO channel (facility_id, device_id, name, quantity, unit)"
        " SELECT facility_id, id, 'urn:dev:mac:0024befffe804ff1:level', 'level', 'mm' FROM device"
    )
    assert len(advance(conn, window, START).channels) == CHANNELS + 1
