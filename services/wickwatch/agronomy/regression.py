"""Straight lines and sums of terms fitted to many noisy series, with an interval, whatever a few readings say.

Here: Huber's M-estimator by iterated weights [1], for a line or any design matrix. Not here: slopes of short
series (`trend`), and the meaning of the terms (`draw`). Huber rather than Theil-Sen because time grows with a
series' length, not with its square: a level series has hundreds of readings a day.

`values` has shape (..., n); NaN is a missing reading. Intervals allow for residuals that resemble their
neighbours (first-order autocorrelation), since readings minutes apart do.

1. Huber 1981, Robust Statistics, ch. 7: weights, and the covariance of eq. 6.5.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from wickwatch.agronomy.arrays import Bools, Floats, Interval, Ints, floats, within
from wickwatch.agronomy.robust import MAD_TO_SIGMA
from wickwatch.agronomy.trend import nanmedian
from wickwatch.errors import InputError

# Residuals beyond this many sigma lose weight; 95 % efficient for normal noise (Huber 1981).
TUNING = 1.345
# A series has settled when no fitted value moves by more than this share of its noise; the rounds are a
# backstop.
_SETTLED = 1e-5
_MOST_ROUNDS = 50


@dataclass(frozen=True)
class Fit:
    """Coefficients (..., p) of each series with their interval, and the noise sigma (...) around the fit.

    A coefficient is NaN where the readings say nothing about its term: fewer readings than terms, or a term
    that is zero at every reading.
    """

    coefficients: Interval
    sigma: Floats


@dataclass(frozen=True)
class Line:
    """Slope per unit of time with its interval, value at time 0 of the times given, and the noise around the line."""

    slope: Interval
    intercept: Floats
    sigma: Floats


def huber_line(values: ArrayLike, times: ArrayLike, confidence: float = 0.95) -> Line:
    """Return the robust straight line through each series; `times` is (n) for all or (..., n)."""
    moment = floats(times)
    middle = (np.nanmax(moment) + np.nanmin(moment)) / 2.0
    design = np.stack([np.ones_like(moment), moment - middle], axis=-1)
    fit = huber_fit(values, design, confidence)
    every = fit.coefficients
    slope = Interval(every.value[..., 1], every.low[..., 1], every.high[..., 1])
    return Line(slope, every.value[..., 0] - slope.value * middle, fit.sigma)


def huber_fit(values: ArrayLike, design: ArrayLike, confidence: float = 0.95) -> Fit:
    """Return the robust fit of each series as a sum of terms.

    `design` is (n, p) for all series or (..., n, p): each term's value at each reading. Terms must not be
    multiples of each other. Raises InputError if the shapes do not fit.
    """
    level = float(within("confidence", confidence, 0.0, 1.0))
    series, terms = floats(values), floats(design)
    *lead, length = series.shape
    if terms.ndim < 2 or terms.shape[-2] != length:
        raise InputError("design", terms.shape, f"{length} readings by terms")
    rows = series.reshape(prod(lead), length)
    if terms.ndim > 2:
        terms = np.broadcast_to(terms, (*lead, *terms.shape[-2:])).reshape(len(rows), *terms.shape[-2:])
    fit = _fit_rows(rows, terms, level)
    value, low, high = (end.reshape(*lead, terms.shape[-1]) for end in fit.coefficients.ends)
    return Fit(Interval(value, low, high), fit.sigma.reshape(lead))


def _fit_rows(rows: Floats, terms: Floats, level: float) -> Fit:
    there = ~np.isnan(rows)
    known = np.where(there, rows, 0.0)
    spoken = np.any(there[..., None] & (terms != 0.0), axis=-2)
    freedom = np.count_nonzero(there, axis=-1) - np.count_nonzero(spoken, axis=-1)

    found = _solve(terms, there.astype(np.float64), known, spoken)
    moving = np.flatnonzero(freedom > 0)
    for _ in range(_MOST_ROUNDS):
        own = terms if terms.ndim == 2 else terms[moving]
        seen, reading, before = there[moving], known[moving], found[moving]
        distance = np.abs(reading - _at(own, before))
        sigma = _scale(np.where(seen, distance, np.nan), reading)
        weight = np.where(seen, TUNING / np.maximum(distance / sigma[:, None], TUNING), 0.0)
        after = _solve(own, weight, reading, spoken[moving])
        found[moving] = after
        # Most series settle in a few rounds; only those that still move go on.
        moving = moving[np.abs(_at(own, after - before)).max(axis=-1) > _SETTLED * sigma]
        if not len(moving):
            break

    residual = np.where(there, known - _at(terms, found), np.nan)
    sigma = _scale(np.abs(residual), known)
    error = sigma[:, None] * _standard_errors(terms, residual / sigma[:, None], spoken, freedom)
    reach = stdtrit(np.maximum(freedom, 1), 0.5 + level / 2.0)[:, None] * error
    value = np.where(spoken & (freedom > 0)[:, None], found, np.nan)
    return Fit(Interval(value, value - reach, value + reach), np.where(freedom > 0, sigma, np.nan))


def _at(terms: Floats, coefficients: Floats) -> Floats:
    return floats((terms @ coefficients[..., None])[..., 0])


def _scale(distance: Floats, known: Floats) -> Floats:
    """Return sigma by the median distance from the fit, kept off zero where most readings fit exactly."""
    least = 1e-9 * np.max(np.abs(known), axis=-1, initial=0.0) + 1e-300
    return floats(np.fmax(MAD_TO_SIGMA * nanmedian(distance), least))


def _normal_matrix(terms: Floats, weight: Floats, spoken: Bools) -> Floats:
    """Return X'WX (..., p, p), made regular: a silent term gets a 1, so that its coefficient comes out 0."""
    size = terms.shape[-1]
    if terms.ndim == 2:
        products = (terms[:, :, None] * terms[:, None, :]).reshape(len(terms), size * size)
        matrix = (weight @ products).reshape(*weight.shape[:-1], size, size)
    else:
        matrix = np.swapaxes(terms * weight[..., None], -1, -2) @ terms
    # The added share keeps too few readings for the terms from being an error; it moves no seventh digit.
    return floats(matrix + np.eye(size) * (1e-10 * matrix + ~spoken[..., None]))


def _solve(terms: Floats, weight: Floats, known: Floats, spoken: Bools) -> Floats:
    right = np.swapaxes(terms, -1, -2) @ (weight * known)[..., None]
    return floats(np.linalg.solve(_normal_matrix(terms, weight, spoken), right)[..., 0])


def _standard_errors(terms: Floats, scaled: Floats, spoken: Bools, freedom: Ints) -> Floats:
    """Return each coefficient's standard error (..., p) in units of sigma, from residuals in sigma (..., n)."""
    there = ~np.isnan(scaled)
    pull = np.where(there, np.clip(scaled, -TUNING, TUNING), 0.0)
    count = np.maximum(np.count_nonzero(there, axis=-1), 1)
    # Share of readings with full weight; kept off zero, where the interval would have no width at all.
    inside = np.maximum(np.count_nonzero(np.abs(scaled) <= TUNING, axis=-1) / count, 1e-3)
    small_sample = 1.0 + np.count_nonzero(spoken, axis=-1) / count * (1.0 - inside) / inside
    square = np.sum(pull**2, axis=-1)
    noise = small_sample**2 * square / np.maximum(freedom, 1) / inside**2

    pairs = np.maximum(np.count_nonzero(there[..., 1:] & there[..., :-1], axis=-1), 1)
    together = np.sum(pull[..., 1:] * pull[..., :-1], axis=-1) / pairs
    alike = np.clip(together / np.maximum(square / count, 1e-300), 0.0, 0.98)
    noise = noise * (1.0 + alike) / (1.0 - alike)
    inverse = np.linalg.inv(_normal_matrix(terms, there.astype(np.float64), spoken))
    return floats(np.sqrt(noise[..., None] * np.diagonal(inverse, axis1=-2, axis2=-1)))
