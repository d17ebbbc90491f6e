"""Batteries of probes and level sensors: found when low, and what their silence is explained by."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.unit.detect.builders import (
    NOW,
    Course,
    Told,
    facility,
    falling,
    ident,
    names,
    plus,
    room,
    sawtooth,
    steady,
    steps,
    worked,
)
from wickwatch.fleet import Rules

FAULT, SILENT = "probe-fault", "probe-silent"
PLACE = facility(room(pots=3, twins=True))
POT, TANK = PLACE.rooms[0].containers[0], PLACE.rooms[0].reservoirs[0]
WORKS = plus(sawtooth(88, 105), steady(0, 0.3, 7))


def told(course: Course, until_h: float | None = None, later_h: float = 0.0) -> Told:
    """Pot 0 with this charge of its own probe, all speaking until some hour."""
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=later_h)
    return made.tension(0, WORKS, until_h=until_h).battery(POT.tension, course, until_h=until_h)


@pytest.mark.parametrize(("percent", "low"), [(10.0, False), (9.0, True), (0.0, True)])
def test_a_battery_is_low_below_the_rule(percent: float, low: bool) -> None:
    assert names(told(steady(percent)).found(FAULT)) == (["Pot 0"] if low else [])


def test_a_low_battery_tells_its_charge_its_device_and_since_when() -> None:
    (found,) = told(falling(8.0, per_h=0.5)).found(FAULT)
    assert found.evidence == {
        "fault": "battery low",
        "battery_percent": 8.0,
        "device": "urn:dev:mac:0224be0000000001",
        "twin": False,
    }
    assert found.since == NOW - timedelta(hours=3)  # the first hour below ten


def test_the_limit_is_a_rule_of_the_place() -> None:
    strict = facility(room(pots=1, rules=Rules(battery_low_percent=30.0)))
    made = Told(strict).tension(0, WORKS).battery(strict.rooms[0].containers[0].tension, steady(25.0))
    assert names(made.found(FAULT)) == ["Pot 0"]


def test_a_battery_that_warms_up_stays_low_until_it_is_charged_or_changed() -> None:
    course = steps((-30, 20), (-20, 9), (0, 11), (6, 14), (6.5, 90))
    made = told(course, later_h=9.0)
    found = [names(made.found(FAULT, as_of=NOW + timedelta(hours=h))) for h in (-25, 0, 6, 8)]
    assert found == [[], ["Pot 0"], ["Pot 0"], []]


def test_batteries_of_second_probes_and_level_sensors_are_found_too() -> None:
    made = Told(PLACE).tension(0, WORKS).twin(0, WORKS).level(0, falling(500, per_h=1.0))
    made.battery(POT.tension, steady(80)).battery(POT.twin, steady(5)).battery(TANK.level, steady(4))
    found = made.found(FAULT)
    assert sorted((each.subject.name, each.evidence["twin"]) for each in found) == [("Pot 0", True), ("Tank 0", False)]


def test_a_silent_probe_whose_battery_was_low_is_explained_by_it() -> None:
    made = told(falling(4.0, per_h=0.5), until_h=-5.0)
    (silent,) = made.found(SILENT)
    assert silent.explained_by == (("gateway-silent", ident("gw-01")), (FAULT, POT.id))
    assert silent.evidence["battery_percent"] == 6.0
    assert names(made.found(FAULT)) == ["Pot 0"]  # and is still found


def test_a_silent_probe_whose_battery_was_full_is_not() -> None:
    (silent,) = told(steady(80.0), until_h=-5.0).found(SILENT)
    assert (FAULT, POT.id) not in silent.explained_by
    assert "battery_percent" not in silent.evidence


def test_a_new_battery_or_device_is_not_judged_by_what_the_old_one_told() -> None:
    made = told(steady(5.0), until_h=-40.0)
    changed = [worked("replaced-probe", POT, 30.0)]
    assert made.found(FAULT) != []
    assert made.found(FAULT, changed) == []
    own = POT.tension
    assert own is not None
    moved = replace(POT, tension=replace(own, since=NOW - timedelta(hours=30)))
    place = facility(replace(PLACE.rooms[0], containers=(moved,)))
    assert replace(made, place=place).found(FAULT) == []


def test_a_probe_that_lies_is_called_for_that_and_not_for_its_battery() -> None:
    made = Told(PLACE, interval_s=300.0).tension(0, steady(-60, 0.3)).battery(POT.tension, steady(5.0))
    (found,) = made.found(FAULT)
    assert found.evidence["fault"] == "reads outside its range"
    assert "battery_percent" not in found.evidence


def test_a_device_that_tells_no_charge_has_no_low_battery() -> None:
    assert Told(PLACE).tension(0, WORKS).found(FAULT) == []
