"""What an alarm says of work, from the entry to the list of what was done, through the database."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from uuid import UUID

import pytest

from tests.integration.alarms.house import HERE, build, connect, sweep
from tests.unit.alarms.places import HOUSE, START, found, judged, pot, reservoir, room_id
from wickwatch.fleet import Subject
from wickwatch.store import work
from wickwatch.store.connect import Connection
from wickwatch.store.judged import judged as judged_work

DRYING = found("drying-drift", pot())


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url) as connection:
        build(connection)
        yield connection


def add(conn: Connection, kind: str, minute: float, subject: Subject | None = None) -> UUID:
    about = subject or pot()
    at = START + timedelta(minutes=minute)
    return work.add(
        conn, HERE, kind=kind, subject_type=about.type, subject_id=about.id, at=at, now=at + timedelta(minutes=1)
    ).id


def swept(conn: Connection, minute: float, drying: bool) -> None:
    done = work.recent(conn, HOUSE.id, START - timedelta(days=8), START + timedelta(minutes=minute))
    sweep(conn, judged(minute, *([DRYING] if drying else [])), tuple(done))


def test_work_is_listed_with_whether_it_helped_and_after_how_long(conn: Connection) -> None:
    swept(conn, 0, True)
    swept(conn, 10, True)
    first = add(conn, "re-set-emitter", 60)
    swept(conn, 60 + 12 * 60, True)
    second = add(conn, "replaced-emitter", 800)
    add(conn, "refilled", 805, reservoir(4))
    swept(conn, 990, False)
    swept(conn, 1060, False)
    end = START + timedelta(days=2)
    told = {
        each.entry.id: (each.helped, each.after, each.alarm_kind) for each in judged_work(conn, HOUSE.id, START, end)
    }
    assert told.pop(first) == (False, None, "drying-drift")
    assert told.pop(second) == (True, timedelta(minutes=190), "drying-drift")
    assert list(told.values()) == [(None, None, None)]
    of_room = judged_work(conn, HOUSE.id, START, end, room_id(4))
    assert [each.entry.kind for each in of_room] == ["refilled"]


def test_an_entry_that_was_withdrawn_is_not_listed_though_an_alarm_judged_it(conn: Connection) -> None:
    swept(conn, 0, True)
    swept(conn, 10, True)
    entry = add(conn, "re-set-emitter", 60)
    swept(conn, 100, False)
    swept(conn, 170, False)
    work.withdraw(conn, entry, HERE, START + timedelta(hours=4), None)
    assert judged_work(conn, HOUSE.id, START, START + timedelta(days=1)) == []
