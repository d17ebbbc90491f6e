"""Moments of sweeps, and a clock that never runs a job twice at once."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.parts.process import wait_until
from wickwatch.watch.schedule import ALLOW, SWEEP, Clock, moment


@given(st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC)))
def test_a_moment_is_a_whole_multiple_that_readings_have_had_time_to_reach(now: datetime) -> None:
    as_of = moment(now)
    assert (as_of - datetime(1970, 1, 1, tzinfo=UTC)) % SWEEP == timedelta(0)
    assert ALLOW <= now - as_of < ALLOW + SWEEP


def test_moments_go_on_evenly_through_a_daylight_saving_change() -> None:
    # Oslo's clocks go back at 01:00 UTC.
    before = datetime(2026, 10, 25, 0, 59, 58, tzinfo=UTC)
    found = [moment(before + number * SWEEP) for number in range(6)]
    assert {later - earlier for earlier, later in pairwise(found)} == {SWEEP}


def run_for(clock: Clock, done: threading.Event) -> None:
    runner = threading.Thread(target=clock.run, args=(done,))
    runner.start()
    wait_until(done.is_set, "the clock's jobs", 20)
    runner.join(20)
    assert not runner.is_alive()


def test_a_job_that_overruns_is_not_started_again_until_it_has_ended(caplog: pytest.LogCaptureFixture) -> None:
    clock, done = Clock(workers=4), threading.Event()
    at_work, most, runs = 0, 0, 0

    def slow() -> None:
        nonlocal at_work, most, runs
        at_work += 1
        most = max(most, at_work)
        time.sleep(2.5)  # longer than two periods: this is the overrun itself, not a wait for something
        runs += 1
        at_work -= 1
        if runs == 2:
            done.set()

    clock.every(timedelta(seconds=1), "slow", slow)
    run_for(clock, done)
    assert most == 1
    assert any("job.overrun job=slow" in record.getMessage() for record in caplog.records)


def test_a_job_that_fails_is_run_again_and_said_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    clock, done = Clock(workers=1), threading.Event()
    runs = 0

    def failing() -> None:
        nonlocal runs
        runs += 1
        if runs == 2:
            done.set()
        raise ValueError("no such thing")

    clock.every(timedelta(seconds=1), "failing", failing)
    run_for(clock, done)
    assert any("job.failed job=failing error=ValueError" in record.getMessage() for record in caplog.records)
