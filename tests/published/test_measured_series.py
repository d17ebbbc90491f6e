"""Jumps and trends in a measured series, beside independent libraries.

The series is the pipe flow that river carries (river/datasets/water-flow.csv, BSD-3: litres per second, hourly, 1,268
readings; its docstring tells of three level shifts). The change points to compare with are ruptures' (PELT with a
linear kernel, which is a squared-error cost: Killick, Fearnhead and Eckley 2012, J. Am. Stat. Assoc. 107:1590).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pymannkendall
import pytest
import river.datasets
import ruptures
from numpy.typing import NDArray
from scipy import stats

from wickwatch.agronomy import change, segments, trend

#: A change that takes hours is dated by one reading of it or another.
HOURS = 3


@pytest.fixture(scope="module")
def flow() -> NDArray[np.float64]:
    file = Path(river.datasets.__file__).with_name("water-flow.csv")
    return pd.read_csv(file)["Water flow [l/s]"].to_numpy(dtype=np.float64)


@pytest.fixture(scope="module")
def breaks(flow: NDArray[np.float64]) -> list[int]:
    """Where ruptures sees the level change: a penalty from 5,000 to 12,000 (l/s)² gives the same six."""
    found = ruptures.KernelCPD(kernel="linear", min_size=2, jump=1).fit(flow).predict(pen=8000.0)
    assert len(found) == 7, "the last one is the series' end"
    return [int(at) for at in found[:-1]]


def _groups(marked: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last reading of each run of marked ones."""
    edges = np.flatnonzero(np.diff(np.pad(marked.astype(np.int8), 1)))
    return [(int(first), int(after) - 1) for first, after in edges.reshape(-1, 2)]


@pytest.mark.parametrize(("sign", "which"), [(-1.0, slice(0, None, 2)), (1.0, slice(1, None, 2))])
def test_jumps_are_found_where_the_change_points_are_and_nowhere_else(
    flow: NDArray[np.float64], breaks: list[int], sign: float, which: slice
) -> None:
    jumps = _groups(segments.rising(sign * flow, 6, 40.0))
    expected = breaks[which]
    assert len(jumps) == len(expected) == 3
    for (first, last), at in zip(jumps, expected, strict=True):
        assert first - HOURS <= at <= last + HOURS


def test_the_cumulative_sum_dates_each_fall_to_within_hours_of_its_change_point(
    flow: NDArray[np.float64], breaks: list[int]
) -> None:
    target, slack, limit = float(np.median(flow)), 15.0, 60.0
    begin = 0
    for fall, recovery in zip(breaks[::2], breaks[1::2], strict=True):
        sums = change.cusum_fall(flow[begin:], target, slack)
        signal = int(change.first_above(sums, limit))
        onset = begin + int(change.last_zero_before(sums, signal)) + 1
        assert abs(onset - fall) <= HOURS
        begin = recovery + 2 * HOURS
    assert change.first_above(change.cusum_fall(flow[begin:], target, slack), limit) == -1


def test_slope_and_significance_of_the_daily_medians_are_those_of_scipy_and_pymannkendall(
    flow: NDArray[np.float64],
) -> None:
    days = np.median(flow[: 52 * 24].reshape(52, 24), axis=1)
    slope = trend.theil_sen(days, np.arange(52.0))
    expected = stats.theilslopes(days, np.arange(52.0), alpha=0.8)
    assert slope.slope == pytest.approx(expected.slope, rel=1e-9)
    found, theirs = trend.mann_kendall(days), pymannkendall.original_test(days)
    assert (float(found.s), float(found.variance)) == (theirs.s, pytest.approx(theirs.var_s))
    assert found.p_two_sided == pytest.approx(theirs.p, rel=1e-6)
