"""reservoir-empty: found, not found, at the boundary, noisy, at every interval, and what it says."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import LITRES_PER_MM, NOW, Told, drawn, facility, falling, names, plus, room, steady
from wickwatch.fleet import Room

KIND = "reservoir-empty"
PLACE = facility(room())  # empty at 40 + 30 = 70 mm


def told(course, **more) -> Told:
    return Told(PLACE, **more).level(0, course)


def test_a_level_above_outlet_plus_head_is_not_empty() -> None:
    assert told(steady(76)).found(KIND) == []


def test_a_level_at_outlet_plus_head_is_empty() -> None:
    assert names(told(steady(70)).found(KIND)) == ["Tank 0"]


def test_evidence_tells_level_volume_and_since_when() -> None:
    (found,) = told(falling(58, per_h=6)).found(KIND)
    assert found.evidence["level_mm"] == 58.0
    assert found.evidence["empty_level_mm"] == 70.0
    assert found.evidence["volume_l"] == pytest.approx(58 * LITRES_PER_MM, abs=0.1)
    assert found.evidence["usable_l"] == 0.0
    assert found.evidence["fall_mm_per_h"] == pytest.approx(6.0, abs=0.05)
    assert found.since == NOW - timedelta(hours=2)
    assert found.evidence["empty_since"] == "2026-11-20T10:00:00Z"


def test_the_sensor_zero_counts() -> None:
    place = facility(room())
    tank = place.rooms[0].reservoirs[0]
    object.__setattr__(tank, "sensor_zero_mm", 20.0)
    assert names(Told(place).level(0, steady(50)).found(KIND)) == ["Tank 0"]
    assert Told(place).level(0, steady(58)).found(KIND) == []


@pytest.mark.parametrize("interval_s", [10, 60, 300, 600])
def test_it_is_called_within_five_minutes_of_running_dry_at_any_interval(interval_s: int) -> None:
    rooms = [room(f"room-{n}", pots=0, interval_s=interval_s, first_channel=1000 * n) for n in range(12)]
    told = Told(facility(*rooms), interval_s=interval_s, later_h=1.0)
    for n in range(len(rooms)):
        # 6 mm an hour with 1 mm of noise; the level is truly at 70 mm at NOW.
        told.level(0, plus(falling(70, per_h=6), steady(0, noise=1.0, seed=n)), at_room=n)
    called: dict[object, int] = {}
    for minute in range(-60, 60):
        for finding in told.found(KIND, as_of=NOW + timedelta(minutes=minute)):
            called.setdefault(finding.subject.id, minute)
    assert len(called) == len(rooms)
    assert max(called.values()) <= 5
    assert min(called.values()) > -45


def test_it_is_called_some_ten_minutes_before_it_runs_dry_and_no_sooner() -> None:
    """At six millimetres an hour, thirteen minutes ahead and eleven: sensors are read every ten at most."""
    assert told(falling(71.3, per_h=6)).found(KIND) == []
    assert names(told(falling(71.1, per_h=6)).found(KIND)) == ["Tank 0"]


def test_a_slow_draw_by_night_is_not_called_hours_before_it_runs_dry() -> None:
    """Half a millimetre an hour with a millimetre of noise: single readings are low for hours."""
    told = Told(facility(room()), later_h=1.0).level(0, plus(falling(70, per_h=0.5), steady(0, noise=1.0, seed=3)))
    assert not any(told.found(KIND, as_of=NOW - timedelta(minutes=minutes)) for minutes in range(240, 360, 5))


def test_a_level_at_rest_within_a_millimetre_of_empty_is_not_called_all_night() -> None:
    """Nothing is drawn by night, and a fifth of the noisy readings are low; with the light it runs dry."""
    place = facility(room(interval_s=60))
    course = plus(drawn(70.8, by_day=4, by_night=0, lights=(14, 24)), steady(0, noise=1.0, seed=5))
    told = Told(place, days=6.0, later_h=2.0).level(0, course)
    assert not any(told.found(KIND, as_of=NOW - timedelta(minutes=minutes)) for minutes in range(60, 540, 40))
    # 14:00 there is an hour after NOW, and twelve minutes later what was left is gone.
    assert any(told.found(KIND, as_of=NOW + timedelta(minutes=minutes)) for minutes in range(72, 78))


def first_found(told: Told, minutes: range) -> int | None:
    """The first of the minutes after NOW at which it is found."""
    return next((m for m in minutes if told.found(KIND, as_of=NOW + timedelta(minutes=m))), None)


@pytest.mark.parametrize("interval_s", [60, 300])
@pytest.mark.parametrize("seed", range(4))
def test_a_level_that_comes_to_rest_as_lights_go_off_is_not_called_by_the_fall_before(
    seed: int, interval_s: int
) -> None:
    """The line through two hours falls on for another hour."""
    place = facility(room(lights=(1, 13), interval_s=interval_s))  # they go off at NOW
    course = plus(drawn(71.5, by_day=6, by_night=0, lights=(1, 13)), steady(0, noise=0.7, seed=seed))
    told = Told(place, interval_s=interval_s, days=6.0, later_h=4.0).level(0, course)
    assert first_found(told, range(-10, 240, 5)) is None


def test_a_level_that_falls_on_in_the_dark_is_called_as_it_gets_there() -> None:
    place = facility(room(lights=(1, 13)))
    usual = drawn(75.0, by_day=6, by_night=0, lights=(1, 13))
    told = Told(place, days=6.0, later_h=3.0).level(0, plus(usual, lambda hours: -6.0 * np.maximum(hours, 0.0)))
    # It is at 70 mm after 50 minutes; three buckets lag by less than eight.
    assert first_found(told, range(0, 120, 5)) in range(40, 61)


def test_one_lost_echo_among_good_readings_is_not_believed() -> None:
    def course(hours):
        return np.where(np.abs(hours + 1 / 60) < 1e-6, 0.0, 500.0)  # one reading, a minute before NOW

    place = facility(room(interval_s=60))
    told = Told(place, later_h=0.2).level(0, course)
    assert not any(told.found(KIND, as_of=NOW + timedelta(seconds=s)) for s in range(-90, 600, 10))


@pytest.mark.parametrize("interval_s", [10, 60, 120, 300, 600])
def test_a_tank_emptied_at_once_is_believed_within_five_minutes(interval_s: int) -> None:
    place = facility(room(interval_s=interval_s))
    told = Told(place, interval_s=interval_s, later_h=0.5).level(0, lambda hours: np.where(hours >= -1e-9, 20.0, 500.0))
    seconds = next(s for s in range(0, 1200, 10) if told.found(KIND, as_of=NOW + timedelta(seconds=s)))
    assert seconds <= 300


def test_noise_about_the_boundary_does_not_make_it_come_and_go() -> None:
    course = plus(falling(69, per_h=2), steady(0, noise=1.0, seed=3))
    told = Told(facility(room()), later_h=2.0).level(0, course)
    held = [bool(told.found(KIND, as_of=NOW + timedelta(minutes=m))) for m in range(120)]
    assert all(held)


def test_what_was_found_empty_is_so_until_the_level_is_clear_of_it() -> None:
    place = facility(room())
    key = (KIND, place.rooms[0].reservoirs[0].id)
    for level, over in ((73.0, False), (90.0, True)):  # empty is 70
        judged = Told(place).level(0, plus(steady(level), steady(0, noise=1.0, seed=3))).judge(KIND)
        assert judged.findings == ()
        assert (key in judged.lasting) is not over


def test_a_refilled_reservoir_is_not_empty_from_the_first_good_reading_on() -> None:
    told = Told(PLACE, later_h=0.1).level(0, lambda hours: np.where(hours >= -1e-9, 300.0, 55.0))
    judged = told.judge(KIND, as_of=NOW + timedelta(seconds=30))
    assert judged.findings == ()
    assert judged.lasting == frozenset()


def test_a_silent_level_sensor_leaves_it_unknown() -> None:
    told = Told(PLACE).level(0, steady(50), until_h=-1.0)
    judged = told.judge(KIND)
    assert judged.findings == ()
    assert judged.unknown == {(KIND, PLACE.rooms[0].reservoirs[0].id)}


def test_a_reservoir_without_a_sensor_is_nothing_to_judge() -> None:
    place = facility(replace_level(room()))
    judged = Told(place).tension(0, steady(100)).judge(KIND)
    assert (judged.findings, judged.unknown) == ((), frozenset())


def replace_level(made: Room) -> Room:
    return replace(made, reservoirs=tuple(replace(each, level=None) for each in made.reservoirs))


def test_what_comes_after_the_moment_does_not_matter() -> None:
    told = Told(PLACE, later_h=3.0).level(0, falling(80, per_h=6))
    assert told.found(KIND) == []
