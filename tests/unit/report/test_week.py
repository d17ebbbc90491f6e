"""ISO weeks in a facility's zone."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from wickwatch.errors import InputError
from wickwatch.report import Week, last_complete, parse

OSLO, LORD_HOWE = ZoneInfo("Europe/Oslo"), ZoneInfo("Australia/Lord_Howe")


@pytest.mark.parametrize(
    ("name", "monday"),
    [
        # ISO 8601: week 1 holds the year's first Thursday, so a year has 52 or 53 weeks.
        ("2026-W01", date(2025, 12, 29)),
        ("2026-W53", date(2026, 12, 28)),
        ("2027-W01", date(2027, 1, 4)),
        ("2020-W53", date(2020, 12, 28)),
    ],
)
def test_a_weeks_name_is_its_monday_and_back(name: str, monday: date) -> None:
    assert parse(name, OSLO).monday == monday
    assert parse(name, OSLO).name == name


@pytest.mark.parametrize(
    "name", ["2025-W53", "9999-W52", "2026-W00", "2026-W54", "2026W47", "2026-47", "", "2026-W4", "0000-W01"]
)
def test_what_is_no_week_is_refused_by_name(name: str) -> None:
    with pytest.raises(InputError, match="ISO 8601"):
        parse(name, OSLO)


@pytest.mark.parametrize(
    ("name", "zone", "hours"),
    [("2026-W13", OSLO, 167.0), ("2026-W43", OSLO, 169.0), ("2026-W47", OSLO, 168.0), ("2026-W14", LORD_HOWE, 168.5)],
)
def test_a_week_has_the_hours_that_the_clock_gives_it(name: str, zone: ZoneInfo, hours: float) -> None:
    week = parse(name, zone)
    assert week.hours == hours
    assert [at.astimezone(zone).hour for at in week.midnights] == [0] * 8


def test_days_are_told_by_local_midnights() -> None:
    week = parse("2026-W13", OSLO)  # its Sunday has 23 hours
    times = np.array(["2026-03-22T22:59", "2026-03-22T23:00", "2026-03-29T21:59", "2026-03-29T22:00"], "datetime64[us]")
    assert week.day_of(times).tolist() == [-1, 0, 6, 7]


def test_the_last_whole_week_ends_with_the_last_sunday_of_the_zone() -> None:
    late_sunday = datetime(2026, 11, 22, 23, 30, tzinfo=UTC)
    assert last_complete(late_sunday, ZoneInfo("UTC")).name == "2026-W46"
    assert last_complete(late_sunday, OSLO) == Week(date(2026, 11, 16), OSLO)
