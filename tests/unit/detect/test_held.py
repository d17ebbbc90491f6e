"""While something settles after work, what was found before holds on until the readings say that it is over."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.unit.detect.builders import NOW, Course, Told, facility, room, steady, steps, worked
from wickwatch.fleet import Kind, Work

PLACE = facility(room(pots=4))  # set point 100 +- 10, wet limit 60, dry limit 180; all pots on one line
ROOM = PLACE.rooms[0]
POT, LINE, TANK = ROOM.containers[0], ROOM.lines[0], ROOM.reservoirs[0]


def held(kind: Kind, course: Course, *work: Work, **more: object) -> bool:
    told = Told(PLACE).tension(0, course, **more).level(0, steady(500.0))
    for pot in (1, 2, 3):
        told.tension(pot, steady(100.0))
    subject = {"supply-interrupted": LINE.id, "reservoir-leak": TANK.id, "uneven-room": ROOM.id}.get(kind, POT.id)
    return (kind, subject) in told.judge(kind, list(work)).settling


RESET = worked("re-set-emitter", POT, hours_ago=3)


@pytest.mark.parametrize(
    ("tension", "holds"), [(150.0, True), (112.0, True), (108.0, False), (70.0, False), (40.0, True)]
)
def test_a_dry_pot_is_back_once_it_is_in_its_band_and_not_above_its_set_point(tension: float, holds: bool) -> None:
    assert held("drying-drift", steady(tension), RESET) is holds


@pytest.mark.parametrize(("tension", "holds"), [(30.0, True), (62.0, True), (66.0, False), (120.0, False)])
def test_a_wet_pot_is_back_once_it_is_clear_of_its_wet_limit(tension: float, holds: bool) -> None:
    assert held("sudden-wetting", steady(tension), RESET) is holds


def test_only_readings_after_the_work_tell() -> None:
    just_now = worked("re-set-emitter", POT, hours_ago=0.02)
    assert held("drying-drift", steady(100.0), just_now)
    assert held("drying-drift", steady(100.0), RESET, until_h=-1.0), "a silent probe tells nothing"


def test_nothing_is_held_without_work_or_after_its_time() -> None:
    assert not held("drying-drift", steady(150.0))
    # A re-set emitter settles for six times its rule of two hours.
    assert not held("drying-drift", steady(150.0), worked("re-set-emitter", POT, hours_ago=12.1))
    assert not held("drying-drift", steady(150.0), worked("checked", POT, hours_ago=1))
    assert not held("drying-drift", steady(150.0), worked("re-set-emitter", ROOM.containers[1], hours_ago=3))


def test_a_line_is_cut_off_until_most_of_its_pots_were_watered_since_the_work() -> None:
    purged = worked("purged", LINE, hours_ago=2)
    dry = steps((-10, 100.0), (-2, 180.0), (0, 190.0))
    watered = steps((-10, 100.0), (-2, 180.0), (-1.5, 183.0), (0, 160.0))

    def line(*courses: Course) -> bool:
        told = Told(PLACE).level(0, steady(500.0))
        for pot, course in enumerate(courses):
            told.tension(pot, course)
        return ("supply-interrupted", LINE.id) in told.judge("supply-interrupted", [purged]).settling

    assert line(dry, dry, dry, dry)
    assert line(watered, watered, dry, dry)
    assert not line(watered, watered, watered, watered)


def test_a_leak_a_lying_probe_and_an_uneven_room_are_judged_again_when_the_work_has_settled() -> None:
    assert held("reservoir-leak", steady(100.0), worked("mended-leak", TANK, hours_ago=11))
    assert not held("reservoir-leak", steady(100.0), worked("mended-leak", TANK, hours_ago=13))
    assert held("probe-fault", steady(100.0), worked("refilled-probe", POT, hours_ago=20))
    assert held("uneven-room", steady(100.0), RESET)


def test_what_began_after_the_work_is_told_apart_and_a_can_may_show_before_its_time() -> None:
    watered = worked("watered-by-hand", POT, hours_ago=1)
    told = Told(PLACE).tension(0, steady(30.0)).level(0, steady(500.0))
    explained = told.judge("sudden-wetting", [watered]).settling["sudden-wetting", POT.id]
    assert explained == NOW - timedelta(hours=1, minutes=45)
    drying = Told(PLACE).tension(0, steady(150.0)).judge("drying-drift", [watered]).settling["drying-drift", POT.id]
    assert drying == NOW - timedelta(hours=1)


def test_a_pot_with_a_slow_medium_of_its_own_settles_for_as_long_as_its_rule_says() -> None:
    slow = replace(POT, rules=replace(POT.rules, settled_hours=4.0))
    place = facility(replace(ROOM, containers=(slow, *ROOM.containers[1:])))
    told = Told(place).tension(0, steady(150.0))
    work = [worked("re-set-emitter", slow, hours_ago=20)]
    assert ("drying-drift", slow.id) in told.judge("drying-drift", work).settling
