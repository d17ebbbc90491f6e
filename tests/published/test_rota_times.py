"""Hand-over times against published ones: RFC 5545's examples, and the transitions of the IANA time zone database."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest

from wickwatch.alarms.rota import Pattern, Rota, quiet_until, spans, wall

NEW_YORK = ZoneInfo("America/New_York")
FIRST, SECOND = UUID(int=1), UUID(int=2)

#: Zone, day, clock, moment it means; and whether that clock comes once, twice or never. Transitions as in the IANA
#: time zone database: Europe/Oslo 2026-03-29 and 2026-10-25 at 01:00 UTC, America/New_York 2026-03-08 at 07:00 and
#: 2026-11-01 at 06:00 UTC, Australia/Lord_Howe (half an hour) 2026-04-04 at 15:00 and 2026-10-03 at 15:30 UTC. Which
#: moment is meant: RFC 5545, section 3.3.5.
CLOCKS = [
    ("Europe/Oslo", "2026-03-28T02:30", "2026-03-28T01:30Z", "once"),
    ("Europe/Oslo", "2026-03-29T01:59", "2026-03-29T00:59Z", "once"),
    ("Europe/Oslo", "2026-03-29T02:30", "2026-03-29T01:30Z", "never"),
    ("Europe/Oslo", "2026-03-29T03:00", "2026-03-29T01:00Z", "once"),
    ("Europe/Oslo", "2026-10-25T02:30", "2026-10-25T00:30Z", "twice"),
    ("Europe/Oslo", "2026-10-25T03:00", "2026-10-25T02:00Z", "once"),
    ("America/New_York", "2026-03-08T02:30", "2026-03-08T07:30Z", "never"),
    ("America/New_York", "2026-11-01T01:30", "2026-11-01T05:30Z", "twice"),
    ("Australia/Lord_Howe", "2026-04-05T01:45", "2026-04-04T14:45Z", "twice"),
    ("Australia/Lord_Howe", "2026-10-04T02:15", "2026-10-03T15:45Z", "never"),
    ("Asia/Kolkata", "2026-10-25T02:30", "2026-10-24T21:00Z", "once"),
]


@pytest.mark.parametrize(("zone", "clock", "moment", "comes"), CLOCKS)
def test_a_clock_time_means_one_moment_though_it_comes_twice_or_never(
    zone: str, clock: str, moment: str, comes: str
) -> None:
    there, local = ZoneInfo(zone), datetime.fromisoformat(clock)
    assert wall(local.date(), local.time(), there) == datetime.fromisoformat(moment)
    later = local.replace(tzinfo=there, fold=1).astimezone(UTC)
    back = wall(local.date(), local.time(), there).astimezone(there).replace(tzinfo=None, fold=0)
    assert comes == ("never" if back != local else "twice" if later != datetime.fromisoformat(moment) else "once")


def weekly(zone: ZoneInfo, start: datetime, days: int, count: int) -> list[datetime]:
    """The first hand-overs of a pattern, in the zone's clock."""
    pattern = Pattern(UUID(int=9), 1, (FIRST, SECOND), start.date(), start.time(), days)
    begin = wall(start.date(), start.time(), zone)
    found = spans(Rota(zone, (pattern,)), 1, begin, begin + timedelta(days=days * count + 1))
    return [span.start.astimezone(zone) for span in found][:count]


def test_weekly_turns_keep_the_clock_as_rfc_5545_prints_them() -> None:
    # RFC 5545, section 3.8.5.3: DTSTART;TZID=America/New_York:19970902T090000, RRULE:FREQ=WEEKLY;COUNT=10
    found = weekly(NEW_YORK, datetime(1997, 9, 2, 9), 7, 10)
    assert [(each.month, each.day) for each in found] == [
        (9, 2), (9, 9), (9, 16), (9, 23), (9, 30), (10, 7), (10, 14), (10, 21), (10, 28), (11, 4),
    ]  # fmt: skip
    assert {each.strftime("%H:%M") for each in found} == {"09:00"}
    assert [each.tzname() for each in found] == ["EDT"] * 8 + ["EST"] * 2


def test_turns_of_two_weeks_fall_where_rfc_5545_has_them() -> None:
    # The same section: FREQ=WEEKLY;INTERVAL=2 from 2 September 1997 is 2, 16, 30 September, 14, 28 October, 11 November
    found = weekly(NEW_YORK, datetime(1997, 9, 2, 9), 14, 6)
    assert [(each.month, each.day) for each in found] == [(9, 2), (9, 16), (9, 30), (10, 14), (10, 28), (11, 11)]


@pytest.mark.parametrize(("handed_over", "hours"), [("2026-03-29", 167), ("2026-10-25", 169), ("2026-11-01", 168)])
def test_a_turn_over_a_change_of_the_clock_is_an_hour_shorter_or_longer(handed_over: str, hours: int) -> None:
    oslo, day = ZoneInfo("Europe/Oslo"), date.fromisoformat(handed_over)
    pattern = Pattern(UUID(int=9), 1, (FIRST,), day - timedelta(days=6), time(8))
    start = wall(day - timedelta(days=6), time(8), oslo)
    (turn,) = spans(Rota(oslo, (pattern,)), 1, start, wall(day + timedelta(days=1), time(8), oslo))
    assert (turn.end - turn.start) == timedelta(hours=hours)


def test_a_hand_over_in_the_hour_that_never_is_and_in_the_one_that_comes_twice_leaves_no_hole() -> None:
    oslo = ZoneInfo("Europe/Oslo")
    pattern = Pattern(UUID(int=9), 1, (FIRST, SECOND), date(2026, 3, 22), time(2, 30))
    start, end = datetime(2026, 3, 23, tzinfo=UTC), datetime(2026, 11, 2, tzinfo=UTC)
    found = spans(Rota(oslo, (pattern,)), 1, start, end)
    assert all(before.end == after.start for before, after in pairwise(found))
    assert all(before.person_id != after.person_id for before, after in pairwise(found))
    starts = {span.start for span in found}
    assert datetime(2026, 3, 29, 1, 30, tzinfo=UTC) in starts  # 03:30: 02:30 was skipped
    assert datetime(2026, 10, 25, 0, 30, tzinfo=UTC) in starts  # the first 02:30 of two


def test_quiet_hours_are_of_the_clock_on_the_nights_it_changes() -> None:
    oslo = ZoneInfo("Europe/Oslo")
    night = time(22), time(6)
    # 22:00 to 06:00 is seven hours on 28 March and nine on 24 October 2026.
    for evening, hours in (("2026-03-28T21:00Z", 7), ("2026-10-24T20:00Z", 9), ("2026-11-20T21:00Z", 8)):
        begin = datetime.fromisoformat(evening)
        end = begin + timedelta(hours=hours)
        assert quiet_until(*night, begin, oslo) == end
        assert quiet_until(*night, end - timedelta(seconds=1), oslo) == end
        assert quiet_until(*night, end, oslo) is None
        assert quiet_until(*night, begin - timedelta(seconds=1), oslo) is None
