"""The fleet file: what is declared is read whole, and every mistake is named with its place, value and remedy."""

from __future__ import annotations

from datetime import time
from pathlib import Path

import pytest

from wickwatch.fleet.document import DocumentError, parse

EXAMPLE = (Path(__file__).parents[3] / "deploy" / "fleet-example.toml").read_text()


def problems(text: str) -> list[str]:
    with pytest.raises(DocumentError) as caught:
        parse(text)
    return [str(problem) for problem in caught.value.problems]


def test_the_example_file_declares_what_it_says() -> None:
    (facility,) = parse(EXAMPLE)
    assert (facility.slug, facility.name, facility.zone) == ("birchwood", "Birchwood House", "Europe/Oslo")
    assert facility.rules == {"set_point_mbar": 100, "wet_limit_mbar": 60, "dry_limit_mbar": 180, "low_hours": 24}
    assert [gateway.slug for gateway in facility.gateways] == ["gw-01"]
    third, fourth = facility.rooms
    assert (third.lights_on, third.lights_off, third.rules) == (time(6), time(18), {"set_point_mbar": 90})
    assert third.humidity == "urn:dev:mac:0024befffe804fb1:humidity"
    (east,) = third.reservoirs
    assert (east.shape, dict(east.keys)) == ("cylinder", {"diameter_mm": 580, "height_mm": 900})
    assert (east.outlet_mm, east.head_mm, east.level) == (40, 30, "urn:dev:mac:0024befffe804fa1:level")
    assert third.lines[0].reservoir == "r3-east"
    assert [(pot.slug, pot.line, pot.stands_for) for pot in third.containers] == [
        ("pot-01", "r3-loop", 4),
        ("pot-02", "r3-loop", 4),
    ]
    assert third.containers[1].twin == "urn:dev:mac:0024befffe804ff3:tension"
    assert fourth.reservoirs[0].keys["strapping"] == ((0, 0), (100, 26.1), (400, 118.5), (800, 243))
    assert fourth.containers[0].name == "Bed by the door"


def test_a_name_that_is_not_given_is_the_slug() -> None:
    (facility,) = parse(EXAMPLE)
    assert facility.rooms[0].containers[0].name == "pot-01"


@pytest.mark.parametrize(
    ("change", "to", "said"),
    [
        (
            'slug = "r3-east"',
            'slug = "R3 East"',
            "room room-03, reservoir R3 East: slug is 'R3 East'; accepted: a slug",
        ),
        (
            'slug = "room-04"',
            'slug = "room-03"',
            "facility birchwood, room: slug is 'room-03'; accepted: a slug used once",
        ),
        ('slug = "pot-02"', 'slug = "pot-01"', "room room-03, container: slug is 'pot-01'; accepted: a slug used once"),
        (
            'reservoir = "r3-east"',
            'reservoir = "r3"',
            "line r3-loop: reservoir is 'r3'; accepted: a reservoir of the same",
        ),
        (
            'line = "r4-line"',
            'line = "r3-loop"',
            "container bed-01: line is 'r3-loop'; accepted: a line of the same room",
        ),
        ('kind = "loop" ', 'kind = "ring" ', "line r3-loop: kind is 'ring'; accepted: one of loop, dead-end"),
        ('kind = "loop" ', "# ", "line r3-loop: kind is missing; accepted: one of loop, dead-end"),
        (
            'zone = "Europe/Oslo"',
            'zone = "Europe/Nowhere"',
            "birchwood: zone is 'Europe/Nowhere'; accepted: a name of the",
        ),
        (
            'zone = "Europe/Oslo"',
            'zone = "../../etc/passwd"',
            "birchwood: zone is '../../etc/passwd'; accepted: a name",
        ),
        ('zone = "Europe/Oslo"', "zone = 2", "birchwood: zone is 2; accepted: a name of the time zone database"),
        (
            'lights_on = "06:00"',
            'lights_on = "6 am"',
            "room room-03: lights_on is '6 am'; accepted: a time of day such as",
        ),
        ('lights_on = "06:00"', 'lights_on = "24:00"', "room room-03: lights_on is '24:00'; accepted: a time of day"),
        (
            'lights_on = "06:00"',
            'lights_on = "18:00"',
            "room room-03: lights_off is '18:00'; accepted: another time than",
        ),
        (
            "diameter_mm = 580",
            "diameter_mm = -580",
            "reservoir r3-east: diameter_mm is -580; accepted: one finite number",
        ),
        ("diameter_mm = 580", "", "reservoir r3-east: diameter_mm is missing; accepted: a value: a cylinder needs"),
        (
            "diameter_mm = 580",
            "length_mm = 1",
            "reservoir r3-east: key is 'length_mm'; accepted: one of slug, rules, shape",
        ),
        (
            'shape = "cylinder"',
            'shape = "sphere"',
            "reservoir r3-east: shape is 'sphere'; accepted: one of cylinder, box",
        ),
        ("[[0, 0], ", "[[0, 0], [200, 30], ", "reservoir r4: strapping is"),
        (
            "outlet_mm = 40 ",
            "outlet_mm = 880",
            "r3-east: outlet_mm plus head_mm is 910.0; accepted: together at least 0",
        ),
        (
            "outlet_mm = 50",
            "outlet_mm = 800",
            "reservoir r4: outlet_mm plus head_mm is 800.0; accepted: together at least 0",
        ),
        ("outlet_mm = 50", "", "reservoir r4: outlet_mm is missing; accepted: a number from 0 to 20000"),
        (
            "sensor_zero_mm = 0",
            "sensor_zero_mm = 900",
            "r3-east: sensor_zero_mm is 900.0; accepted: below the tank's height",
        ),
        ("volume_l = 250", "volume_l = nan", "container bed-01: volume_l is nan; accepted: a number from"),
        ("volume_l = 250", 'volume_l = "250"', "container bed-01: volume_l is '250'; accepted: a number from"),
        ("volume_l = 250", "volume_l = true", "container bed-01: volume_l is True; accepted: a number from"),
        (
            "volume_l = 250",
            "volume_l = 250\nvolume = 1",
            "container bed-01: key is 'volume'; accepted: one of slug, rules",
        ),
        (
            "stands_for = 4  ",
            "stands_for = 0.5",
            "container pot-01: stands_for is 0.5; accepted: a whole number from 1",
        ),
        (
            "dry_limit_mbar = 150",
            "dry_limit_mbar = 2000",
            "bed-01: dry_limit_mbar is 2000; accepted: a number of mbar from",
        ),
        (
            "dry_limit_mbar = 150",
            "dry_limit = 150",
            "container bed-01: rule is 'dry_limit'; accepted: one of battery_low_percent",
        ),
        (
            "dry_limit_mbar = 150",
            "dry_limit_mbar = 50",
            "bed-01: wet limit, set point, dry limit is '60, 100, 50 mbar'",
        ),
        (
            "{ set_point_mbar = 90 }",
            "{ set_point_mbar = 60 }",
            "room room-03: wet limit, set point, dry limit is '60, 60, 180 mbar'",
        ),
        ("{ set_point_mbar = 90 }", "90", "room room-03: rules is 90; accepted: a table of numbers by rule"),
        (
            "fa1:level",
            "fa1:tension",
            "reservoir r3-east: level is 'urn:dev:mac:0024befffe804fa1:tension'; accepted: a chan",
        ),
        (
            "fa1:level",
            "fa1",
            "reservoir r3-east: level is 'urn:dev:mac:0024befffe804fa1'; accepted: a channel of level",
        ),
        (
            "ff2:tension",
            "ff1:tension",
            "container pot-02: tension is 'urn:dev:mac:0024befffe804ff1:tension'; accepted: a chan",
        ),
        ("ff4:tension", "ff1:tension", "it is attached to facility birchwood, room room-03, container pot-01, too"),
        ('tension = "urn:dev:mac:0024befffe804ff2:tension"', "", "container pot-02: twin is"),
        (
            "[[facility.gateway]]",
            "[facility.gateway]",
            "facility birchwood: gateway is 'dict'; accepted: tables that begin",
        ),
        ('name = "Room 3"', 'name = ""', "room room-03: name is ''; accepted: a line of text, 1 to 100 characters"),
        ('name = "Room 3"', 'name = "Room\\n3"', "room room-03: name is 'Room\\n3'; accepted: a line of text"),
        ('name = "Room 3"', f'name = "{"x" * 10_000}"', "room room-03: name is 'xxxxxxxx"),
        ('slug = "gw-01"', f'slug = "{"g" * 64}"', "facility birchwood, gateway number 1: slug is 'gggg"),
        ('slug = "gw-01"', 'slug = "alarms"', "gateway alarms: slug is 'alarms'; accepted: another slug"),
        ('slug = "gw-01"', "", "facility birchwood, gateway number 1: slug is missing; accepted: a slug"),
        ('slug = "birchwood"', 'slug = "birchwood"\nslug = "elm"', "text is 'Cannot overwrite a value"),
    ],
)
def test_a_mistake_is_named_with_its_place_its_value_and_what_is_accepted(change: str, to: str, said: str) -> None:
    assert change in EXAMPLE
    found = problems(EXAMPLE.replace(change, to, 1))
    assert any(said in problem for problem in found), found


def test_every_mistake_of_a_file_is_named_at_once() -> None:
    broken = EXAMPLE.replace("Europe/Oslo", "Europe/Nowhere").replace("= 580", "= 0").replace("= 250", "= -1")
    with pytest.raises(DocumentError) as caught:
        parse(broken, "fleet.toml")
    assert len(caught.value.problems) == 3
    assert str(caught.value).startswith("fleet.toml has 3 problems:\n  facility birchwood: zone is 'Europe/Nowhere'")


def test_of_very_many_mistakes_the_first_fifty_are_told() -> None:
    rooms = "".join(f'[[facility.room]]\nslug = "r{n}"\n' for n in range(100))
    with pytest.raises(DocumentError) as caught:
        parse(f'[[facility]]\nslug = "f"\nzone = "UTC"\n{rooms}')
    assert len(caught.value.problems) == 200
    assert len(str(caught.value).splitlines()) == 52
    assert str(caught.value).endswith("\n  and 150 more")


def test_limits_that_cross_are_named_where_they_cross_and_not_again_below() -> None:
    found = problems(EXAMPLE.replace("wet_limit_mbar = 60", "wet_limit_mbar = 120"))
    assert len(found) == 1
    assert "facility birchwood: wet limit, set point, dry limit is '120, 100, 180 mbar'" in found[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "facility is missing; accepted: at least one [[facility]]"),
        ("not toml", "text is "),
        ("a = " + "[" * 5000, "text is "),
        ("facility = 3", "facility is 'int'; accepted: tables that begin with"),
        ("facility = [3]", "facility number 1 is 3; accepted: a table of keys"),
        ('[[site]]\nslug = "a"', "key is 'site'; accepted: one of facility"),
    ],
)
def test_text_that_is_no_fleet_file_is_refused(text: str, said: str) -> None:
    assert any(said in problem for problem in problems(text))


def test_bytes_that_are_not_utf8_are_refused() -> None:
    with pytest.raises(DocumentError, match="TOML in UTF-8"):
        parse(b"\xff\xfe\x00")


def test_one_channel_in_two_facilities_is_a_mistake() -> None:
    (problem, *_) = problems(EXAMPLE + EXAMPLE.replace("birchwood", "elmtree"))
    assert "facility elmtree, room room-03: temperature is 'urn:dev:mac:0024befffe804fb1:temperature'" in problem


def test_a_lying_cylinder_is_as_high_as_its_diameter_whatever_height_is_given() -> None:
    lying = 'shape = "lying-cylinder"\n    length_mm = 1200'
    tank = EXAMPLE.replace('shape = "cylinder"', lying)
    assert parse(tank)[0].rooms[0].reservoirs[0].shape == "lying-cylinder"
    (problem,) = problems(tank.replace("height_mm = 900", "height_mm = 500"))
    assert "height_mm is 500.0; accepted: a height of at least 580" in problem
