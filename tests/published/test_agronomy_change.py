"""Cumulative sums, weighted averages and run lengths against the handbooks' printed figures and river."""

from __future__ import annotations

import random

import numpy as np
import pytest
from river.drift import PageHinkley

from wickwatch.agronomy import change

# published: NIST/SEMATECH e-Handbook 6.3.2.3, target 325, k 0.3175, h 4.1959; printed to two digits, two of
# them rounding ties, hence 0.006
NIST_X = [
    *[324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600],
    *[324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350],
]
NIST_HIGH = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
NIST_LOW = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]


def test_cusum_of_the_nist_handbook() -> None:
    high, low = change.cusum_rise(NIST_X, 325.0, 0.3175), change.cusum_fall(NIST_X, 325.0, 0.3175)
    assert high == pytest.approx(NIST_HIGH, abs=0.006)
    assert low == pytest.approx(NIST_LOW, abs=0.006)
    assert change.first_above(high, 4.1959) == 13  # point 14
    assert change.first_above(low, 4.1959) == -1


# published: Montgomery, Introduction to Statistical Quality Control, example 9.1, target 10, K 0.5, H 5
MONTGOMERY_X = [
    *[9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08],
    *[9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52],
]
MONTGOMERY_C = [
    *[0, 0, 0, 1.16, 2.82, 2.50, 0.04, 1.00, 0, 0, 0, 0.97, 0.98, 0, 0],
    *[0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28, 5.30],
]


def test_cusum_of_montgomery_signals_at_period_29_and_dates_the_change_after_period_22() -> None:
    sums = change.cusum_rise(MONTGOMERY_X, 10.0, 0.5)
    assert sums == pytest.approx(MONTGOMERY_C, abs=0.006)
    signal = change.first_above(sums, 5.0)
    assert signal == 28
    assert change.last_zero_before(sums, signal) == 21


# published: Montgomery table 9.3 and Lucas and Crosier 1982 (from memory), two-sided, k = 0.5; digits derived
# by Page's integral equation with 200 nodes
RUN_LENGTHS = {
    4.0: [(0, 167.7), (0.25, 74.22), (0.5, 26.63), (0.75, 13.29), (1, 8.383), (1.5, 4.747), (2, 3.343), (3, 2.194)],
    5.0: [(0, 465.4), (0.25, 139.5), (0.5, 38.0), (0.75, 17.05), (1, 10.376), (1.5, 5.747), (2, 4.009), (3, 2.573)],
}


@pytest.mark.parametrize("limit", RUN_LENGTHS)
def test_average_run_length_of_a_two_sided_cusum(limit: float) -> None:
    for shift, length in RUN_LENGTHS[limit]:
        assert change.two_sided_run_length(shift, 0.5, limit) == pytest.approx(length, rel=0.001)


@pytest.mark.parametrize(("limit", "length"), [(4.0, 335.4), (5.0, 930.9)])
def test_a_one_sided_cusum_runs_twice_as_long_without_a_shift(limit: float, length: float) -> None:
    assert change.cusum_run_length(0.0, 0.5, limit) == pytest.approx(length, rel=0.001)


def test_simulated_run_lengths_agree_with_the_integral_equation() -> None:
    readings = np.random.default_rng(11).normal(0.75, 1.0, (2000, 150))
    signal = change.first_above(change.cusum_rise(readings, 0.0, 0.5), 4.0)
    assert (signal >= 0).all()
    assert np.mean(signal + 1.0) == pytest.approx(change.cusum_run_length(0.75, 0.5, 4.0), rel=0.05)


# published: NIST/SEMATECH e-Handbook 6.3.2.4, lambda 0.3, start 50, s 2.0539, limits 52.5884 and 47.4115
EWMA_X = [
    *[52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5],
    *[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1],
]
EWMA_Z = [
    *[50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33],
    *[50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99],
]


def test_weighted_average_of_the_nist_handbook_and_its_limits() -> None:
    average = change.ewma(EWMA_X, 0.3, 50.0)
    assert average == pytest.approx(EWMA_Z, abs=0.006)
    half = change.ewma_half_width(0.3, 2.0539)
    assert [50.0 + half, 50.0 - half] == pytest.approx([52.5884, 47.4116], abs=2e-4)
    assert (np.abs(average - 50.0) < half).all()


def test_individuals_chart_of_the_nist_handbook() -> None:
    # published: e-Handbook 6.3.2.2: centre 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159
    readings = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    sigma = change.moving_range_sigma(readings)
    assert sigma * 1.128 == pytest.approx(1.8778, abs=5e-5)
    assert np.mean(readings) + 3.0 * sigma * np.array([1, -1]) == pytest.approx([55.8041, 45.8159], abs=1e-4)


def test_page_hinkley_signals_where_river_does() -> None:
    # published: river's documentation, change at index 1006, value 5
    source = random.Random(12345)
    stream = source.choices([0, 1], k=1000) + source.choices(range(4, 8), k=1000)
    found = change.page_hinkley(stream, delta=0.005)
    strongest = np.maximum(found.rise, found.fall)
    strongest[:29] = 0.0  # river waits for 30 readings
    assert change.first_above(strongest, 50.0) == 1006
    assert stream[1006] == 5

    other = PageHinkley()
    river_signals = []
    for index, value in enumerate(stream):
        other.update(value)
        if other.drift_detected:
            river_signals.append(index)
    assert river_signals[0] == 1006
