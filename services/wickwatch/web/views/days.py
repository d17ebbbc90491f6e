"""The last days of each container: where its tension stood over the day, how it drifts, and what comes of that.

The drift is told as the watch tells a slow drying (`detect.drift_slow`): day by day at the same hours. Not here:
reading the hours (`web.days`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Interval
from wickwatch.agronomy.forecast import time_to_limit
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.drift_slow import slow
from wickwatch.fleet import Rules
from wickwatch.texts import _, ngettext, tension_unit
from wickwatch.web.views.plan import Ahead
from wickwatch.web.views.state import ContainerState, ReservoirState, RoomState
from wickwatch.web.views.times import span

DAY_HOURS = 24

#: Fewest days from which a drift is told; Mann-Kendall says nothing significant of fewer (Gilbert 1987).
_FEWEST_DAYS = 4

#: A forecast is drawn through so many points.
_POINTS = 12

#: A limit farther away than this is not told: the drift will not go on for so long.
_FAR_DAYS = 30.0


@dataclass(frozen=True)
class Day:
    """One container: `median_mbar` of the last day, the share of its hours in band (0 to 1), and its drift.

    `slope` is in mbar a day with its interval, NaN where too few days tell; `drifts` where it is significant and fast
    enough by the rules.
    """

    median_mbar: float
    in_band: float
    slope: Interval
    drifts: bool


def days_of(state: RoomState, hourly: NDArray[np.float32]) -> dict[UUID, Day]:
    """The last days of a room's containers by their hourly means (N, whole days of hours), the newest last."""
    if not len(hourly):
        return {}
    seen = slow(hourly, hourly.shape[1] // DAY_HOURS)
    last = hourly[:, -DAY_HOURS:]
    median = nanmedian(last)
    found = {}
    for number, each in enumerate(state.containers):
        heard = last[number][np.isfinite(last[number])]
        inside = (heard >= each.rules.wet_limit_mbar) & (heard <= each.rules.dry_limit_mbar)
        told = seen.days[number] >= _FEWEST_DAYS
        slope = Interval(*(part[number] if told else np.asarray(np.nan) for part in (seen.slope, seen.low, seen.high)))
        rules = each.rules
        found[each.row.id] = Day(
            median_mbar=float(median[number]),
            in_band=float(inside.mean()) if len(heard) else float("nan"),
            slope=slope,
            drifts=bool(
                told
                and seen.p_rising[number] <= 1.0 - rules.drift_confidence
                and slope.value >= rules.drift_mbar_per_day
            ),
        )
    return found


def tension_aheads(state: RoomState, days: Mapping[UUID, Day], now: datetime, length: timedelta) -> list[Ahead]:
    """Where the tension of each container goes by its drift; none where that can't be told."""
    found = []
    for each in state.containers:
        day = days.get(each.row.id)
        if day is None or each.place in ("silent", "unread") or not np.isfinite(day.slope.value + day.median_mbar):
            continue
        ends = [float(part) for part in (day.slope.value, day.slope.low, day.slope.high)]
        points = []
        for share in np.linspace(0.0, 1.0, 3):
            gone = float(share) * length
            since_middle = gone / timedelta(days=1) + 0.5  # the median of the day is that of its middle
            value, low, high = (max(day.median_mbar + slope * since_middle, 0.0) for slope in ends)
            points.append((now + gone, value, low, high))
        found.append(Ahead(str(each.row.id), points, _drift_words(each, day), day.drifts and not each.out))
    return found


def level_ahead(reservoir: ReservoirState, now: datetime, length: timedelta) -> Ahead | None:
    """How a reservoir's usable water goes down; None where that can't be told."""
    out = reservoir.run_out
    if out is None or out.at is None or not reservoir.usable_l or reservoir.silent:
        return None
    left = reservoir.usable_l
    points = []
    for share in np.linspace(0.0, 1.0, _POINTS):
        at = now + length * float(share)
        value, low, high = (_left(left, now, end, at) for end in (out.at, out.soonest, out.latest))
        points.append((at, value, low, high))
    expected = span(max(out.at - now, timedelta()))
    soonest = span(max((out.soonest or out.at) - now, timedelta()))
    latest = _("much later") if out.latest is None else span(out.latest - now)
    said = _("runs out in %(span)s", span=expected)
    if soonest != latest:
        sure = f"{100 * c.INTERVAL:.0f}"
        told = {"span": expected, "soonest": soonest, "latest": latest, "sure": sure}
        said = _("runs out in %(span)s (%(soonest)s to %(latest)s, %(sure)s %% sure)", **told)
    return Ahead(str(reservoir.row.id), points, said, True)


def _left(usable_l: float, now: datetime, end: datetime | None, at: datetime) -> float:
    if end is None:
        return usable_l
    return usable_l * max(1.0 - (at - now) / (end - now), 0.0) if end > now else 0.0


def _drift_words(container: ContainerState, day: Day) -> str:
    rules: Rules = container.rules
    unit = tension_unit()
    value, slope_low, slope_high = (
        unit.signed(float(each), 1) for each in (day.slope.value, day.slope.low, day.slope.high)
    )
    rate = _(
        "%(slope)s %(unit)s a day (%(low)s to %(high)s)", slope=value, unit=unit.name, low=slope_low, high=slope_high
    )
    rising = float(day.slope.value) > 0.0
    limit = rules.dry_limit_mbar if rising else rules.wet_limit_mbar
    now_mbar = day.median_mbar + 0.5 * float(day.slope.value)
    reached = time_to_limit(now_mbar, limit, day.slope, rising=rising)
    days = float(reached.value)
    if not 0.0 < days <= _FAR_DAYS:
        return rate
    low, high = float(reached.low), float(reached.high)
    latest = f"{high:.0f}" if high <= 2 * _FAR_DAYS else _("much later")
    told = {"rate": rate, "low": f"{low:.0f}", "latest": latest}
    if rising:
        return ngettext(
            "%(rate)s; at its dry limit in about %(num)s day (%(low)s to %(latest)s)",
            "%(rate)s; at its dry limit in about %(num)s days (%(low)s to %(latest)s)",
            round(days),
            **told,
        )
    return ngettext(
        "%(rate)s; at its wet limit in about %(num)s day (%(low)s to %(latest)s)",
        "%(rate)s; at its wet limit in about %(num)s days (%(low)s to %(latest)s)",
        round(days),
        **told,
    )
