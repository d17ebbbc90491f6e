"""Twelve weeks of each room and of the whole: which measures go up or down, with chance among many held down.

Mann-Kendall with Theil-Sen, each series of weeks compared only among weeks of the same photoperiod (Hirsch, Slack and
Smith 1982, where seasons are what lights are to a grow room); the facility's by its rooms together, each room a season
of its own (the regional Kendall test, Helsel and Frans 2006, Environ. Sci. Technol. 40:4066). Over all series of a
report the false discovery rate is held. All weeks are computed alike, from hours, so that they compare. Not here: this
week's own figures, which are finer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import numpy as np

from wickwatch.agronomy.arrays import Floats, Interval
from wickwatch.agronomy.trend import mann_kendall, nanmedian, theil_sen
from wickwatch.detect.clock import stamp
from wickwatch.detect.layout import Layout
from wickwatch.report.discovery import FALSE_SHARE, adjusted
from wickwatch.report.lights import Photoperiods
from wickwatch.report.readings import Readings
from wickwatch.report.tension import in_band
from wickwatch.report.used import ENOUGH, per_container, used_of
from wickwatch.report.week import Week
from wickwatch.texts import N_, _

WEEKS = 12

#: Measures, in the order they are shown: name, unit, digits.
MEASURES: Mapping[str, tuple[str, str, int]] = {
    "in_band": (N_("Time in band"), "%", 1),
    "tension": (N_("Median tension"), "mbar", 0),
    "spread": (N_("Spread between containers"), "mbar", 0),
    "water": (N_("Water per container and day"), "l", 2),
    "alarms": (N_("Alarms of their own cause"), "", 0),
}

#: Fewest weeks in which a trend can be told: with three, chance alone gives a run up or down one time in three.
_FEWEST = 4


@dataclass(frozen=True)
class Trend:
    """One series: `values` (12,) with the newest last, `slope` per week, `p` alone and `q` among all of the report."""

    values: Floats
    slope: float
    p: float
    q: float
    weeks: int

    @property
    def sure(self) -> bool:
        """Whether it is more than chance among so many series."""
        return self.q <= FALSE_SHARE

    @property
    def word(self) -> str:
        """What it does, in a word or two."""
        if self.weeks < _FEWEST or np.isnan(self.p):
            return _("too few weeks")
        if not self.sure:
            return _("no trend")
        return _("rising") if self.slope > 0 else _("falling")


@dataclass(frozen=True)
class Trends:
    """By measure: of the whole facility, and of each room in order."""

    weeks: tuple[Week, ...]
    light_hours: Floats
    facility: Mapping[str, Trend]
    rooms: tuple[Mapping[str, Trend], ...]


def trends(
    place: Layout,
    hourly: Readings,
    week: Week,
    lights: Photoperiods,
    alarms: Sequence[tuple[UUID | None, datetime]],
) -> Trends:
    """Trends of the twelve weeks that end with this one."""
    weeks = tuple(week.earlier(back) for back in range(WEEKS - 1, -1, -1))
    values = _values(place, hourly, weeks, alarms)
    labels = lights.hours(place, weeks)
    tested = {name: _rooms(values[name], labels) for name in MEASURES}
    whole = {name: _together(values[name], labels) for name in MEASURES}
    # One family: every series that this report tests.
    p = np.concatenate([np.append(tested[name][1], whole[name][1]) for name in MEASURES])
    q = adjusted(p).reshape(len(MEASURES), -1)
    rooms = []
    for room in range(len(place.rooms)):
        rooms.append(
            {
                name: _trend(values[name][room], tested[name][0][room], tested[name][1][room], q[number, room])
                for number, name in enumerate(MEASURES)
            }
        )
    facility = {
        name: _trend(_facility(place, values, name), whole[name][0], whole[name][1], q[number, -1])
        for number, name in enumerate(MEASURES)
    }
    return Trends(weeks, labels, facility, tuple(rooms))


def _trend(values: Floats, slope: float, p: float, q: float) -> Trend:
    return Trend(values, float(slope), float(p), float(q), int(np.isfinite(values).sum()))


def _values(
    place: Layout, hourly: Readings, weeks: Sequence[Week], alarms: Sequence[tuple[UUID | None, datetime]]
) -> dict[str, Floats]:
    """Each measure of each room (rooms, 12); NaN where too little was measured."""
    rooms = len(place.rooms)
    members = [np.flatnonzero(place.room_of == room) for room in range(rooms)]
    found = {name: np.full((rooms, len(weeks)), np.nan) for name in (*MEASURES, "weight")}
    nothing = Interval(*(np.full(len(place.reservoirs), np.nan),) * 3)
    number = {each.id: at for at, each in enumerate(place.rooms)}
    edges = np.array([stamp(week.start) for week in weeks] + [stamp(weeks[-1].end)])
    for at, week in enumerate(weeks):
        columns = hourly.columns(week.start, week.until)
        values = hourly.tension_mbar[:, columns]
        band = in_band(place, hourly, columns)
        enough = band.measured >= ENOUGH * week.hours
        median = np.where(enough, nanmedian(values), np.nan) if values.shape[1] else np.full(len(values), np.nan)
        used = used_of(place, hourly, columns, week, nothing, nothing)
        for room, inside in enumerate(members):
            told = inside[enough[inside]]
            if len(told):
                found["in_band"][room, at] = 100.0 * band.share(told)
                found["tension"][room, at] = np.median(median[told])
                found["weight"][room, at] = band.weight[told].sum()
            if len(told) > 1:
                found["spread"][room, at] = np.subtract(*np.percentile(median[told], [90, 10]))
            found["water"][room, at] = per_container(place, used, room, week)
            if len(told):
                found["alarms"][room, at] = 0.0
    for room_id, raised_at in alarms:
        where = None if room_id is None else number.get(room_id)
        at = int(np.searchsorted(edges, stamp(raised_at), side="right")) - 1
        if where is not None and 0 <= at < len(weeks) and np.isfinite(found["alarms"][where, at]):
            found["alarms"][where, at] += 1.0
    return found


def _rooms(values: Floats, labels: Floats) -> tuple[Floats, Floats]:
    """Slope per week and p of each room, rooms of the same photoperiods together."""
    slope, p = (np.full(len(values), np.nan) for _ in range(2))
    week = np.arange(values.shape[1], dtype=np.float64)
    if not len(values):
        return slope, p
    for own in np.unique(labels, axis=0):
        rooms = np.flatnonzero((labels == own).all(axis=1))
        seasons = None if len(np.unique(own)) == 1 else own
        slope[rooms] = theil_sen(values[rooms], week, seasons).slope
        p[rooms] = mann_kendall(values[rooms], seasons).p_two_sided
    few = np.isfinite(values).sum(axis=1) < _FEWEST
    return slope, np.where(few, np.nan, p)


def _together(values: Floats, labels: Floats) -> tuple[float, float]:
    """Slope per week and p of all rooms together, each compared only with itself."""
    rooms, weeks = values.shape
    if not rooms or np.isfinite(values).any(axis=0).sum() < _FEWEST:
        return float("nan"), float("nan")
    pairs = np.stack([np.repeat(np.arange(rooms), weeks), labels.ravel()], axis=1)
    seasons = np.unique(pairs, axis=0, return_inverse=True)[1].reshape(-1)
    # Times must rise along the row; within a room they rise week by week, which is all that is compared.
    week = np.arange(rooms * weeks, dtype=np.float64)
    whole = values.ravel()
    return float(theil_sen(whole, week, seasons).slope), float(mann_kendall(whole, seasons).p_two_sided)


def _facility(place: Layout, values: Mapping[str, Floats], name: str) -> Floats:
    """The measure of the whole, week by week: sums of alarms, means by the containers that told, else medians."""
    own = values[name]
    there = np.isfinite(own)
    if name == "alarms":
        return np.where(there.any(axis=0), np.nansum(own, axis=0), np.nan)
    if name in ("in_band", "water"):
        weight = np.where(there, np.nan_to_num(values["weight"], nan=1.0), 0.0)
        total = weight.sum(axis=0)
        return np.where(total > 0, np.where(there, own * weight, 0.0).sum(axis=0) / np.maximum(total, 1e-9), np.nan)
    return nanmedian(own.T)
