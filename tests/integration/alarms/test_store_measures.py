"""Measures are taken from what the database keeps: the journal, and whom the notices called."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from tests.integration.alarms.house import HERE, build, connect, on_call, person, sweep
from tests.unit.alarms.places import HOUSE, START, found, judged, named, pot, reservoir
from wickwatch.alarms import Act
from wickwatch.alarms.weeks import week_span
from wickwatch.store import alarms, contacts, measures
from wickwatch.store.connect import Connection

MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)
BEGIN, END = week_span("2026-W47", HOUSE.zone)


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    with connect(plain_url) as connection:
        build(connection)
        yield connection


def test_a_call_counts_once_for_each_person_however_many_messages_it_took(conn: Connection) -> None:
    ane = on_call(conn, "Ane", "email", "ane@example.org")
    other = contacts.add(conn, ane, "email", "other@example.org")
    bo = person(conn, "Bo")
    sweep(conn, judged(0, found("reservoir-empty", reservoir())))
    (alarm,) = sweep(conn, judged(1, found("reservoir-empty", reservoir()))).alarms
    conn.execute(
        """INSERT INTO notice (key, facility_id, alarm_id, person_id, contact_id, way, address, title, body, payload,
               created_at, due_at, expires_at)
        SELECT 'the other way', facility_id, alarm_id, person_id, %s, way, 'other@example.org', title, body, payload,
               created_at + interval '5 minutes', due_at, expires_at FROM notice""",
        (other,),
    )
    alarms.apply_event(conn, alarm.id, Act("acknowledge"), bo, START + 21 * MINUTE, HERE)
    told = measures.of_facility(conn, HOUSE.id, HOUSE.zone, BEGIN, END, END + DAY)
    assert (told.load.count, told.unanswered) == (1, 0)
    assert told.to_acknowledge.median == 20 * MINUTE
    assert [(each.name, each.load.count, each.to_acknowledge.count) for each in told.people] == [
        ("Ane", 1, 0), ("Bo", 0, 1),
    ]  # fmt: skip


def test_what_is_not_of_the_week_or_the_facility_is_not_measured(conn: Connection) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    for minute in (0, 1):
        sweep(conn, judged(minute, found("reservoir-empty", reservoir()), found("sudden-wetting", pot())))
    week = timedelta(days=7)
    now = END + 3 * week
    assert measures.of_facility(conn, HOUSE.id, HOUSE.zone, BEGIN, END, now).load.count == 2
    later = measures.of_facility(conn, HOUSE.id, HOUSE.zone, BEGIN + week, END + week, now)
    assert later.load.count == 0 and len(later.standing) == 2  # they stand there still
    assert measures.of_facility(conn, HOUSE.id, HOUSE.zone, BEGIN - week, END - week, now).standing == ()
    assert measures.of_facility(conn, named("another"), HOUSE.zone, BEGIN, END, now).load.count == 0


def test_a_week_that_is_not_over_is_measured_until_now(conn: Connection) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    sweep(conn, judged(0, found("sudden-wetting", pot())))
    now = START + 2 * DAY
    told = measures.of_facility(conn, HOUSE.id, HOUSE.zone, BEGIN, END, now)
    assert told.end == now and told.load.per_day == pytest.approx(1 / ((now - BEGIN) / DAY))
