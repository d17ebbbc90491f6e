"""Weeks, rooms and reservoirs that a report must not break on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import numpy as np
import psycopg
import pytest

from tests.builders import place
from wickwatch.errors import InputError
from wickwatch.report import Facts, change, data, facts, papers, parse
from wickwatch.store.fleet import load_facility

OLD = datetime(2020, 1, 1, tzinfo=UTC)

Connection = psycopg.Connection[Any]


@pytest.fixture
def conn(plain_url: str) -> Any:
    """A connection to a database of the test's own."""
    with psycopg.connect(plain_url) as found:
        yield found


def report(conn: Connection, facility: UUID, name: str, now: datetime | None = None, *, files: bool = False) -> Facts:
    """Facts of a week, with what is written about it; `files` sets its pages, too."""
    zone = load_facility(conn, facility, datetime.now(UTC)).zone
    week = parse(name, zone)
    found = facts(conn, facility, week, now or week.end + timedelta(hours=6), lambda _, share: None)
    for file in (*papers(found, ("a4",) if files else (), lambda _, share: None), *data(found)):
        assert file.body
    return found


def measured(conn: Connection, facility: UUID, subject: tuple[str, UUID], values: list[tuple[datetime, float]]) -> int:
    """A channel that reports once an hour."""
    channel = place.channel(conn, facility, "level" if subject[0] == "reservoir" else "tension", 3600.0)
    place.attach(conn, channel, *subject, OLD)
    place.readings(conn, channel, values)
    return channel


def hourly(start: datetime, hours: int, value: Callable[[int], float]) -> list[tuple[datetime, float]]:
    """Readings on the half hour."""
    return [(start + timedelta(hours=hour, minutes=30), value(hour)) for hour in range(hours)]


def test_a_facility_with_nothing_in_it_has_a_report_that_says_so(conn: Connection) -> None:
    found = report(conn, place.facility(conn), "2026-W47", files=True)
    assert found.reached is None


def test_a_room_without_data_is_not_calm(conn: Connection) -> None:
    facility = place.facility(conn)
    room = place.room(conn, facility)
    pot = place.container(conn, room)
    place.attach(conn, place.channel(conn, facility), "container", pot, OLD)
    found = report(conn, facility, "2026-W47", files=True)
    assert np.isnan(found.tension.band.share())
    assert found.completeness.facility == 0.0


def test_a_reservoir_without_a_level_leaves_the_others_their_figures(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    room = place.room(conn, facility)
    place.reservoir(conn, room, "r-east")
    west = place.reservoir(conn, room, "r-west")
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    # A standing cylinder of 580 mm: 0.2642 l for each mm. Half a mm an hour.
    measured(conn, facility, ("reservoir", west), hourly(week.start, 168, lambda hour: 500 - hour / 2))
    found = report(conn, facility, "2026-W47", files=True)
    assert np.isnan(found.water.used.litres[0])
    assert found.water.used.litres[1] == pytest.approx(0.5 * 168 * 0.26421, rel=0.01)


@pytest.mark.parametrize(("name", "hours"), [("2026-W13", 167.0), ("2026-W43", 169.0), ("2026-W53", 168.0)])
def test_every_hour_of_a_week_of_any_length_counts_once(conn: Connection, name: str, hours: float) -> None:
    facility = place.facility(conn)
    pot = place.container(conn, place.room(conn, facility))
    week = parse(name, load_facility(conn, facility, datetime.now(UTC)).zone)
    before, after = week.start - timedelta(hours=5), int(hours) + 10
    measured(conn, facility, ("container", pot), hourly(before, after, lambda hour: 100.0))
    found = report(conn, facility, name)
    assert found.week.hours == hours
    assert found.tension.band.measured[0] == hours
    assert found.completeness.rooms[0] == pytest.approx(np.ones(7))


def test_a_room_added_within_the_week_is_complete_from_then_on(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    middle = week.start + timedelta(days=3)
    pot = place.container(conn, place.room(conn, facility))
    every = [(middle + timedelta(minutes=5 * step), 90.0) for step in range(288 * 4)]
    place.measured(conn, facility, "container", pot, every, middle)
    found = report(conn, facility, "2026-W47")
    assert found.completeness.probes[0] == 1.0
    assert np.isnan(found.completeness.rooms[0, :3]).all()
    assert found.completeness.rooms[0, 3:] == pytest.approx(np.ones(4))


def test_a_probe_that_was_moved_speaks_for_each_container_while_it_was_there(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    room = place.room(conn, facility)
    first, second = place.container(conn, room, "pot-01"), place.container(conn, room, "pot-02")
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    middle = week.start + timedelta(days=4)
    channel = place.channel(conn, facility, interval_s=3600.0)
    place.attach(conn, channel, "container", first, OLD)
    conn.execute("UPDATE assignment SET during = tstzrange(lower(during), %s)", (middle,))
    place.attach(conn, channel, "container", second, middle)
    place.readings(conn, channel, hourly(week.start, 168, lambda hour: 80.0 if hour < 96 else 120.0))
    found = report(conn, facility, "2026-W47")
    assert found.tension.median_mbar == pytest.approx([80.0, 120.0])


def test_a_week_that_is_not_over_says_so(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    room = place.room(conn, facility)
    pot = place.container(conn, room)
    measured(conn, facility, ("container", pot), hourly(week.start, 50, lambda hour: 90.0))
    tank = place.reservoir(conn, room)
    # Half a mm an hour from 320 mm: 225 mm above the level that counts as empty are left, for 450 hours.
    measured(conn, facility, ("reservoir", tank), hourly(week.start, 50, lambda hour: 320 - hour / 2))
    found = report(conn, facility, "2026-W47", week.start + timedelta(hours=50))
    assert not found.over
    # All that is missing is what was due before the first reading.
    assert found.completeness.facility > 0.97
    assert found.tension.median_mbar == pytest.approx([90.0])
    assert found.water.lasts.value == pytest.approx([450.0], rel=0.02)


def test_a_reservoir_that_stands_still_never_runs_out_and_is_no_unknown(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    tank = place.reservoir(conn, place.room(conn, facility))
    # A draw that is nothing but rounding: by it, water would last for millions of years.
    measured(conn, facility, ("reservoir", tank), hourly(week.start, 168, lambda hour: 500.0))
    found = report(conn, facility, "2026-W47")
    assert np.isposinf(found.water.lasts.value).all()


def test_a_week_whose_fine_buckets_are_no_longer_kept_is_told_from_hours(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    week = parse("2026-W30", load_facility(conn, facility, datetime.now(UTC)).zone)
    pot = place.container(conn, place.room(conn, facility))
    measured(conn, facility, ("container", pot), hourly(week.start, 168, lambda hour: 200.0 if hour % 4 else 100.0))
    conn.execute("DELETE FROM rollup_5m")
    found = report(conn, facility, "2026-W30", week.end + timedelta(days=100))
    assert not found.fine
    assert found.tension.band.share() == pytest.approx(0.25)


def test_weeks_of_another_photoperiod_are_told_apart(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    room = place.room(conn, facility, lights=("06:00", "00:00"))
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    conn.execute("UPDATE room SET lights_off = '18:00' WHERE id = %s", (room,))
    conn.execute(
        "UPDATE room_lights SET during = CASE WHEN upper_inf(during) THEN tstzrange(%(at)s, NULL) "
        "ELSE tstzrange(NULL, %(at)s) END WHERE room_id = %(room)s",
        {"at": week.earlier(3).start, "room": room},
    )
    pot = place.container(conn, room)
    # Rising from week to week, and at a leap where the lights changed: only four weeks compare with this one.
    long = hourly(week.earlier(11).start, 12 * 168, lambda hour: 80.0 + hour // 168 + (30.0 if hour < 8 * 168 else 0.0))
    measured(conn, facility, ("container", pot), long)
    found = report(conn, facility, "2026-W47")
    assert found.trends.light_hours[0].tolist() == [18.0] * 8 + [12.0] * 4
    assert found.trends.rooms[0]["tension"].slope == pytest.approx(1.0)
    assert found.trends.rooms[0]["tension"].sure


def test_a_week_that_has_not_begun_is_refused(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    with pytest.raises(InputError, match="a week that has begun"):
        report(conn, facility, "2026-W48", datetime(2026, 11, 22, 23, tzinfo=UTC))


def test_a_week_is_compared_with_the_one_before_in_rooms_whose_lights_were_set_alike(conn: Connection) -> None:
    facility = place.facility(conn, zone="UTC")
    week = parse("2026-W47", load_facility(conn, facility, datetime.now(UTC)).zone)
    rooms = [place.room(conn, facility, slug) for slug in ("room-01", "room-02")]
    for number, room in enumerate(rooms):
        # Too dry every second hour of this week in the first room, every hour in the second, never the week before.
        pot = place.container(conn, room)
        times = [at for at, _ in hourly(week.earlier(1).start, 336, float)]
        values = [(at, 200.0 if at >= week.start and (number or at.hour % 2) else 90.0) for at in times]
        measured(conn, facility, ("container", pot), values)
    conn.execute("UPDATE room SET lights_off = '20:00' WHERE id = %s", (rooms[1],))
    conn.execute(
        "UPDATE room_lights SET during = CASE WHEN upper_inf(during) THEN tstzrange(%(at)s, NULL) "
        "ELSE tstzrange(NULL, %(at)s) END WHERE room_id = %(room)s",
        {"at": week.start, "room": rooms[1]},
    )
    found = report(conn, facility, "2026-W47")
    assert found.alike.tolist() == [True, False]
    assert change.in_band(found) == pytest.approx(-0.5)
    assert np.isnan(change.in_band(found, np.array([1])))
    assert change.apart(found) == ["Room 02"]
