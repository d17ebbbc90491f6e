"""Numbers of arrays as the plain values that evidence holds: rounded as far as they mean something, NaN as None.

Not here: which numbers a kind gives.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.clock import moment


def rounded(value: float | np.floating | NDArray[np.float64], digits: int = 1) -> float | None:
    """A finite number (or array of no dimension) rounded; None for NaN and infinities."""
    number = round(float(value), digits)
    return number + 0.0 if math.isfinite(number) else None  # + 0.0 turns -0.0 into 0.0


def iso(at: np.datetime64) -> str | None:
    """RFC 3339 in UTC, to the second; None for NaT."""
    return None if np.isnat(at) else moment(at).strftime("%Y-%m-%dT%H:%M:%SZ")
