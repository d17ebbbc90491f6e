"""The tension at which each container is usually watered: what its emitter is set to, seen from outside.

The peak of a day is the highest of its hours; usual is the median over past days. Shared by every kind that asks
whether an emitter still opens where it did. Not here: what follows if it does not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c

DAY_HOURS = 24


def usual_peak(hourly: NDArray[np.float32], ignores_days: int = c.PEAK_IGNORES_DAYS) -> NDArray[np.float64]:
    """Median of the daily peaks of hourly tension (N, T), over all days but the last ones; NaN where none is known."""
    past = hourly[:, : hourly.shape[1] - ignores_days * DAY_HOURS]
    days = past.shape[1] // DAY_HOURS
    if not days:
        return np.full(len(hourly), np.nan)
    return nanmedian(np.fmax.reduce(past[:, -days * DAY_HOURS :].reshape(len(past), days, DAY_HOURS), axis=2))
