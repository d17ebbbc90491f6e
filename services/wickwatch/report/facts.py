"""Everything that a report of a week is made of: read from the store once, judged in arrays, written by nobody yet.

Not here: sentences (`document` and the sections), files, or the archive. The same rows give the same facts; `now` only
says which fine rollups are still kept, and how far a week that is not over has come.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

import numpy as np

from wickwatch.agronomy.air import vapour_pressure_deficit_kpa
from wickwatch.agronomy.arrays import Bools, Floats
from wickwatch.alarms.measures import Measures
from wickwatch.detect.layout import Layout, layout
from wickwatch.errors import InputError
from wickwatch.fleet import Facility
from wickwatch.report.completeness import Completeness, completeness
from wickwatch.report.drift import Drift, drift
from wickwatch.report.lights import Photoperiods
from wickwatch.report.readings import Readings, load
from wickwatch.report.refills import Filling, fillings
from wickwatch.report.tension import InBand, Tension, in_band, tension
from wickwatch.report.trends import WEEKS, Trends, trends
from wickwatch.report.used import Used, used_of
from wickwatch.report.water import Water, water
from wickwatch.report.week import Week
from wickwatch.store import fleet, judged, measures, readers, report_alarms, report_reads, rollups, work
from wickwatch.store.connect import Connection
from wickwatch.store.judged import Judged
from wickwatch.store.report_alarms import Raised
from wickwatch.store.report_reads import Span
from wickwatch.texts import N_, Choices

#: Called with what is being done now, in words, and how far the whole is, 0 to 1.
Tell = Callable[[str, float], None]

#: Work this long before the week still says from when a container's history counts.
_WORK_BEFORE = timedelta(days=8)


@dataclass(frozen=True)
class Facts:
    """A facility's week.

    `reader`: what the facility is spoken to in. `now`: as of when it was judged. `reached`: the newest reading in it,
    None where there is none. `fine`: judged from 5-minute buckets, else from hours. `band_by_hours` and `used_by_hours`
    are the week before and this one, both from hours, so that they compare; `alike` (rooms,) tells in which rooms the
    lights were set alike in both. `deficit_kpa` (rooms,) is the mean of the air's vapour pressure deficit.
    """

    facility: Facility
    reader: Choices
    place: Layout
    week: Week
    now: datetime
    reached: datetime | None
    fine: bool
    tension: Tension
    band_by_hours: tuple[InBand, InBand]
    alike: Bools
    drift: Drift
    water: Water
    used_by_hours: tuple[Used, Used]
    fillings: tuple[Filling, ...]
    deficit_kpa: Floats
    trends: Trends
    completeness: Completeness
    alarms: tuple[Raised, ...]
    measures: Measures
    measures_before: Measures
    work: tuple[Judged, ...]
    charges: Mapping[UUID, float]

    @property
    def over(self) -> bool:
        """Whether the week was over when it was judged."""
        return self.now >= self.week.end


def facts(conn: Connection, facility_id: UUID, week: Week, now: datetime, tell: Tell) -> Facts:
    """Read and judge a week from what is rolled up; `tell` hears of progress from 0 to 1. Ends no transaction.

    Raises InputError for a week that has not begun.
    """
    if week.start >= now:
        raise InputError("week", week.name, "a week that has begun")
    week = replace(week, now=now)
    tell(N_("reading the place"), 0.0)
    place = fleet.load_facility(conn, facility_id, week.until)
    arrays = layout(place)
    before, first = week.earlier(1), week.earlier(WEEKS - 1)
    this = Span(facility_id, week.start, week.end)
    long = Span(facility_id, min(first.start, week.end - timedelta(days=21)), week.end)
    faults = report_reads.faults(conn, long)

    tell(N_("reading twelve weeks"), 0.1)
    hourly = load(conn, arrays, long, faults, fine=False)
    tell(N_("reading the week"), 0.25)
    fine = now - week.start < rollups.FINE_KEPT
    # A day more: whether a seldom reading is missing at the beginning is told by the one before it.
    lead = Span(facility_id, week.start - timedelta(days=1), week.end)
    near = load(conn, arrays, lead, faults, fine=True) if fine else hourly

    tell(N_("judging"), 0.6)
    done = work.recent(conn, facility_id, week.start - _WORK_BEFORE, week.until)
    in_week = judged.judged(conn, facility_id, week.start, week.end)
    lights = Photoperiods(tuple(report_reads.lights(conn, long)))
    seen = water(arrays, near, hourly, week)
    moments = report_alarms.moments(conn, long)
    long_run = trends(arrays, hourly, week, lights, moments)
    then, since = hourly.columns(before.start, before.end), hourly.columns(week.start, week.until)
    tell(N_("judged"), 1.0)
    return Facts(
        facility=place,
        reader=readers.of_facility(conn, facility_id),
        place=arrays,
        week=week,
        now=now,
        reached=report_reads.reached(conn, this),
        fine=fine,
        tension=tension(arrays, near, week),
        band_by_hours=(in_band(arrays, hourly, then), in_band(arrays, hourly, since)),
        alike=np.asarray(long_run.light_hours[:, -1] == long_run.light_hours[:, -2], dtype=np.bool_),
        drift=drift(arrays, hourly, week, done),
        water=seen,
        used_by_hours=(
            used_of(arrays, hourly, then, before, seen.day, seen.night),
            used_of(arrays, hourly, since, week, seen.day, seen.night),
        ),
        fillings=fillings(arrays, seen.used.refills, [each.entry for each in in_week]),
        deficit_kpa=_deficit(hourly, week),
        trends=long_run,
        completeness=completeness(arrays, near, week),
        alarms=tuple(report_alarms.raised(conn, this)),
        measures=measures.of_facility(conn, place.id, place.zone, week.start, week.end, now),
        measures_before=measures.of_facility(conn, place.id, place.zone, before.start, before.end, now),
        work=tuple(in_week),
        charges=report_reads.charges(conn, this),
    )


def _deficit(hourly: Readings, week: Week) -> Floats:
    """Mean vapour pressure deficit of each room's air [kPa]; NaN where air is not measured."""
    columns = hourly.columns(week.start, week.until)
    deficit = vapour_pressure_deficit_kpa(hourly.temperature_degc[:, columns], hourly.humidity_percent[:, columns])
    there = np.isfinite(deficit)
    count = there.sum(axis=1)
    return np.where(count > 0, np.where(there, deficit, 0.0).sum(axis=1) / np.maximum(count, 1), np.nan)
