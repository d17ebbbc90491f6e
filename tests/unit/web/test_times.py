"""Times as people say them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from wickwatch.web.views.times import ago, moment, span

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (datetime(2026, 11, 25, 3, 12, tzinfo=UTC), "04:12"),
        (datetime(2026, 11, 24, 23, 30, tzinfo=UTC), "00:30"),
        (datetime(2026, 11, 24, 22, 59, tzinfo=UTC), "yesterday 23:59"),
        (datetime(2026, 11, 26, 9, 0, tzinfo=UTC), "tomorrow 10:00"),
        (datetime(2026, 11, 21, 9, 0, tzinfo=UTC), "Sat 10:00"),
        (datetime(2026, 11, 3, 9, 0, tzinfo=UTC), "3 Nov 10:00"),
        (datetime(2025, 11, 3, 9, 0, tzinfo=UTC), "3 Nov 2025"),
    ],
)
def test_a_time_is_said_by_the_facilitys_clock_and_day(at: datetime, said: str) -> None:
    assert moment(at, OSLO, NOW).text == said


def test_a_time_carries_utc_for_programs_and_its_zone_for_the_curious() -> None:
    told = moment(datetime(2026, 11, 20, 4, 12, 5, 900, tzinfo=UTC), OSLO, NOW)
    assert told.iso == "2026-11-20T04:12:05Z"
    assert told.full == "Friday 20 November 2026 05:12:05 CET (Europe/Oslo)"


def test_the_hour_that_comes_twice_in_autumn_is_told_apart_in_full() -> None:
    first, second = (moment(datetime(2026, 10, 25, hour, 30, tzinfo=UTC), OSLO, NOW) for hour in (0, 1))
    assert first.text == second.text == "25 Oct 02:30"
    assert "CEST" in first.full
    assert "CET (" in second.full


@pytest.mark.parametrize(
    ("length", "said"),
    [
        (timedelta(seconds=40), "40 s"),
        (timedelta(minutes=25), "25 min"),
        (timedelta(minutes=-25), "25 min"),
        (timedelta(hours=5, minutes=20), "5 h"),
        (timedelta(hours=35), "35 h"),
        (timedelta(days=3, hours=2), "3 days"),
    ],
)
def test_a_length_is_rounded_to_what_matters(length: timedelta, said: str) -> None:
    assert span(length) == said


def test_what_was_heard_within_a_minute_and_a_half_was_heard_just_now() -> None:
    assert ago(NOW - timedelta(seconds=89), NOW) == "just now"
    assert ago(NOW - timedelta(minutes=3), NOW) == "3 min ago"
