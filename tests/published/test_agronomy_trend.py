"""Mann-Kendall and Theil-Sen against published examples and tables, scipy and pymannkendall."""

from __future__ import annotations

import numpy as np
import pymannkendall
import pytest
from scipy import stats

from wickwatch.agronomy import trend

# published: EPA QA/G-9S, p. 109 (ties of 4 and 2); QA/G-9 box 4-6 (from memory); Hollander and Wolfe, example
# 9.1
EPA_TIES = [10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]
EPA_BOX = [5, 6, 11, 8, 10]
HOLLANDER = [1.26, 1.27, 1.12, 1.16, 1.03]
# invented exercise with three groups of ties (3, 2, 4), figures derived with pymannkendall 1.4.3
THREE_TIES = [17, 14, 39, 16, 39, 14, 14, 39, 17, 39]


@pytest.mark.parametrize(
    ("series", "s", "variance", "z"), [(EPA_TIES, 22, 155.333, 1.685), (THREE_TIES, 7, 111.667, 0.568)]
)
def test_mann_kendall_with_ties(series: list[float], s: float, variance: float, z: float) -> None:
    found = trend.mann_kendall(series)
    assert found.s == s
    assert found.variance == pytest.approx(variance, abs=5e-4)
    assert found.z == pytest.approx(z, abs=5e-4)


def test_two_sided_p_of_the_tied_series() -> None:
    assert trend.mann_kendall(EPA_TIES).p_two_sided == pytest.approx(0.0920, abs=5e-5)


def test_small_samples_are_judged_by_their_exact_p() -> None:
    # published one-sided p 0.117 for both; exact 0.1167
    rising, falling = trend.mann_kendall(EPA_BOX), trend.mann_kendall(HOLLANDER)
    assert [float(rising.s), float(falling.s)] == [6, -6]
    assert rising.p_rising == pytest.approx(0.1167, abs=5e-5)
    assert falling.p_two_sided / 2.0 == pytest.approx(0.1167, abs=5e-5)


# derived: exact one-sided P(S >= s), as tabulated in Gilbert 1987, table A18
EXACT = {
    4: [(4, 0.1667), (6, 0.0417)],
    5: [(4, 0.2417), (6, 0.1167), (8, 0.0417), (10, 0.0083)],
    6: [(7, 0.1361), (9, 0.0681), (11, 0.0278), (13, 0.0083), (15, 0.0014)],
    7: [(9, 0.1194), (11, 0.0681), (13, 0.0345), (15, 0.0151), (17, 0.0054)],
    8: [(12, 0.0894), (14, 0.0543), (16, 0.0305), (18, 0.0156), (20, 0.0071)],
    10: [(17, 0.0779), (19, 0.0542), (21, 0.0363), (23, 0.0233), (25, 0.0143), (27, 0.0083)],
}


def _with_s(size: int, s: int) -> list[float]:
    """Return an order of 1..size whose S is `s`: each exchange of neighbours takes 2 off the highest."""
    order = list(range(size))
    swaps = (size * (size - 1) // 2 - s) // 2
    while swaps:
        for place in range(size - 1):
            if swaps and order[place] < order[place + 1]:
                order[place], order[place + 1] = order[place + 1], order[place]
                swaps -= 1
    return [float(value) for value in order]


@pytest.mark.parametrize("size", EXACT)
def test_exact_p_is_that_of_the_published_table(size: int) -> None:
    for s, p in EXACT[size]:
        found = trend.mann_kendall(_with_s(size, s))
        assert found.s == s
        assert found.p_rising == pytest.approx(p, abs=6e-5)


# published: Hollander and Wolfe's slope -0.056 (from memory); the rest derived with scipy 1.17.1, x = 1..n
@pytest.mark.parametrize(
    ("series", "slope", "intercept", "low", "high"),
    [
        (HOLLANDER, -0.05625, 1.32875, -0.150, 0.040),
        (EPA_BOX, 1.125, 4.625, -3.0, 5.0),
        (EPA_TIES, 1.0, 9.0, 0.0, 2.0),
    ],
)
def test_theil_sen_slope_intercept_and_interval(
    series: list[float], slope: float, intercept: float, low: float, high: float
) -> None:
    found = trend.theil_sen(series, np.arange(1.0, len(series) + 1.0))
    assert found.slope == pytest.approx(slope)
    assert found.intercept == pytest.approx(intercept)
    assert [found.low, found.high] == pytest.approx([low, high])


def test_a_90_percent_interval_is_narrower() -> None:
    found = trend.theil_sen(HOLLANDER, np.arange(1.0, 6.0), confidence=0.90)
    assert [found.low, found.high] == pytest.approx([-0.130, 0.010])


@pytest.mark.parametrize(("series", "intercept"), [(HOLLANDER, 1.2725), (EPA_BOX, 5.75), (EPA_TIES, 10.0)])
def test_the_intercept_belongs_to_the_times_given(series: list[float], intercept: float) -> None:
    # derived with pymannkendall, which counts from 0
    found = trend.theil_sen(series, np.arange(float(len(series))))
    assert found.intercept == pytest.approx(intercept)
    assert pymannkendall.sens_slope(series).intercept == pytest.approx(intercept)


def test_rounded_series_agree_with_scipy_and_pymannkendall() -> None:
    source = np.random.default_rng(3)
    series = np.round(source.normal(100.0, 2.0, (40, 14)) + np.arange(14) * 0.4, 0)
    times = np.cumsum(source.uniform(0.5, 2.0, 14))
    slopes, tests = trend.theil_sen(series, times), trend.mann_kendall(series)
    for row, values in enumerate(series):
        expected = stats.theilslopes(values, times)
        found = [slopes.slope[row], slopes.intercept[row], slopes.low[row], slopes.high[row]]
        assert found == pytest.approx(list(expected))
        other = pymannkendall.original_test(values)
        assert (tests.s[row], tests.variance[row]) == pytest.approx((other.s, other.var_s))
        assert (tests.z[row], tests.p_two_sided[row]) == pytest.approx((other.z, other.p))


def test_seasonal_forms_agree_with_pymannkendall() -> None:
    source = np.random.default_rng(5)
    hours = 6
    pattern = 20.0 * np.sin(np.arange(60) % hours)
    values = np.round(pattern + 0.05 * np.arange(60) + source.normal(0.0, 1.0, 60), 1)
    seasons = np.arange(60) % hours
    other = pymannkendall.seasonal_test(values, period=hours)
    test = trend.mann_kendall(values, seasons)
    assert (test.s, test.variance, test.z) == pytest.approx((other.s, other.var_s, other.z))
    # pymannkendall's slope is per cycle
    slope = trend.theil_sen(values, np.arange(60.0) / hours, seasons).slope
    assert slope == pytest.approx(other.slope)
