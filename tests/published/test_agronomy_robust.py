"""Robust scale and regression against published data and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import median_abs_deviation, norm

from wickwatch.agronomy import regression, robust

# published: NIST/SEMATECH e-Handbook 1.3.5.17 data; Iglewicz and Hoaglin's 0.6745
NIST = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


def test_the_outlier_of_the_nist_data_stands_out_by_its_modified_z() -> None:
    scores = robust.modified_z(NIST)
    assert robust.mad_sigma(NIST) * 0.6744897501960817 == pytest.approx(0.995, abs=5e-4)
    assert scores[-1] == pytest.approx(29.96, abs=0.005)
    assert (np.abs(scores[:-1]) < 3.5).all()


def test_mad_to_sigma_is_hampels_constant() -> None:
    assert pytest.approx(1.0 / norm.ppf(0.75), rel=1e-15) == robust.MAD_TO_SIGMA
    readings = np.random.default_rng(6).normal(size=99)
    assert robust.mad_sigma(readings) == pytest.approx(median_abs_deviation(readings, scale="normal"))


def test_a_huber_fit_agrees_with_scipys_minimiser() -> None:
    source = np.random.default_rng(8)
    times = np.sort(source.uniform(0.0, 48.0, 120))
    values = 400.0 - 1.7 * times + source.standard_t(2, 120)
    found = regression.huber_line(values, times)

    def residuals(line: np.ndarray) -> np.ndarray:
        return np.asarray(line[0] + line[1] * times - values)

    other = least_squares(
        residuals,
        x0=[400.0, 0.0],
        loss="huber",
        f_scale=regression.TUNING * float(found.sigma),
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    assert [float(found.intercept), float(found.slope.value)] == pytest.approx(list(other.x), rel=1e-5)
