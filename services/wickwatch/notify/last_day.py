"""The last day of readings of what an alarm is about: tension of a container or a line, usable water of a reservoir.

Not here: drawing it (`notify.picture`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from math import isnan
from typing import NamedTuple
from uuid import UUID

import psycopg

from wickwatch import log
from wickwatch.agronomy.arrays import Floats, floats
from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.errors import InputError, UnavailableError
from wickwatch.fleet import Container, Facility, Reservoir, Room
from wickwatch.notify.picture import Day, Picture, draw
from wickwatch.store import fleet, pages
from wickwatch.store.connect import Connection, connect
from wickwatch.store.notices import Claimed
from wickwatch.store.pages import AlarmRow
from wickwatch.texts import Unit, _, tension_unit, volume_unit

LENGTH = timedelta(days=1)
_EVERY = timedelta(minutes=10)


class _Shown(NamedTuple):
    """What a picture is of: channels, and what their values mean in the unit inside of `unit`."""

    title: str
    unit: Unit
    channels: tuple[int, ...]
    value: Callable[[Floats], Floats]
    band: tuple[float, float] | None


def picture(database_url: str, notice: Claimed, at: datetime) -> Picture | None:
    """A picture for a notice, None where there is nothing to draw; a failure is logged and costs the picture only."""
    if notice.alarm_id is None or notice.facility_id is None:
        return None
    try:
        with connect(database_url, "notify-picture", autocommit=True) as conn:
            day = last_day(conn, notice.alarm_id, notice.facility_id, at)
    except (UnavailableError, psycopg.Error) as error:
        log.warning("picture.failed", notice=notice.id, why=error)
        return None
    return draw(day) if day is not None else None


def last_day(conn: Connection, alarm_id: UUID, facility_id: UUID, at: datetime) -> Day | None:
    """The day up to `at` of what an alarm is about; None where it has no readings."""
    row = pages.alarm(conn, alarm_id, [facility_id])
    if row is None or row.room_id is None:
        return None
    place = fleet.load_facility(conn, facility_id, at)
    shown = _shown(place, row)
    if shown is None or not shown.channels:
        return None
    end = pages.bucket_end(at, _EVERY)
    start = end - LENGTH
    found = pages.means(conn, list(shown.channels), start, end, _EVERY)
    if not found:
        return None
    lines = tuple(
        [(start + (number + 0.5) * _EVERY, value) for number, value in enumerate(values) if not isnan(value)]
        for values in ((shown.value(means) / shown.unit.size).tolist() for means in found.values())
    )
    band = None if shown.band is None else (shown.unit.shown(shown.band[0]), shown.unit.shown(shown.band[1]))
    return Day(shown.title, shown.unit, lines, start, end, place.zone, band, row.raised_at)


def _shown(place: Facility, row: AlarmRow) -> _Shown | None:
    room = next((room for room in place.rooms if room.id == row.room_id), None)
    if room is None:
        return None
    if row.subject_type == "reservoir":
        tank = next((tank for tank in room.reservoirs if tank.id == row.subject_id), None)
        return None if tank is None else _water(tank)
    return _tension(room, row)


def _tension(room: Room, row: AlarmRow) -> _Shown:
    """Of one container, or of all on a line or in a room."""
    about: Sequence[Container] = [
        pot for pot in room.containers if row.subject_type == "room" or row.subject_id in (pot.id, pot.line_id)
    ]
    rules = about[0].rules if len(about) == 1 else room.rules
    channels = tuple(pot.tension.id for pot in about if pot.tension is not None)
    band = rules.wet_limit_mbar, rules.dry_limit_mbar
    return _Shown(_("Tension of %(thing)s", thing=row.subject_name), tension_unit(), channels, floats, band)


def _water(reservoir: Reservoir) -> _Shown:
    channels = () if reservoir.level is None else (reservoir.level.id,)
    try:
        tank = tank_from_keys(reservoir.shape, reservoir.keys)
    except InputError:
        return _Shown(_("Level of %(thing)s", thing=reservoir.name), Unit("mm", 1.0, 0), channels, floats, None)
    empty = float(tank.clip_level_mm(reservoir.empty_mm))

    def usable(level_mm: Floats) -> Floats:
        return tank.usable_l(tank.clip_level_mm(level_mm + reservoir.sensor_zero_mm), empty)

    return _Shown(_("Usable water in %(thing)s", thing=reservoir.name), volume_unit(), channels, usable, None)
