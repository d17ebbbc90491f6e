"""Photoperiods on the facility's wall clock, and which kinds are due."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from tests.unit.detect.builders import OSLO
from wickwatch.detect import due
from wickwatch.detect.clock import after, local_minutes, since_lights_on
from wickwatch.detect.due import EVERY

HOUR = np.timedelta64(1, "h")


def test_local_minutes_follow_the_wall_clock_through_the_spring_change() -> None:
    times = np.datetime64("2026-03-29T00:00", "us") + np.arange(4) * HOUR  # Oslo jumps at 01:00 UTC
    assert list(local_minutes(OSLO, times)) == [60, 180, 240, 300]


def test_local_minutes_follow_the_wall_clock_through_the_autumn_change() -> None:
    times = np.datetime64("2026-10-25T00:00", "us") + np.arange(3) * HOUR
    assert list(local_minutes(OSLO, times)) == [120, 120, 180]


def test_zones_off_the_hour_keep_their_minutes() -> None:
    times = np.array(["2026-11-20T00:00"], dtype="datetime64[us]")
    assert list(local_minutes(ZoneInfo("Asia/Kathmandu"), times)) == [345]


def test_lights_over_midnight_count_on_through_it() -> None:
    times = np.array(["2026-11-20T21:00", "2026-11-20T23:30", "2026-11-21T04:00"], dtype="datetime64[us]")
    assert since_lights_on(OSLO, times, np.array([22 * 60])).tolist() == [[0, 150, 420]]


NOON = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
QUICK = {"reservoir-empty", "probe-silent", "gateway-silent"}


def test_a_forecast_of_thousands_of_years_names_no_moment() -> None:
    now = np.datetime64("2026-11-20T12:00", "us")
    assert after(now, 1e9) is None
    assert after(now, 0.0) is None
    assert after(now, 1.5) == NOON + timedelta(hours=1.5)


def test_the_first_sweep_looks_at_every_kind() -> None:
    assert due(None, NOON) == set(EVERY)


def test_a_sweep_within_five_minutes_looks_at_the_quick_kinds_only() -> None:
    assert due(NOON, NOON + timedelta(minutes=4, seconds=59)) == QUICK


def test_wetting_is_due_when_a_five_minute_bucket_has_ended() -> None:
    assert due(NOON + timedelta(minutes=4, seconds=59), NOON + timedelta(minutes=5)) == QUICK | {"sudden-wetting"}


def test_a_late_sweep_is_due_what_it_missed() -> None:
    assert due(NOON + timedelta(minutes=1), NOON + timedelta(hours=9)) == set(EVERY)
