"""Whether lights burned when they usually do not, told by the room's air.

Lights warm a room by some degrees within the hour, and plants drink in light as they do by day. So a room that is warm
at an hour that used to be cool has lights on for longer than its plan says, or later, and its reservoir gives more than
usual without any leak. A heat wave warms all hours of a day, dark ones too. Not here: the plan itself (`clock`), nor
what plants then drink (`draws`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c


def unusual_light(
    degc: NDArray[np.float64], planned: NDArray[np.bool_], hour: NDArray[np.int64], columns: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Where lights burned in the last hours though they usually do not at that hour, (N, WEATHER_HOURS).

    From hourly temperature (N, T), whether lights are planned then (N, T), the facility's hour of the last
    `WEATHER_HOURS` columns, and the columns of each hour of the day (24, D) as from `same_hours`. False where no
    temperature is measured or lights do not warm the room. Hours right after such light count, since pots are watered
    then for what their plants drank in it.
    """
    warm, cool = (nanmedian(np.where(part, degc, np.nan)) for part in (planned, ~planned))
    with np.errstate(invalid="ignore"):
        told = warm - cool >= c.LIGHT_WARMS_DEGC
        burns = degc > (0.5 * (warm + cool))[:, np.newaxis] + _warmer(degc, planned, warm)
    padded = np.concatenate([burns, np.zeros((len(burns), 1), dtype=np.bool_)], axis=1)
    past = columns[:, 1 : 1 + c.USUAL_DRAW_DAYS]
    usually = padded[:, past].sum(axis=2) > 0.5 * (past >= 0).sum(axis=1)
    unusual = told[:, np.newaxis] & burns[:, -c.WEATHER_HOURS :] & ~usually[:, hour]
    found: NDArray[np.bool_] = unusual.copy()
    for after in range(1, c.LIGHT_AFTER_H + 1):
        found[:, after:] |= unusual[:, :-after]
    return found


def _warmer(degc: NDArray[np.float64], planned: NDArray[np.bool_], warm: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much warmer than usual rooms were on the day of each hour (N, T), told by its planned light alone.

    Days are of 24 hours up to now. Never less than 0: where lights fail for a day, dark hours are none of light.
    """
    days = degc.shape[1] // 24
    first = degc.shape[1] - 24 * days
    lit = np.where(planned, degc, np.nan)[:, first:].reshape(len(degc) * days, 24)
    by_day = nanmedian(lit).reshape(len(degc), days) - warm[:, np.newaxis]
    warmer = np.repeat(np.fmax(by_day, 0.0), 24, axis=1)
    return np.concatenate([np.zeros((len(degc), first)), warmer], axis=1)
