"""What a report reads: how lights were set before, and what measured what."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import psycopg

from tests.builders import place
from wickwatch.store.report_reads import Span, lights, stretches

NOW = datetime(2026, 11, 23, tzinfo=UTC)


def test_lights_that_are_set_otherwise_leave_what_was_before(plain_url: str) -> None:
    with psycopg.connect(plain_url, autocommit=True) as conn:
        facility = place.facility(conn)
        room = place.room(conn, facility, lights=("06:00", "18:00"))
        conn.execute("UPDATE room SET name = 'Another name' WHERE id = %s", (room,))
        conn.execute("UPDATE room SET lights_off = '00:00' WHERE id = %s", (room,))
        span = Span(facility, datetime.now(UTC) - timedelta(days=1), datetime.now(UTC) + timedelta(days=1))
        before, after = lights(conn, span)
        assert (before.lights_on, before.lights_off, before.start) == (time(6), time(18), None)
        assert (after.lights_on, after.lights_off, after.end) == (time(6), time(0), None)
        assert before.end == after.start


def test_lights_set_twice_in_one_transaction_were_set_once(plain_url: str) -> None:
    with psycopg.connect(plain_url, autocommit=True) as conn:
        facility = place.facility(conn)
        room = place.room(conn, facility, lights=("06:00", "18:00"))
        with conn.transaction():
            for off in ("20:00", "22:00"):
                conn.execute("UPDATE room SET lights_off = %s WHERE id = %s", (off, room))
        now = datetime.now(UTC)
        found = lights(conn, Span(facility, now - timedelta(days=1), now + timedelta(days=1)))
        assert [each.lights_off for each in found] == [time(18), time(22)]


def test_a_channel_is_told_with_what_it_measured_and_when(plain_url: str) -> None:
    with psycopg.connect(plain_url, autocommit=True) as conn:
        facility = place.facility(conn)
        room = place.room(conn, facility)
        pots = [place.container(conn, room, f"pot-0{number}") for number in (1, 2)]
        channel = place.channel(conn, facility, interval_s=600.0)
        place.attach(conn, channel, "container", pots[0], NOW - timedelta(days=9))
        conn.execute("UPDATE assignment SET during = tstzrange(lower(during), %s)", (NOW - timedelta(days=3),))
        place.attach(conn, channel, "container", pots[1], NOW - timedelta(days=3))
        first, second = stretches(conn, Span(facility, NOW - timedelta(days=7), NOW))
        assert (first.subject_id, first.end, first.interval_s) == (pots[0], NOW - timedelta(days=3), 600.0)
        assert (second.subject_id, second.start, second.end) == (pots[1], NOW - timedelta(days=3), None)
        assert stretches(conn, Span(facility, NOW - timedelta(days=2), NOW)) == [second]
