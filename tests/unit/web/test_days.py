"""The last days of containers, and what comes next."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.web.rows import NOW, container, reservoir, room, state
from wickwatch.web.views.days import days_of, level_ahead, tension_aheads
from wickwatch.web.views.state import RunOut

DAY = timedelta(days=1)
HOURS = np.arange(7 * 24)


def test_a_line_that_rises_day_by_day_drifts_and_goes_on_at_its_rate() -> None:
    row = room()
    steady, rising = container(row, 100.0, "Steady"), container(row, 150.0, "Rising")
    made = state(row, steady, rising)
    swing = 6.0 * np.sin(2 * np.pi * HOURS / 24)
    noise = np.random.default_rng(1).normal(0.0, 0.5, (2, len(HOURS)))
    days = days_of(made, np.stack([100.0 + swing, 110.0 + swing + 8.0 * HOURS / 24]).astype(np.float32) + noise)
    assert (days[steady.id].drifts, days[rising.id].drifts) == (False, True)
    assert float(days[rising.id].slope.value) == pytest.approx(8.0, abs=0.5)
    ahead = {one.id: one for one in tension_aheads(made, days, NOW, 2 * DAY)}
    at, value, low, high = ahead[str(rising.id)].points[-1]
    assert at == NOW + 2 * DAY
    assert low <= value <= high
    # The rate, seven days from the first hour's level and two ahead; the line was made by it.
    assert value == pytest.approx(110.0 + 8.0 * 9, abs=3.0)
    assert ahead[str(rising.id)].told
    assert not ahead[str(steady.id)].told
    assert "at its dry limit in about" in ahead[str(rising.id)].said


def test_of_fewer_days_than_tell_no_drift_is_told() -> None:
    row = room()
    pot = container(row, 100.0)
    hourly = np.full((1, len(HOURS)), np.nan, dtype=np.float32)
    hourly[0, -60:] = 100.0 + np.arange(60)
    days = days_of(state(row, pot), hourly)
    assert np.isnan(float(days[pot.id].slope.value))
    assert days[pot.id].median_mbar == pytest.approx(147.5)
    assert tension_aheads(state(row, pot), days, NOW, DAY) == []


def test_the_share_in_band_counts_the_hours_of_the_last_day_that_were_measured() -> None:
    row = room()
    pot = container(row, 100.0)
    hourly = np.full((1, len(HOURS)), 100.0, dtype=np.float32)
    hourly[0, -24:-18] = np.nan
    hourly[0, -6:] = 200.0
    assert days_of(state(row, pot), hourly)[pot.id].in_band == pytest.approx(12 / 18)


def test_water_goes_down_to_nothing_when_it_runs_out_and_within_its_interval_before() -> None:
    row = room()
    (tank,) = state(row, reservoir(row, 270.0)).reservoirs
    ends = RunOut(NOW + DAY, NOW + 0.5 * DAY, NOW + 2 * DAY, 2.0)
    ahead = level_ahead(replace(tank, run_out=ends), NOW, 2 * DAY)
    assert ahead is not None
    assert ahead.points[0][1] == pytest.approx(tank.usable_l)
    assert all(low <= value <= high for _, value, low, high in ahead.points)
    assert [value > 0.0 for _, value, _, _ in ahead.points] == [at < NOW + DAY for at, *_ in ahead.points]
    assert ahead.said == "runs out in 24 h (12 h to 2 days, 80 % sure)"
    assert level_ahead(tank, NOW, DAY) is None
