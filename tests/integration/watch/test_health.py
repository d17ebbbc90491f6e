"""Silence is not health: what stopped is an alarm of its own, once, and clears when it is back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest

from tests.integration.watch.house import house
from wickwatch.store import jobs
from wickwatch.store.connect import Connection, connect
from wickwatch.watch import SWEEP
from wickwatch.watch.health import Health
from wickwatch.watch.sweep import JOB

BASE = "http://wickwatch.example"


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    with connect(plain_url, "test", autocommit=True) as opened:
        yield opened


@pytest.fixture
def facility(conn: Connection) -> UUID:
    return house(conn)


def beats(conn: Connection, facility: UUID, *parts: str, swept: datetime | None = None) -> None:
    """Signs of life of these parts, and a sweep that ended well just now or when it is said."""
    for part in parts:
        jobs.beat(conn, part, "here:1")
    at = swept or datetime.now(UTC)
    jobs.record(conn, JOB, facility, at, at, True)


def alarms(conn: Connection) -> list[tuple[Any, ...]]:
    return conn.execute(
        "SELECT state, evidence->>'parts', condition_present FROM alarm WHERE kind = 'monitoring-stopped'"
    ).fetchall()


def looked(health: Health, begun: datetime, minutes: float, times: int = 2) -> None:
    """Looks that fall so many minutes after the beginning."""
    for number in range(times):
        health.look(begun + timedelta(minutes=minutes, seconds=40 * number))


def test_parts_that_beat_and_sweeps_that_end_raise_nothing(conn: Connection, plain_url: str, facility: UUID) -> None:
    beats(conn, facility, "ingest", "notify")
    looked(Health(plain_url, BASE, None, datetime.now(UTC)), datetime.now(UTC), 0)
    assert alarms(conn) == []


def test_a_part_without_a_sign_of_life_is_one_alarm_that_clears_when_it_is_back(
    conn: Connection, plain_url: str, facility: UUID
) -> None:
    now = datetime.now(UTC)
    beats(conn, facility, "notify")
    health = Health(plain_url, BASE, None, now)
    looked(health, now, 0, times=4)
    assert alarms(conn) == [("unacknowledged", "taking readings in", True)]
    for minutes in (3, 6):
        later = now + timedelta(minutes=minutes)
        beats(conn, facility, "ingest", "notify", swept=later)
        looked(health, later, 0)
    assert alarms(conn) == [("returned-unacknowledged", "taking readings in", False)]


def test_a_part_that_says_it_is_not_well_is_no_sign_of_life(conn: Connection, plain_url: str, facility: UUID) -> None:
    now = datetime.now(UTC)
    beats(conn, facility, "notify")
    jobs.beat(conn, "ingest", "here:1", healthy=False, detail={"why": "the broker is away"})
    looked(Health(plain_url, BASE, None, now), now, 0, times=4)
    (row,) = conn.execute("SELECT evidence->>'why' FROM alarm WHERE kind = 'monitoring-stopped'").fetchall()
    assert row == ("the broker is away",)


def test_a_sweep_that_no_longer_ends_well_is_an_alarm_that_says_why(
    conn: Connection, plain_url: str, facility: UUID
) -> None:
    now = datetime.now(UTC)
    for part in ("ingest", "notify"):
        jobs.beat(conn, part, "here:1")
    jobs.record(conn, JOB, facility, now, now, False, "DivisionByZero: in a detector")
    looked(Health(plain_url, BASE, None, now), now, 10 * SWEEP / timedelta(minutes=1), times=4)
    ((_, parts, _),) = alarms(conn)
    assert "judging readings" in parts
    ((why,),) = conn.execute("SELECT evidence->>'why' FROM alarm").fetchall()
    assert "DivisionByZero" in why


def test_a_disk_about_to_be_full_is_an_alarm(
    conn: Connection, plain_url: str, facility: UUID, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = datetime.now(UTC)
    beats(conn, facility, "ingest", "notify")
    # No disk of a test machine is nearly full: the limit is raised above whatever is free here.
    monkeypatch.setattr("wickwatch.watch.health.DISK_FREE_BYTES", 10**18)
    looked(Health(plain_url, BASE, tmp_path, now), now, 0, times=4)
    assert [parts for _, parts, _ in alarms(conn)] == ["room on the disk"]
