"""Laws of trend statistics over many series, missing readings and seasons."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from wickwatch.agronomy import trend
from wickwatch.errors import InputError

values = st.one_of(st.just(np.nan), st.integers(0, 9).map(float))
matrices = arrays(np.float64, st.tuples(st.integers(1, 4), st.integers(2, 13)), elements=values)


@settings(max_examples=40)
@given(matrices)
def test_a_batch_is_the_same_as_its_series_one_by_one(matrix: np.ndarray) -> None:
    times = np.arange(float(matrix.shape[1]))
    tests, slopes = trend.mann_kendall(matrix), trend.theil_sen(matrix, times)
    for row, series in enumerate(matrix):
        one, line = trend.mann_kendall(series), trend.theil_sen(series, times)
        np.testing.assert_equal(
            [tests.s[row], tests.z[row], tests.p_two_sided[row], tests.p_rising[row]],
            [one.s, one.z, one.p_two_sided, one.p_rising],
        )
        np.testing.assert_equal(
            [slopes.slope[row], slopes.low[row], slopes.high[row], slopes.intercept[row]],
            [line.slope, line.low, line.high, line.intercept],
        )


@settings(max_examples=40)
@given(matrices)
def test_missing_readings_count_as_if_they_had_never_been_sent(matrix: np.ndarray) -> None:
    series, times = matrix[0], np.arange(float(matrix.shape[1]))
    there = ~np.isnan(series)
    full, cut = trend.theil_sen(series, times), trend.theil_sen(series[there], times[there])
    np.testing.assert_equal([full.slope, full.low, full.high], [cut.slope, cut.low, cut.high])
    np.testing.assert_equal(trend.mann_kendall(series).p_two_sided, trend.mann_kendall(series[there]).p_two_sided)
    assert full.count == there.sum()


@settings(max_examples=40)
@given(matrices)
def test_a_mirrored_series_has_the_mirrored_trend(matrix: np.ndarray) -> None:
    times = np.arange(float(matrix.shape[1]))
    up, down = trend.theil_sen(matrix, times), trend.theil_sen(-matrix, times)
    np.testing.assert_allclose(down.slope, -up.slope)
    np.testing.assert_array_equal(trend.mann_kendall(-matrix).s, -trend.mann_kendall(matrix).s)


def test_many_long_series_are_worked_in_pieces_with_the_same_result() -> None:
    series = np.random.default_rng(1).normal(size=(150, 180))
    times = np.arange(180.0)
    together = trend.theil_sen(series, times).slope
    assert together[[0, 149]] == pytest.approx([float(trend.theil_sen(series[row], times).slope) for row in (0, 149)])


def test_a_gross_outlier_does_not_turn_the_slope() -> None:
    series = np.arange(11.0)
    for place in range(11):
        hit = series.copy()
        hit[place] = -1e6
        assert trend.theil_sen(hit, np.arange(11.0)).slope > 0.0


def test_too_few_readings_give_no_trend() -> None:
    found = trend.theil_sen([[np.nan, 4.0, np.nan], [np.nan] * 3], [0.0, 1.0, 2.0])
    assert np.isnan([found.slope, found.low, found.high, found.intercept]).all()
    assert found.count.tolist() == [1, 0]
    assert np.isnan(trend.mann_kendall([3.0]).p_two_sided)


def test_a_series_that_never_moves_shows_no_trend() -> None:
    found = trend.mann_kendall(np.full(12, 7.0))
    assert [float(part) for part in (found.s, found.z, found.p_two_sided)] == [0.0, 0.0, 1.0]
    assert trend.theil_sen(np.full(12, 7.0), np.arange(12.0)).slope == 0.0


def test_a_daily_swing_hides_a_drift_from_plain_pairs_but_not_from_seasonal_ones() -> None:
    # three readings at each of four hours; the drift is 2 a day, the swing 100
    days, hours = np.divmod(np.arange(12), 4)
    series = 100.0 * np.array([0.0, 1.0, 0.0, -1.0])[hours] + 2.0 * days
    times = days + hours / 4.0
    plain, seasonal = trend.theil_sen(series, times), trend.theil_sen(series, times, seasons=hours)
    assert plain.low < -50.0
    assert [float(seasonal.low), float(seasonal.slope), float(seasonal.high)] == pytest.approx([2.0] * 3)
    assert trend.mann_kendall(series, seasons=hours).p_two_sided < 0.01
    assert trend.mann_kendall(series).p_two_sided > 0.5


def test_each_series_may_have_times_of_its_own() -> None:
    times = np.array([[0.0, 1.0, 2.0], [0.0, 10.0, 20.0]])
    assert trend.theil_sen([[0.0, 1.0, 2.0]] * 2, times).slope == pytest.approx([1.0, 0.1])


def test_exact_p_is_a_distribution() -> None:
    for size in range(2, 11):
        highest = trend.mann_kendall(np.arange(float(size)))
        lowest = trend.mann_kendall(-np.arange(float(size)))
        assert lowest.p_rising == pytest.approx(1.0)
        assert highest.p_rising == pytest.approx(1.0 / np.prod(np.arange(1.0, size + 1.0)))


@pytest.mark.parametrize("times", [[0.0, 1.0], [0.0, 1.0, 1.0], [0.0, np.nan, 2.0]])
def test_times_that_do_not_rise_or_do_not_fit_are_refused(times: list[float]) -> None:
    with pytest.raises(InputError, match="times"):
        trend.theil_sen([1.0, 2.0, 3.0], times)


def test_a_season_is_needed_for_every_column() -> None:
    with pytest.raises(InputError, match="seasons"):
        trend.mann_kendall([1.0, 2.0, 3.0], seasons=[0, 1])


def test_twenty_thousand_series_of_fourteen_days_take_well_under_a_second() -> None:
    series = np.random.default_rng(2).normal(100.0, 3.0, (20_000, 14))
    start = time.process_time()
    trend.mann_kendall(series)
    trend.theil_sen(series, np.arange(14.0))
    assert time.process_time() - start < 1.0
