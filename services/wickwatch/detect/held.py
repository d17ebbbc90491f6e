"""Conditions that work has put off: their subject settles and is not back yet, so nobody can say whether it helped.

While a container settles its detectors leave it out, and what they no longer find would look mended. So what was found
before holds on until the readings say that it is over: the container is back in its band, its line has brought water
again. What began only after the work was done, that work explains. Not here: what becomes of an alarm
(`alarms.conditions`, `alarms.verdict`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.clock import moment
from wickwatch.detect.finding import Key
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import cut
from wickwatch.fleet import Container, Kind, Reservoir


def held(sight: Sight, judged: frozenset[Kind]) -> dict[Key, datetime]:
    """Conditions of the judged kinds that hold on, and the onset from which work explains them instead."""
    settles = sight.settling
    found: dict[Key, datetime] = {}
    tanks = np.flatnonzero(settles.reservoir_until > sight.as_of)
    for kind in judged & {"reservoir-leak", "probe-fault"}:
        found |= _keys(kind, sight.place.reservoirs, tanks, settles.reservoir_from)
    which = np.flatnonzero(settles.container_until > sight.as_of)
    if not len(which):
        return found
    containers = sight.place.containers
    since, now = settles.container_from, _now(sight, which)
    if "probe-fault" in judged:
        found |= _keys("probe-fault", containers, which, since)
    if "drying-drift" in judged:
        found |= _keys("drying-drift", containers, which[~_back(sight, which, now)], since)
    if "sudden-wetting" in judged:
        limit = sight.place.container_rules.of("wet_limit_mbar")[which]
        wet = which[~(now >= limit + c.RECOVERS_MBAR)]
        by_hand = settles.watered_at - np.timedelta64(c.WATERED_BEFORE_MIN, "m")
        found |= _keys("sudden-wetting", containers, wet, np.fmin(since, by_hand))
    if "supply-interrupted" in judged:
        found |= _lines(sight, which, now)
    if "uneven-room" in judged:
        for room in np.unique(sight.place.room_of[which]):
            newest = since[which[sight.place.room_of[which] == room]].max()
            found["uneven-room", sight.place.rooms[room].id] = moment(newest)
    return found


def _now(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.float64]:
    """Tension of containers now (N,), from readings after the work only; NaN where there are none."""
    since = np.fmax(sight.place.tension.since[which], sight.settling.container_from[which])
    now = nanmedian(cut(sight.frame.fine, sight.tension.row[which], since, c.NOW_STEPS))
    return np.where(sight.tension.known[which], now, np.nan)


def _back(sight: Sight, which: NDArray[np.int64], now: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether containers are in their band again and not above their set point by more than the tolerance."""
    rules = sight.place.container_rules
    high = rules.of("set_point_mbar")[which] + rules.of("settled_mbar")[which]
    return np.asarray((now >= rules.of("wet_limit_mbar")[which]) & (now <= high))


def _lines(sight: Sight, which: NDArray[np.int64], now: NDArray[np.float64]) -> dict[Key, datetime]:
    """Lines whose settling containers have not been watered since the work, but for a few."""
    place, since = sight.place, sight.settling.container_from
    series = cut(sight.frame.fine, sight.tension.row[which], np.fmax(place.tension.since, since)[which])
    highest = np.fmax.reduce(series, axis=1)
    watered = (now <= highest - c.LEAST_RISE_MBAR) | _back(sight, which, now)
    found: dict[Key, datetime] = {}
    for line in np.unique(place.line_of[which]):
        of_line = (place.line_of[which] == line) & sight.tension.known[which]
        if line == NONE or not of_line.any() or watered[of_line].mean() > 1.0 - c.SUPPLY_HOLD_SHARE:
            continue
        found["supply-interrupted", place.lines[line].id] = moment(since[which[of_line]].max())
    return found


def _keys(
    kind: Kind, things: Sequence[Container | Reservoir], which: Iterable[np.int64], since: NDArray[np.datetime64]
) -> dict[Key, datetime]:
    return {(kind, things[int(number)].id): moment(since[number]) for number in which}
