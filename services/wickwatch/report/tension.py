"""Time in band, and tension day by day: of every container, of rooms and of the whole.

Time is counted in steps of the grid whose mean lies within the limits in force at the container. A probe that stands
for several like containers counts for all of them. What was not measured is in neither the time nor the share. Not
here: drift (`drift`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.agronomy.trend import nanmedian
from wickwatch.detect import constants as c
from wickwatch.detect.layout import Layout
from wickwatch.report.readings import Readings
from wickwatch.report.week import DAYS, Week

#: Least share of what was expected that must be measured for a figure of a container to be given. Chosen here.
ENOUGH = 0.25

#: A container stands apart from this share of its set point on. Chosen here: emitters set one by one, by eye, differ by
#: some per cent, and a list of work that names each of those is not read.
APART = 0.15


@dataclass(frozen=True)
class InBand:
    """Steps of N containers inside their band and outside, `measured`, `expected`; `weight` is how many each means."""

    inside: NDArray[np.int64]
    too_dry: NDArray[np.int64]
    too_wet: NDArray[np.int64]
    measured: NDArray[np.int64]
    expected: NDArray[np.int64]
    weight: NDArray[np.int64]

    def share(self, which: NDArray[np.int64] | slice = slice(None)) -> float:
        """Share of the measured time that these containers were in band; NaN where nothing was measured."""
        return self.share_of(self.inside, which)

    def share_of(self, steps: NDArray[np.int64], which: NDArray[np.int64] | slice) -> float:
        """The same of other steps (N,), such as those too dry."""
        weight = self.weight[which]
        measured = float((weight * self.measured[which]).sum())
        return float((weight * steps[which]).sum()) / measured if measured else float("nan")


@dataclass(frozen=True)
class Tension:
    """A week of N containers in `rooms` rooms.

    `median_mbar` (N,); `daily_mbar` (N, 7) medians of days; `spread_mbar` (rooms,): between the tenth and the
    ninetieth percentile of the containers' medians. `room_daily_mbar` (rooms, 7, 3): tenth percentile, median and
    ninetieth of all that was measured in the room that day. `off_mbar` (N,): how far a container stands from its set
    point, beyond what is usual in its room.
    """

    band: InBand
    median_mbar: Floats
    daily_mbar: Floats
    spread_mbar: Floats
    room_daily_mbar: Floats
    off_mbar: Floats


def in_band(place: Layout, seen: Readings, columns: slice) -> InBand:
    """Count the steps of a stretch of time."""
    values = seen.tension_mbar[:, columns]
    wet, dry = (place.container_rules.of(name)[:, np.newaxis] for name in ("wet_limit_mbar", "dry_limit_mbar"))
    measured = np.isfinite(values)
    with np.errstate(invalid="ignore"):
        too_wet, too_dry = (values < wet), (values > dry)
    return InBand(
        inside=(measured & ~too_wet & ~too_dry).sum(axis=1),
        too_dry=too_dry.sum(axis=1),
        too_wet=too_wet.sum(axis=1),
        measured=measured.sum(axis=1),
        expected=np.maximum(seen.expected[:, columns].sum(axis=1), measured.sum(axis=1)),
        weight=place.stands_for,
    )


def tension(place: Layout, seen: Readings, week: Week) -> Tension:
    """All of one week."""
    columns = seen.columns(week.start, week.until)
    values, day = seen.tension_mbar[:, columns], week.day_of(seen.times[columns])
    rooms = len(place.rooms)
    daily = np.full((len(values), DAYS), np.nan)
    room_daily = np.full((rooms, DAYS, 3), np.nan)
    members = [np.flatnonzero(place.room_of == room) for room in range(rooms)]
    for each in range(DAYS):
        here = values[:, day == each]
        if not here.shape[1]:
            continue
        daily[:, each] = nanmedian(here)
        for room, inside in enumerate(members):
            room_daily[room, each] = _percentiles(here[inside])
    band = in_band(place, seen, columns)
    median = np.where(band.measured >= ENOUGH * np.maximum(band.expected, 1), nanmedian(values), np.nan)
    spread, off = np.full(rooms, np.nan), np.full(len(values), np.nan)
    from_set_point = median - place.container_rules.of("set_point_mbar")
    for room, inside in enumerate(members):
        low, _, high = _percentiles(median[inside])
        spread[room] = high - low if np.isfinite(median[inside]).sum() > 1 else np.nan
        off[inside] = from_set_point[inside] - nanmedian(from_set_point[inside])
    return Tension(band, median, daily, spread, room_daily, off)


def uneven(place: Layout, seen: Tension, room: int) -> NDArray[np.int64]:
    """Containers of a room that stand apart from the others, the farthest first; none in a room of few that tell."""
    inside = np.flatnonzero((place.room_of == room) & np.isfinite(seen.off_mbar))
    if len(inside) < c.UNEVEN_LEAST:
        return inside[:0]
    far = np.maximum(c.UNEVEN_MBAR, APART * place.container_rules.of("set_point_mbar")[inside])
    apart = inside[np.abs(seen.off_mbar[inside]) >= far]
    return apart[np.argsort(-np.abs(seen.off_mbar[apart]), kind="stable")]


def _percentiles(values: NDArray[np.floating]) -> Floats:
    there = values[np.isfinite(values)].astype(np.float64)
    return np.percentile(there, [10, 50, 90]) if len(there) else np.full(3, np.nan)
