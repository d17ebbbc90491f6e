"""A mistake in a work entry is followed by a row that names it; the newer one counts, and both stay."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from tests.integration.alarms.house import HERE, build, connect, person, rows
from tests.unit.alarms.places import HOUSE, START, named, pot, reservoir
from wickwatch.errors import InputError, RefusedError
from wickwatch.store import work
from wickwatch.store.connect import Connection

NOW = START


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url) as connection:
        build(connection)
        yield connection


def add(conn: Connection, kind: str = "refilled", **more: Any) -> work.Entry:
    subject = reservoir() if kind == "refilled" else pot()
    about = {"kind": kind, "subject_type": subject.type, "subject_id": subject.id, "at": NOW, "now": NOW}
    return work.add(conn, HERE, **(about | more))


def test_a_correction_stands_in_place_of_the_entry_it_names_and_can_be_corrected_itself(conn: Connection) -> None:
    first = add(conn, note="60 l")
    second = add(conn, note="80 l", corrects=first.id)
    third = add(conn, kind="re-set-emitter", at=NOW - timedelta(hours=1), corrects=second.id)
    assert [(each.id, each.corrects) for each in work.recent(conn, HOUSE.id, NOW - timedelta(days=1))] == [
        (third.id, second.id)
    ]
    assert len(rows(conn, "SELECT FROM work_entry")) == 3


def test_a_withdrawn_entry_counts_no_more_and_tells_who_withdrew_it(conn: Connection) -> None:
    ane = person(conn, "Ane")
    entry = add(conn)
    work.withdraw(conn, entry.id, HERE, NOW + timedelta(minutes=3), ane)
    assert work.recent(conn, HOUSE.id, NOW - timedelta(days=1)) == []
    ((person_id, at, written_at),) = rows(conn, "SELECT person_id, at, written_at FROM work_entry WHERE withdrawn")
    assert (person_id, at, written_at) == (ane, NOW, NOW + timedelta(minutes=3))


def test_an_entry_is_corrected_once_and_by_those_who_may_see_it(conn: Connection) -> None:
    entry = add(conn)
    with pytest.raises(InputError, match="a work entry of a facility you may see"):
        work.withdraw(conn, entry.id, [named("another")], NOW, None)
    with pytest.raises(InputError, match="a work entry of a facility you may see"):
        add(conn, corrects=named("nothing"))
    work.withdraw(conn, entry.id, HERE, NOW, None)
    for again in (entry.id, *(id for (id,) in rows(conn, "SELECT id FROM work_entry WHERE withdrawn"))):
        with pytest.raises(RefusedError, match="already corrected"):
            add(conn, corrects=again)


def test_work_is_asked_for_from_one_moment_until_before_another(conn: Connection) -> None:
    for hours in (1, 2, 3):
        add(conn, at=NOW - timedelta(hours=hours))
    start, until = NOW - timedelta(hours=3), NOW - timedelta(hours=1)
    assert [entry.at for entry in work.recent(conn, HOUSE.id, start, until)] == [
        NOW - timedelta(hours=3),
        NOW - timedelta(hours=2),
    ]
