"""The figures of a report as tables, whole and not rounded, as CSV and Parquet.

Not here: the report that people read, which shows a part of them. Columns name their unit; times are UTC; what is not
known is empty.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from wickwatch.detect.clock import moment
from wickwatch.report.facts import Facts
from wickwatch.report.trends import MEASURES
from wickwatch.report.used import per_container, total
from wickwatch.report.water import run_out

Tables = Mapping[str, pd.DataFrame]


def tables(facts: Facts) -> Tables:
    """Every table by its name."""
    return {
        "rooms": _rooms(facts),
        "containers": _containers(facts),
        "tension-by-day": _by_day(facts),
        "reservoirs": _reservoirs(facts),
        "refills": _refills(facts),
        "alarms": _alarms(facts),
        "trends": _trends(facts),
        "data-by-day": _data(facts),
    }


def csv(frame: pd.DataFrame) -> bytes:
    """A table as CSV (RFC 4180, UTF-8), times as RFC 3339."""
    return frame.to_csv(index=False, date_format="%Y-%m-%dT%H:%M:%SZ", lineterminator="\r\n").encode()


def parquet(frame: pd.DataFrame) -> bytes:
    """A table as Parquet."""
    out = io.BytesIO()
    frame.to_parquet(out, index=False)
    return out.getvalue()


def _of(facts: Facts, columns: Mapping[str, Any]) -> pd.DataFrame:
    """A table with the week before its columns, so that tables of several weeks can be put together."""
    frame = pd.DataFrame(dict(columns))
    frame.insert(0, "week", facts.week.name)
    return frame


def _times(found: Iterable[datetime | None]) -> pd.Series:
    return pd.Series(list(found), dtype="datetime64[us, UTC]")


def _rooms(facts: Facts) -> pd.DataFrame:
    place, band = facts.place, facts.tension.band
    inside = [np.flatnonzero(place.room_of == room) for room in range(len(place.rooms))]
    tanks = [np.flatnonzero(place.reservoir_room == room) for room in range(len(place.rooms))]
    used = facts.water.used
    return _of(
        facts,
        {
            "room": [room.slug for room in place.rooms],
            "light_hours": facts.trends.light_hours[:, -1],
            "in_band": [band.share(which) for which in inside],
            "spread_mbar": facts.tension.spread_mbar,
            "water_l": [total(used.litres[which]) for which in tanks],
            "water_l_per_container_day": [per_container(place, used, room, facts.week) for room in range(len(inside))],
            "deficit_kpa": facts.deficit_kpa,
            "surely_drifting": [int(facts.drift.sure[which].sum()) for which in inside],
        },
    )


def _containers(facts: Facts) -> pd.DataFrame:
    place, band, drift = facts.place, facts.tension.band, facts.drift
    with np.errstate(invalid="ignore", divide="ignore"):
        parts = {name: getattr(band, name) / band.measured for name in ("inside", "too_dry", "too_wet")}
    return _of(
        facts,
        {
            "room": [place.rooms[room].slug for room in place.room_of],
            "container": [each.slug for each in place.containers],
            "stands_for": place.stands_for,
            "median_mbar": facts.tension.median_mbar,
            "in_band": parts["inside"],
            "too_dry": parts["too_dry"],
            "too_wet": parts["too_wet"],
            "off_mbar": facts.tension.off_mbar,
            "slope_mbar_per_day": drift.slope.value,
            "slope_low_mbar_per_day": drift.slope.low,
            "slope_high_mbar_per_day": drift.slope.high,
            "sure": drift.sure,
            "days_told": drift.days,
            "days_to_limit": np.where(np.isfinite(drift.to_limit.value), drift.to_limit.value, np.nan),
            "measured": facts.completeness.probes,
            "longest_gap_h": facts.completeness.probe_gap_h,
        },
    )


def _by_day(facts: Facts) -> pd.DataFrame:
    place, days = facts.place, len(facts.week.dates)
    count = len(place.containers)
    return _of(
        facts,
        {
            "room": np.repeat([place.rooms[room].slug for room in place.room_of], days),
            "container": np.repeat([each.slug for each in place.containers], days),
            "day": [day.isoformat() for day in facts.week.dates] * count,
            "median_mbar": facts.tension.daily_mbar.ravel(),
        },
    )


def _reservoirs(facts: Facts) -> pd.DataFrame:
    place, water = facts.place, facts.water
    out = [run_out(water, number, facts.week) for number in range(len(place.reservoirs))]
    return _of(
        facts,
        {
            "room": [place.rooms[room].slug for room in place.reservoir_room],
            "reservoir": [each.slug for each in place.reservoirs],
            "used_l": water.used.litres,
            "known_h": water.used.hours,
            "day_l_per_h": water.day.value,
            "night_l_per_h": water.night.value,
            "usable_l": water.left_l,
            "until_full_l": water.room_l,
            "runs_out": _times(each and each[0] for each in out),
            "runs_out_earliest": _times(each and each[1] for each in out),
            "measured": facts.completeness.levels,
        },
    )


def _refills(facts: Facts) -> pd.DataFrame:
    place = facts.place
    return _of(
        facts,
        {
            "room": [place.rooms[int(place.reservoir_room[each.reservoir])].slug for each in facts.fillings],
            "reservoir": [place.reservoirs[each.reservoir].slug for each in facts.fillings],
            "at": _times(moment(each.at) for each in facts.fillings),
            "litres": np.array([each.litres for each in facts.fillings], dtype=np.float64),
            "known": [each.told for each in facts.fillings],
            "by": [each.person for each in facts.fillings],
        },
    )


def _alarms(facts: Facts) -> pd.DataFrame:
    slug = {room.id: room.slug for room in facts.place.rooms}
    return _of(
        facts,
        {
            "id": [str(each.id) for each in facts.alarms],
            "kind": [each.kind for each in facts.alarms],
            "priority": [each.priority for each in facts.alarms],
            "room": [slug.get(each.room_id) if each.room_id else None for each in facts.alarms],
            "subject": [each.subject for each in facts.alarms],
            "raised_at": _times(each.raised_at for each in facts.alarms),
            "cleared_at": _times(each.cleared_at for each in facts.alarms),
            "cause": [each.cause_kind for each in facts.alarms],
            "outcome": [each.outcome for each in facts.alarms],
        },
    )


def _trends(facts: Facts) -> pd.DataFrame:
    found = facts.trends
    groups = [("", found.facility), *zip([room.slug for room in facts.place.rooms], found.rooms, strict=True)]
    rows = [
        {"room": room, "measure": name, "of_week": week.name, "value": value, "slope_per_week": trend.slope}
        | {"p": trend.p, "false_discovery_rate": trend.q, "sure": trend.sure}
        for room, own in groups
        for name, trend in own.items()
        for week, value in zip(found.weeks, trend.values, strict=True)
    ]
    columns = ("room", "measure", "of_week", "value", "slope_per_week", "p", "false_discovery_rate", "sure")
    frame = pd.DataFrame(rows, columns=list(columns))
    frame.insert(4, "unit", [MEASURES[name][1] for name in frame["measure"]])
    frame.insert(0, "week", facts.week.name)
    return frame


def _data(facts: Facts) -> pd.DataFrame:
    place, days = facts.place, len(facts.week.dates)
    return _of(
        facts,
        {
            "room": np.repeat([room.slug for room in place.rooms], days),
            "day": [day.isoformat() for day in facts.week.dates] * len(place.rooms),
            "hours": [
                (end - start) / timedelta(hours=1)
                for start, end in zip(facts.week.midnights[:-1], facts.week.midnights[1:], strict=True)
            ]
            * len(place.rooms),
            "measured": facts.completeness.rooms.ravel(),
        },
    )
