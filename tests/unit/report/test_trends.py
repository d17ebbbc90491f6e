"""Trends over twelve weeks, beside another program's test and another's slope."""

from __future__ import annotations

import numpy as np
import pymannkendall
import pytest
from scipy import stats

from wickwatch.report.trends import WEEKS, _rooms, _together

WEEK = np.arange(float(WEEKS))


def series(seed: int, slope: float) -> np.ndarray:
    """Twelve weeks of noise about a line."""
    return 90.0 + slope * WEEK + np.random.default_rng(seed).normal(0.0, 1.0, WEEKS)


@pytest.mark.parametrize("slope", [-0.8, 0.0, 0.3])
def test_a_room_of_one_photoperiod_is_tested_as_by_pymannkendall_and_scipy(slope: float) -> None:
    values = np.array([series(seed, slope) for seed in range(6)])
    found, p = _rooms(values, np.full(values.shape, 12.0))
    for row in range(len(values)):
        assert found[row] == pytest.approx(stats.theilslopes(values[row], WEEK).slope)
        assert p[row] == pytest.approx(pymannkendall.original_test(values[row]).p, abs=1e-9)


def test_a_leap_where_the_lights_changed_is_no_trend() -> None:
    values = np.array([[50.0 + 0.01 * (week % 3) + (40.0 if week >= 6 else 0.0) for week in range(WEEKS)]])
    lights = np.array([[12.0] * 6 + [18.0] * 6])
    assert _rooms(values, np.full(values.shape, 12.0))[1][0] < 0.05
    slope, p = _rooms(values, lights)
    assert abs(slope[0]) < 0.05
    assert p[0] > 0.05


def test_the_whole_is_its_rooms_each_compared_with_itself_alone() -> None:
    # Rooms at very different levels that all rise: together the trend is plainer than in any one of them.
    values = np.array([40.0 * room + series(room, 0.25) for room in range(8)])
    labels = np.full(values.shape, 12.0)
    slope, p = _together(values, labels)
    assert slope == pytest.approx(0.25, abs=0.1)
    assert p < _rooms(values, labels)[1].min()
    # The regional Kendall test is the sum over rooms, as its seasonal form is over seasons (Helsel and Frans 2006).
    parts = [pymannkendall.original_test(row) for row in values]
    s, variance = sum(each.s for each in parts), sum(each.var_s for each in parts)
    assert p == pytest.approx(2.0 * stats.norm.sf((s - 1.0) / variance**0.5))


def test_three_weeks_tell_no_trend() -> None:
    values = np.full((1, WEEKS), np.nan)
    values[0, -3:] = [1.0, 2.0, 3.0]
    assert np.isnan(_rooms(values, np.full(values.shape, 12.0))[1][0])
