"""What must change to get from what is there to what is declared: complete, ordered, readable, and nothing more."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings

from tests.unit.fleet.declared_places import facilities
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.difference import ACTIONS, KINDS, difference
from wickwatch.fleet.document import parse

EXAMPLE = (Path(__file__).parents[3] / "deploy" / "fleet-example.toml").read_text()


def lines(after: str, before: str = EXAMPLE) -> list[str]:
    return [str(change) for change in difference(parse(after), parse(before))]


@given(facilities())
@settings(max_examples=30)
def test_nothing_changes_where_all_is_as_declared(facility: DeclaredFacility) -> None:
    assert difference([facility], [facility]) == []


@given(facilities())
@settings(max_examples=30)
def test_the_order_of_a_file_means_nothing(facility: DeclaredFacility) -> None:
    turned = replace(facility, rooms=facility.rooms[::-1], gateways=facility.gateways[::-1])
    assert difference([turned], [facility]) == []


@given(facilities(), facilities())
@settings(max_examples=30)
def test_changes_come_in_an_order_in_which_they_can_be_made(wanted: DeclaredFacility, there: DeclaredFacility) -> None:
    changes = difference([wanted], [replace(there, slug=wanted.slug)])
    assert [ACTIONS.index(change.action) for change in changes] == sorted(ACTIONS.index(c.action) for c in changes)
    added = [KINDS.index(change.place.kind) for change in changes if change.action == "add"]
    retired = [KINDS.index(change.place.kind) for change in changes if change.action == "retire"]
    assert added == sorted(added)
    assert retired == sorted(retired, reverse=True)


def test_everything_of_a_new_facility_is_added_and_attached() -> None:
    changes = difference(parse(EXAMPLE), ())
    assert [change.action for change in changes].count("add") == 1 + 1 + 2 + 2 + 2 + 3
    assert [change.action for change in changes].count("attach") == 8
    assert {change.action for change in changes} == {"add", "attach"}


def test_a_changed_value_is_shown_as_it_was_and_as_it_will_be() -> None:
    changed = EXAMPLE.replace("volume_l = 250", "volume_l = 300").replace('"06:00"', '"05:30"')
    assert lines(changed) == [
        'change  facility birchwood, room room-03: lights_on "06:00" → "05:30"',
        "change  facility birchwood, room room-04, container bed-01: volume_l 250 → 300",
    ]


def test_a_rule_that_is_taken_away_is_a_change() -> None:
    (line,) = lines(EXAMPLE.replace("rules = { dry_limit_mbar = 150 }", ""))
    assert line == "change  facility birchwood, room room-04, container bed-01: rules { dry_limit_mbar = 150 } → {}"


def test_what_is_no_longer_declared_is_detached_and_then_retired() -> None:
    start = EXAMPLE.index('  [[facility.room]]\n  slug = "room-04"')
    assert lines(EXAMPLE[:start]) == [
        "detach  urn:dev:mac:0024befffe804fa2:level from facility birchwood, room room-04, reservoir r4",
        "detach  urn:dev:mac:0024befffe804ff4:tension from facility birchwood, room room-04, container bed-01",
        "retire  facility birchwood, room room-04, container bed-01",
        "retire  facility birchwood, room room-04, line r4-line",
        "retire  facility birchwood, room room-04, reservoir r4",
        "retire  facility birchwood, room room-04",
    ]


def test_a_channel_that_moves_is_detached_before_it_is_attached() -> None:
    swapped = EXAMPLE.replace("ff1:tension", "ff9:tension").replace("ff2:tension", "ff1:tension")
    assert lines(swapped) == [
        "detach  urn:dev:mac:0024befffe804ff1:tension from facility birchwood, room room-03, container pot-01",
        "detach  urn:dev:mac:0024befffe804ff2:tension from facility birchwood, room room-03, container pot-02",
        "attach  urn:dev:mac:0024befffe804ff9:tension to facility birchwood, room room-03, container pot-01 as tension",
        "attach  urn:dev:mac:0024befffe804ff1:tension to facility birchwood, room room-03, container pot-02 as tension",
    ]


def test_a_facility_that_the_file_does_not_name_is_left_alone() -> None:
    elsewhere = EXAMPLE.replace("birchwood", "elmtree").replace("0024be", "0024bf")
    assert difference(parse(EXAMPLE), parse(EXAMPLE) + parse(elsewhere)) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_thing_is_compared(kind: str) -> None:
    changes = difference(parse(EXAMPLE), ())
    assert any(change.place.kind == kind for change in changes)
