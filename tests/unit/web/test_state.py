"""States of rooms from rows."""

from __future__ import annotations

from datetime import time, timedelta
from math import pi

import pytest

from tests.unit.web.rows import NOW, alarm, container, reservoir, room, state


def test_rules_are_inherited_from_facility_to_room_to_container() -> None:
    row = room(facility_rules={"dry_limit_mbar": 200, "wet_limit_mbar": 50}, rules={"dry_limit_mbar": 190})
    made = state(row, container(row, 100.0), container(row, 100.0, "Pot 2", rules={"dry_limit_mbar": 150}))
    assert [(c.rules.dry_limit_mbar, c.rules.wet_limit_mbar) for c in made.containers] == [(190, 50), (150, 50)]


@pytest.mark.parametrize(
    ("tension", "place"), [(59.9, "wet"), (60.0, "in-band"), (180.0, "in-band"), (180.1, "dry"), (None, "unread")]
)
def test_a_container_lies_in_its_band_limits_included(tension: float | None, place: str) -> None:
    row = room()
    assert state(row, container(row, tension)).containers[0].place == place


@pytest.mark.parametrize(
    ("age_min", "interval_s", "place"),
    [
        (14.9, 60.0, "in-band"),
        (15.1, 60.0, "silent"),
        (29.0, 600.0, "in-band"),
        (31.0, 600.0, "silent"),
        (15.1, None, "silent"),
    ],
)
def test_a_reading_is_silent_after_fifteen_minutes_or_three_of_its_intervals(
    age_min: float, interval_s: float | None, place: str
) -> None:
    row = room()
    old = container(row, 100.0, read_at=NOW - timedelta(minutes=age_min), interval_s=interval_s)
    assert state(row, old).containers[0].place == place


def test_water_counts_above_outlet_and_head() -> None:
    row = room()
    made = state(row, reservoir(row, 270.0)).reservoirs[0]
    litres_per_mm = pi * 290**2 / 1e6
    assert made.volume_l == pytest.approx(270 * litres_per_mm)
    assert made.usable_l == pytest.approx(200 * litres_per_mm)
    assert made.share == pytest.approx(200 / 830)


def test_a_sensor_above_the_bottom_is_counted_in_and_a_level_beyond_the_rim_is_full() -> None:
    row = room()
    raised, over = state(row, reservoir(row, 20.0, sensor_zero_mm=50.0), reservoir(row, 5000.0)).reservoirs
    assert raised.usable_l == 0.0
    assert over.share == 1.0


def test_a_reservoir_without_reading_or_with_impossible_measures_has_no_volume() -> None:
    row = room()
    made = state(row, reservoir(row, None), reservoir(row, 100.0, keys={"diameter_mm": -1, "height_mm": 900}))
    assert [one.volume_l for one in made.reservoirs] == [None, None]


def test_what_a_room_needs_follows_from_its_alarms_and_readings() -> None:
    row = room()
    pot = container(row, 100.0)
    assert state(row, pot).need == "quiet"
    assert state(row, container(row, None)).need == "no-readings"
    assert state(row, pot, alarm(row, state="acknowledged")).need == "has-someone"
    assert state(row, pot, alarm(row, state="acknowledged"), alarm(row)).need == "needs-someone"
    assert state(row, pot, alarm(row, state="returned-unacknowledged")).need == "needs-someone"
    for aside in ("shelved", "suppressed-by-design", "out-of-service"):
        assert state(row, pot, alarm(row, state=aside)).need == "quiet"


def test_alarms_of_a_room_come_by_answer_priority_and_age() -> None:
    row = room()
    mine = alarm(row, state="acknowledged", priority="high")
    low, old = alarm(row, priority="low"), alarm(row, raised_at=NOW - timedelta(days=1))
    new, high = alarm(row), alarm(row, priority="high")
    aside = alarm(row, state="shelved", priority="high")
    assert list(state(row, aside, mine, low, new, old, high).alarms) == [high, old, new, low, mine, aside]


def test_lights_go_by_the_facilitys_clock_and_over_midnight() -> None:
    day, night = state(room()), state(room(lights_on=time(18), lights_off=time(6)))
    at = NOW.replace(hour=4, minute=59)  # 05:59 in Oslo
    assert (day.lit(at), night.lit(at)) == (False, True)
    assert (day.lit(NOW), night.lit(NOW)) == (True, False)
    assert (day.lights, night.lights) == ("06:00–18:00", "18:00–06:00")


def test_lights_that_go_on_and_off_at_one_time_are_on_around_the_clock() -> None:
    always = state(room(lights_on=time(6), lights_off=time(6)))
    assert all(always.lit(NOW.replace(hour=hour)) for hour in range(24))
    assert always.lights == "24 h"
