"""Lights by facility time, over midnight and over a change of clocks; demand by light and air."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tests.unit.simulator.houses import house
from wickwatch_simulator import climate, demand
from wickwatch_simulator.plan import Room


def lights(rooms: climate.Rooms, at: datetime) -> bool:
    minute = climate.local_minute(rooms, np.array([int(at.timestamp())]))
    return bool(climate.lit(minute, rooms.lights_on_min, rooms.lights_off_min)[0, 0])


def rooms_with(tmp_path: Path, on: str, off: str) -> climate.Rooms:
    plans: tuple[Room, ...] = house(tmp_path, template=f'lights_on = "{on}"\nlights_off = "{off}"').rooms
    return climate.rooms(plans, {"alderholm": "Europe/Oslo"})


def test_lights_follow_the_facility_s_clock(tmp_path: Path) -> None:
    rooms = rooms_with(tmp_path, "06:00", "18:00")
    seen = [
        lights(rooms, datetime(2026, 3, 2, hour, minute, tzinfo=UTC))
        for hour, minute in ((4, 59), (5, 0), (16, 59), (17, 0))
    ]
    assert seen == [False, True, True, False]


def test_lights_burn_over_midnight_where_off_comes_before_on(tmp_path: Path) -> None:
    rooms = rooms_with(tmp_path, "20:00", "08:00")
    seen = [lights(rooms, datetime(2026, 3, 2, hour, tzinfo=UTC)) for hour in (18, 19, 23, 6, 7)]
    assert seen == [False, True, True, True, False]


def test_lights_move_by_an_hour_of_utc_when_summer_time_begins(tmp_path: Path) -> None:
    rooms = rooms_with(tmp_path, "06:00", "18:00")
    assert not lights(rooms, datetime(2026, 3, 28, 4, tzinfo=UTC))
    assert lights(rooms, datetime(2026, 3, 29, 4, tzinfo=UTC))


def test_air_of_one_hour_joins_that_of_the_next() -> None:
    end_of_one = climate.weather(3, 4, np.array([3600 * 500 + 3599]))
    start_of_next = climate.weather(3, 4, np.array([3600 * 501]))
    assert end_of_one == pytest.approx(start_of_next, abs=0.01)


def test_a_day_at_the_reference_deficit_drinks_the_stated_litres() -> None:
    # 1.25 kPa at 25 degC is 60.54 %RH by FAO-56 eq. 11.
    light = np.array([True, False])
    hourly = demand.drive(light, np.full(2, 25.0), np.full(2, 60.54))
    assert 12 * hourly.sum() == pytest.approx(demand.HOURS_WORTH, rel=1e-3)


def test_dry_air_is_thirstier_and_the_dark_much_less() -> None:
    day, dry_day, night = demand.drive(np.array([True, True, False]), np.full(3, 25.0), np.array([60.0, 40.0, 60.0]))
    assert night < 0.2 * day < day < dry_day
