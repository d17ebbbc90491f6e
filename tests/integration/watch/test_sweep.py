"""A sweep raises, explains and calls in one transaction; nothing is raised twice and nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import psycopg
import pytest

from tests.integration.watch.house import MINUTE, START, Level, house, publish
from wickwatch.store.connect import Connection, connect
from wickwatch.watch import SWEEP, Sweeper
from wickwatch.watch.backtest import backtest

BASE = "http://wickwatch.example"


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test", autocommit=True) as opened:
        yield opened


@pytest.fixture
def facility(conn: Connection) -> UUID:
    return house(conn)


@pytest.fixture
def sweeper(database_url: str, facility: UUID) -> Iterator[Sweeper]:
    made = Sweeper(database_url, facility, BASE)
    yield made
    made.close()


def emptying(hours: float) -> float:
    """Level that reaches the 70 mm the line needs six hours after START, at 40 mm an hour."""
    return max(70.0 + 40.0 * (6.0 - hours), 41.0)


def rows(conn: Connection, statement: str) -> list[tuple[Any, ...]]:
    return conn.execute(statement.encode()).fetchall()


def live(
    conn: Connection, sweeper: Sweeper, start: datetime, end: datetime, level: Level, tension: Level = lambda h: 100.0
) -> None:
    """Readings as they come, and a sweep each half minute."""
    at = start
    while at < end:
        assert sweeper.sweep(at + SWEEP) is not None
        publish(conn, at, at + MINUTE, level, tension)
        at += MINUTE
        assert sweeper.sweep(at) is not None


def looked(conn: Connection, facility: UUID, as_of: datetime) -> None:
    """The watch looked last at this moment: without that, its first sweep looks at half a day before."""
    conn.execute(
        "INSERT INTO job_run (job, facility_id, as_of, started_at, ended_at, ok)"
        " VALUES ('sweep', %s, %s, now(), now(), true)",
        (facility, as_of),
    )


EMPTY = START + timedelta(hours=6)
MAILS = "SELECT n.address FROM notice n JOIN alarm a ON a.id = n.alarm_id WHERE a.kind = 'reservoir-empty'"
RAISED = "SELECT count(*) FROM alarm WHERE kind = 'reservoir-empty'"


def test_an_emptied_reservoir_is_one_alarm_and_one_mail_whatever_is_repeated(
    conn: Connection, sweeper: Sweeper
) -> None:
    publish(conn, START, EMPTY - 5 * MINUTE, emptying)
    live(conn, sweeper, EMPTY - 5 * MINUTE, EMPTY + 4 * MINUTE, emptying)
    for _ in range(3):
        sweeper.sweep(EMPTY + 4 * MINUTE)
    found = rows(conn, "SELECT kind, state, raised_at, message FROM alarm WHERE kind = 'reservoir-empty'")
    assert [row[:2] for row in found] == [("reservoir-empty", "unacknowledged")]
    assert abs(found[0][2] - (START + timedelta(hours=6))) <= timedelta(minutes=5)
    assert "R3 east" in found[0][3]
    assert rows(conn, MAILS) == [("on-duty@wickwatch.example",)]


def test_a_sweep_that_fails_in_its_last_step_leaves_nothing_and_the_next_does_all_of_it(
    conn: Connection, facility: UUID, sweeper: Sweeper
) -> None:
    publish(conn, START, EMPTY - 8 * MINUTE, emptying)
    looked(conn, facility, EMPTY - 9 * MINUTE)
    sweeper.sweep(EMPTY - 8 * MINUTE)
    before = rows(conn, "SELECT kind FROM alarm ORDER BY kind")
    conn.execute("ALTER TABLE notice RENAME TO notice_away")
    failed = 0
    for minute in range(-8, 4):
        publish(conn, EMPTY + minute * MINUTE, EMPTY + (minute + 1) * MINUTE, emptying)
        try:
            sweeper.sweep(EMPTY + (minute + 1) * MINUTE)
        except psycopg.errors.UndefinedTable:
            failed += 1
    assert failed, "no sweep had anything to call about"
    assert rows(conn, "SELECT kind FROM alarm ORDER BY kind") == before
    assert rows(conn, "SELECT DISTINCT detail FROM job_run WHERE NOT ok")[0][0].startswith("UndefinedTable")
    conn.execute("ALTER TABLE notice_away RENAME TO notice")
    live(conn, sweeper, EMPTY + 4 * MINUTE, EMPTY + 5 * MINUTE, emptying)
    assert rows(conn, RAISED) == [(1,)]
    assert len(rows(conn, MAILS)) == 1


def test_a_facility_is_swept_by_one_copy_and_the_other_takes_over_when_it_is_gone(
    conn: Connection, database_url: str, facility: UUID, sweeper: Sweeper
) -> None:
    publish(conn, START, START + timedelta(hours=1), emptying)
    assert sweeper.sweep(START + timedelta(hours=1)) is not None
    other = Sweeper(database_url, facility, BASE)
    try:
        assert other.sweep(START + timedelta(hours=1)) is None
        sweeper.close()
        assert other.sweep(START + timedelta(hours=1, seconds=30)) is not None
    finally:
        other.close()


def test_a_killed_connection_costs_one_sweep_and_no_reading(conn: Connection, facility: UUID, sweeper: Sweeper) -> None:
    publish(conn, START, START + timedelta(hours=1), emptying)
    looked(conn, facility, START + timedelta(hours=1) - MINUTE)
    sweeper.sweep(START + timedelta(hours=1))
    conn.execute(
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
        " WHERE datname = current_database() AND starts_with(application_name, 'wickwatch-watch')"
    )
    publish(conn, START + timedelta(hours=1), START + timedelta(hours=6.2), emptying)
    with pytest.raises(psycopg.OperationalError):
        sweeper.sweep(START + timedelta(hours=1, seconds=30))
    live(conn, sweeper, START + timedelta(hours=6.2), START + timedelta(hours=6.25), emptying)
    assert rows(conn, RAISED) == [(1,)]


def test_a_watch_that_was_away_raises_as_of_when_it_began_and_calls_once(
    conn: Connection, facility: UUID, sweeper: Sweeper
) -> None:
    publish(conn, START, START + timedelta(hours=4), emptying)
    looked(conn, facility, START + timedelta(hours=4) - MINUTE)
    sweeper.sweep(START + timedelta(hours=4))
    publish(conn, START + timedelta(hours=4), START + timedelta(hours=8), emptying)
    sweeper.sweep(START + timedelta(hours=8))
    found = rows(conn, "SELECT raised_at, called_at FROM alarm WHERE kind = 'reservoir-empty'")
    assert len(found) == 1
    assert abs(found[0][0] - (START + timedelta(hours=6))) <= timedelta(minutes=10)
    assert len(rows(conn, MAILS)) == 1


def test_what_came_and_went_while_the_watch_was_away_is_in_the_journal(
    conn: Connection, facility: UUID, sweeper: Sweeper
) -> None:
    def refilled(hours: float) -> float:
        return emptying(hours) if hours < 7 else 700.0 - 20 * (hours - 7)

    publish(conn, START, START + timedelta(hours=5), refilled)
    looked(conn, facility, START + timedelta(hours=5) - MINUTE)
    sweeper.sweep(START + timedelta(hours=5))
    publish(conn, START + timedelta(hours=5), START + timedelta(hours=9), refilled)
    sweeper.sweep(START + timedelta(hours=9))
    events = rows(
        conn,
        "SELECT j.event FROM alarm_journal j JOIN alarm a ON a.id = j.alarm_id"
        " WHERE a.kind = 'reservoir-empty' ORDER BY j.version",
    )
    assert [event for (event,) in events][:2] == ["raised", "cleared"]


def test_dry_pots_of_an_empty_reservoir_are_explained_by_it_and_call_nobody(
    conn: Connection, facility: UUID, sweeper: Sweeper
) -> None:
    def drying(hours: float) -> float:
        return 100.0 if hours < 7 else 100.0 + 30.0 * (hours - 7)

    # Three days of its usual self come before, so that what is unusual can be told.
    usual = START - timedelta(days=3)
    publish(conn, usual, START, lambda hours: 600.0 - 2.0 * (hours + 72), every=5 * MINUTE)
    publish(conn, START, START + timedelta(hours=11), emptying, drying, every=5 * MINUTE)
    looked(conn, facility, EMPTY - 30 * MINUTE)
    sweeper.sweep(START + timedelta(hours=11))
    found = dict(rows(conn, "SELECT subject_name, state FROM alarm WHERE kind = 'drying-drift'"))
    assert set(found.values()) == {"suppressed-by-design"}
    assert len(found) == 2
    called = rows(conn, "SELECT DISTINCT a.kind FROM notice n JOIN alarm a ON a.id = n.alarm_id")
    assert ("drying-drift",) not in called


def test_the_live_watch_and_a_backtest_of_the_same_readings_raise_the_same_alarms(
    conn: Connection, facility: UUID, sweeper: Sweeper
) -> None:
    def wet(hours: float) -> float:
        return 100.0 if hours < 5.7 else max(100.0 - 120.0 * (hours - 5.7), 5.0)

    begin, end = EMPTY - 20 * MINUTE, EMPTY + 15 * MINUTE
    publish(conn, START - timedelta(days=1), START, lambda hours: 700.0 + hours)
    publish(conn, START, begin, emptying)
    looked(conn, facility, begin)
    live(conn, sweeper, begin, end, emptying, wet)
    found = rows(conn, 'SELECT id::text, kind, message FROM alarm ORDER BY raised_at, kind, id::text COLLATE "C"')
    again = backtest(conn, facility, begin, end, {})
    assert [(alarm["id"], alarm["kind"], alarm["message"]) for alarm in again] == found
    assert {kind for _, kind, _ in found} >= {"reservoir-empty"}
