"""Laws of robust smoothing, of finding refills and of robust fits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from wickwatch.agronomy import regression, robust, segments
from wickwatch.errors import InputError

values = st.one_of(st.just(np.nan), st.integers(-20, 20).map(float))
matrices = arrays(np.float64, st.tuples(st.integers(1, 3), st.integers(1, 20)), elements=values)


@given(matrices, st.sampled_from([1, 3, 5]))
def test_a_running_median_is_the_median_of_what_its_window_holds(matrix: np.ndarray, window: int) -> None:
    found = robust.running_median(matrix, window)
    half = window // 2
    for row, series in enumerate(matrix):
        for place in range(len(series)):
            around = series[max(place - half, 0) : place + half + 1]
            there = around[~np.isnan(around)]
            expected = np.median(there) if len(there) else np.nan
            np.testing.assert_equal(found[row, place], expected)


def test_an_even_window_has_no_middle() -> None:
    with pytest.raises(InputError, match="window"):
        robust.running_median([1.0, 2.0], 2)


def _falling_with_refills(noise_mm: float = 0.0) -> np.ndarray:
    """Return a level that falls 2 mm a reading and is filled twice: at once, and over 20 readings."""
    level = np.concatenate(
        [
            600.0 - 2.0 * np.arange(60),
            800.0 - 2.0 * np.arange(80),
            642.0 + 10.0 * np.arange(20),
            838.0 - 2.0 * np.arange(60),
        ]
    )
    return level + np.random.default_rng(9).normal(0.0, noise_mm, len(level)) if noise_mm else level


def test_fast_and_slow_refills_are_found_and_the_stretches_between_them_numbered() -> None:
    level = _falling_with_refills(noise_mm=1.0)
    jumps = segments.rising(level, window=6, least_rise=20.0)
    number = segments.segments_between_jumps(jumps, level)
    assert set(number[:58]) == {0}
    assert set(number[62:138]) == {1}
    assert set(number[162:]) == {2}
    assert set(number[142:156]) == {segments.NO_SEGMENT}


def test_a_single_wild_reading_is_no_refill() -> None:
    level = 600.0 - 2.0 * np.arange(60)
    level[30] = 900.0
    assert not segments.rising(level, window=6, least_rise=20.0).any()


@pytest.mark.parametrize(
    ("steps_mm", "found"),
    [([15.0], False), ([25.0], True), ([3.0] * 12, False), ([4.5] * 12, True)],
)
def test_a_rise_counts_only_if_it_is_high_enough_within_the_window(steps_mm: list[float], found: bool) -> None:
    # window 6 spans five steps: 20 mm are asked for, 15, 25, 15 and 22.5 mm given
    changes = np.concatenate([np.full(20, -1.0), steps_mm, np.full(20, -1.0)])
    level = 500.0 + np.cumsum(changes)
    assert segments.rising(level, window=6, least_rise=20.0).any() == found


def test_a_window_of_one_reading_holds_no_rise() -> None:
    with pytest.raises(InputError, match="window"):
        segments.rising([1.0, 2.0, 3.0], window=1, least_rise=1.0)
    assert segments.rising([0.0] * 5 + [50.0] * 5, window=2, least_rise=20.0).any()


def test_a_refill_during_a_silence_is_found_when_readings_come_again() -> None:
    level = np.concatenate([600.0 - 2.0 * np.arange(30), np.full(40, np.nan), 900.0 - 2.0 * np.arange(30)])
    number = segments.segments_between_jumps(segments.rising(level, 6, 20.0), level)
    assert set(number[:28]) == {0}
    assert set(number[73:]) == {1}


def test_a_level_that_only_falls_is_one_stretch() -> None:
    level = 600.0 - 2.0 * np.arange(60)
    number = segments.segments_between_jumps(segments.rising(level, 6, 20.0), level)
    assert set(number) == {0}


def test_each_reservoir_has_a_least_rise_and_stretches_of_its_own() -> None:
    both = np.stack([_falling_with_refills(), 600.0 - 2.0 * np.arange(220.0)])
    jumps = segments.rising(both, window=6, least_rise=[20.0, 5.0])
    number = segments.segments_between_jumps(jumps, both)
    assert number.max(axis=-1).tolist() == [2, 0]


def test_too_short_a_stretch_is_left_out_and_not_counted() -> None:
    jumps = np.array([False] * 5 + [True] + [False] * 2 + [True] + [False] * 4)
    number = segments.segments_between_jumps(jumps, np.zeros(13))
    assert number.tolist() == [0] * 5 + [-1] * 4 + [1] * 4


@settings(max_examples=40)
@given(st.floats(-50.0, 50.0), st.floats(-500.0, 500.0), st.lists(st.integers(0, 29), max_size=9))
def test_a_huber_line_lies_no_further_from_the_truth_than_least_squares(
    slope: float, start: float, wild: list[int]
) -> None:
    times = np.arange(30.0)
    series = start + slope * times
    truth = series.copy()
    series[wild] += 300.0 * (1.0 + np.arange(len(wild)) % 2)
    line = regression.huber_line(series, times)
    fitted = line.intercept + line.slope.value * times
    plain = np.polyval(np.polyfit(times, series, 1), times)
    assert np.abs(fitted - truth).max() <= np.abs(plain - truth).max() + 1e-4


def test_many_fits_at_once_are_the_same_as_one_by_one_and_skip_missing_readings() -> None:
    source = np.random.default_rng(10)
    times = np.arange(40.0)
    many = source.normal(0.0, 3.0, (6, 40)) + 0.5 * times
    many[source.random(many.shape) < 0.2] = np.nan
    together = regression.huber_line(many, times)
    for row, series in enumerate(many):
        there = ~np.isnan(series)
        one = regression.huber_line(series, times)
        cut = regression.huber_fit(series[there], np.stack([np.ones(40), times], axis=-1)[there])
        assert float(together.slope.value[row]) == pytest.approx(float(one.slope.value), rel=1e-4)
        assert float(one.slope.value) == pytest.approx(float(cut.coefficients.value[1]), rel=1e-4)


@pytest.mark.parametrize(("memory", "least"), [(0.0, 0.93), (0.6, 0.85)])
def test_95_percent_intervals_hold_the_truth_also_when_readings_resemble_their_neighbours(
    memory: float, least: float
) -> None:
    source = np.random.default_rng(12)
    noise = source.normal(size=(400, 300))
    for step in range(1, 300):
        noise[:, step] = memory * noise[:, step - 1] + np.sqrt(1.0 - memory**2) * noise[:, step]
    slope = regression.huber_line(noise - 0.02 * np.arange(300.0), np.arange(300.0)).slope
    held = np.mean((slope.low <= -0.02) & (slope.high >= -0.02))
    assert least <= held <= 0.99


def test_too_few_readings_or_a_silent_term_give_no_coefficient() -> None:
    series = [[1.0, np.nan, np.nan, np.nan], [1.0, 2.0, 3.0, 4.0]]
    line = regression.huber_line(series, np.arange(4.0))
    assert np.isnan(line.slope.value).tolist() == [True, False]
    design = np.stack([np.ones(4), np.zeros(4)], axis=-1)
    fit = regression.huber_fit(series[1], design)
    assert np.isnan(fit.coefficients.value).tolist() == [False, True]


def test_a_design_of_another_length_is_refused() -> None:
    with pytest.raises(InputError, match="design"):
        regression.huber_fit([1.0, 2.0], np.ones((3, 1)))
