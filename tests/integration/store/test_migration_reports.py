"""Rooms of the release before have a history of their lights once there are reports, and its statements still work."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import psycopg

from tests.builders import place
from wickwatch.store import migrate
from wickwatch.store.migrate import known
from wickwatch.store.report_reads import Span, lights


def test_rooms_of_the_release_before_were_always_lit_as_they_are_now(empty_database_url: str) -> None:
    migrate(empty_database_url, [one for one in known() if one.number < 11])
    with psycopg.connect(empty_database_url) as conn:
        facility = place.facility(conn)
        before = place.room(conn, facility, "room-01", lights=("04:00", "22:00"))
    migrate(empty_database_url)
    with psycopg.connect(empty_database_url) as conn:
        after = place.room(conn, facility, "room-02", lights=("06:00", "18:00"))
        now = datetime.now(UTC)
        found = lights(conn, Span(facility, now - timedelta(days=400), now))
    assert {(each.room_id, each.lights_on, each.start, each.end) for each in found} == {
        (before, time(4), None, None),
        (after, time(6), None, None),
    }
