"""Refills that levels show, beside what people wrote down."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import psycopg
import pytest

from tests.builders import place
from wickwatch.store import refills, work

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
DAY = timedelta(days=1)


def _level(hours: float) -> float:
    """Falls by 4 mm an hour; filled by 200 mm twenty and six hours ago."""
    return 400.0 - 4.0 * hours - 200.0 * (hours < -20) - 200.0 * (hours < -6)


def test_a_refill_without_an_entry_is_told_apart_from_one_that_was_written_down(database_url: str) -> None:
    with psycopg.connect(database_url) as conn:
        facility = place.facility(conn, "birchwood", "Birchwood House")
        room = place.room(conn, facility, "room-01", "Room 1", ("06:00", "18:00"))
        tank = place.reservoir(conn, room, "east", "R1 east")
        readings = place.series(NOW, DAY, timedelta(minutes=5), _level)
        place.measured(conn, facility, "reservoir", tank, readings, NOW - 2 * DAY)
        entry = work.add(
            conn,
            [facility],
            kind="refilled",
            subject_type="reservoir",
            subject_id=tank,
            at=NOW - timedelta(hours=5),
            now=NOW,
        )
        found = refills.seen(conn, facility, NOW - DAY, NOW)
        assert [(refill.reservoir, refill.entry_id) for refill in found] == [("R1 east", None), ("R1 east", entry.id)]
        assert [abs(refill.start - (NOW - timedelta(hours=hours))) < timedelta(minutes=15) for refill, hours in
                zip(found, (20, 6), strict=True)] == [True, True]  # fmt: skip
        # 200 mm of a tank 580 mm wide: 52.8 l (derived).
        assert [refill.litres for refill in found] == pytest.approx([52.8, 52.8], abs=1.5)
        assert refills.seen(conn, facility, NOW - DAY, NOW, room) == found
        other = place.room(conn, facility, "room-02", "Room 2", ("06:00", "18:00"))
        assert refills.seen(conn, facility, NOW - DAY, NOW, other) == []
        work.withdraw(conn, entry.id, [facility], NOW, None)
        assert [refill.entry_id for refill in refills.seen(conn, facility, NOW - DAY, NOW)] == [None, None]


def test_a_level_counts_only_while_it_measured_that_reservoir(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        facility = place.facility(conn, "birchwood", "Birchwood House")
        room = place.room(conn, facility, "room-01", "Room 1", ("06:00", "18:00"))
        tank = place.reservoir(conn, room, "east", "R1 east")
        readings = place.series(NOW, DAY, timedelta(minutes=5), _level)
        place.measured(conn, facility, "reservoir", tank, readings, NOW - timedelta(hours=12))
        (refill,) = refills.seen(conn, facility, NOW - DAY, NOW)
        assert refill.start > NOW - timedelta(hours=7)
