"""Laws of change statistics over many series and missing readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from wickwatch.agronomy import change
from wickwatch.errors import InputError

values = st.one_of(st.just(np.nan), st.floats(-50.0, 50.0))
matrices = arrays(np.float64, st.tuples(st.integers(1, 3), st.integers(1, 30)), elements=values)


@given(matrices, st.floats(-5.0, 5.0), st.floats(0.0, 3.0))
def test_the_cusum_without_a_loop_is_the_textbook_recursion(matrix: np.ndarray, target: float, slack: float) -> None:
    rise, fall = change.cusum_rise(matrix, target, slack), change.cusum_fall(matrix, target, slack)
    for row, series in enumerate(matrix):
        high = low = 0.0
        for step, value in enumerate(series):
            if not np.isnan(value):
                high = max(0.0, high + value - target - slack)
                low = max(0.0, low + target - slack - value)
            assert rise[row, step] == pytest.approx(high, abs=1e-9)
            assert fall[row, step] == pytest.approx(low, abs=1e-9)


@given(matrices, st.floats(0.01, 1.0))
def test_the_weighted_average_stays_within_its_readings_and_batches(matrix: np.ndarray, weight: float) -> None:
    together = change.ewma(matrix, weight, 0.0)
    for row, series in enumerate(matrix):
        assert together[row] == pytest.approx(change.ewma(series, weight, 0.0))
    reach = np.nanmax(np.abs(np.where(np.isnan(matrix), 0.0, matrix)))
    assert (np.abs(together) <= reach + 1e-9).all()


@given(matrices)
def test_page_hinkley_mirrors_and_batches(matrix: np.ndarray) -> None:
    found, mirrored = change.page_hinkley(matrix, 0.1), change.page_hinkley(-matrix, 0.1)
    assert found.rise == pytest.approx(mirrored.fall, abs=1e-9)
    for row, series in enumerate(matrix):
        assert found.rise[row] == pytest.approx(change.page_hinkley(series, 0.1).rise)


def test_each_series_has_its_own_target() -> None:
    sums = change.cusum_rise([[1.0, 1.0], [11.0, 11.0]], [[0.0], [10.0]], 0.5)
    assert sums.tolist() == [[0.5, 1.0], [0.5, 1.0]]


def test_series_without_a_signal_say_so() -> None:
    sums = np.array([[0.0, 1.0, 3.0], [0.0, 0.0, 0.0], [2.0, 3.0, 4.0]])
    signal = change.first_above(sums, 1.5)
    assert signal.tolist() == [2, -1, 0]
    assert change.last_zero_before(sums, signal).tolist() == [0, -1, -1]


@given(st.floats(0.1, 1.0), st.floats(1.0, 6.0), st.floats(0.0, 2.0))
def test_a_larger_shift_is_found_sooner(slack: float, limit: float, shift: float) -> None:
    near = change.cusum_run_length(shift, slack, limit, nodes=16)
    far = change.cusum_run_length(shift + 0.5, slack, limit, nodes=16)
    assert 1.0 <= far < near


@pytest.mark.parametrize("weight", [0.0, -0.1, 1.5])
def test_a_weight_outside_0_to_1_is_refused(weight: float) -> None:
    with pytest.raises(InputError, match="weight"):
        change.ewma([1.0], weight, 0.0)


def test_a_negative_slack_is_refused() -> None:
    with pytest.raises(InputError, match="slack"):
        change.cusum_rise([1.0], 0.0, -0.5)


def test_the_noise_of_a_series_is_seen_through_its_drift_and_its_gaps() -> None:
    noise = np.random.default_rng(4).normal(0.0, 2.0, 4000)
    drifting = noise + 0.01 * np.arange(4000)
    drifting[::50] = np.nan
    assert change.moving_range_sigma(drifting) == pytest.approx(2.0, rel=0.05)
    assert np.isnan(change.moving_range_sigma([[1.0, np.nan, 2.0]])).all()
