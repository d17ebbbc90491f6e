"""One thing added, changed or taken out: the same place as a file would have declared, or the file's own refusal."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from tests.unit.fleet.declared_places import facilities
from wickwatch.errors import InputError
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.difference import Place, difference
from wickwatch.fleet.document import DocumentError, declare, parse
from wickwatch.fleet.editing import add, edit, end, new_facility, remove, rules_given, slug_from
from wickwatch.fleet.writing import to_toml, to_values

_KINDS = ("reservoir", "line", "container")


def built(wanted: DeclaredFacility) -> DeclaredFacility:
    """The facility made one thing after another, each by its table."""
    facility = new_facility({**to_values(wanted), "gateway": [], "room": []})
    facility = add(facility, "gateway", None, [to_values(one) for one in wanted.gateways])
    for room in wanted.rooms:
        facility = add(facility, "room", None, [{**to_values(room), **{kind: [] for kind in _KINDS}}])
        for kind, parts in zip(_KINDS, (room.reservoirs, room.lines, room.containers), strict=True):
            for one in parts:
                facility = add(facility, kind, room.slug, [to_values(one)])
    return facility


@given(facilities())
@settings(max_examples=25)
def test_any_facility_built_thing_by_thing_is_the_one_that_its_file_declares(wanted: DeclaredFacility) -> None:
    assert declare({"facility": [to_values(wanted)]}) == (wanted,)
    made = built(wanted)
    assert made == wanted
    assert difference(parse(to_toml([made])), [wanted]) == []


@given(facilities())
@settings(max_examples=25)
def test_whatever_is_taken_out_can_be_put_back_as_it_was(wanted: DeclaredFacility) -> None:
    for room in wanted.rooms:
        place = Place("room", wanted.slug, None, room.slug)
        without = remove(wanted, place)
        assert [one.slug for one in without.rooms] == [one.slug for one in wanted.rooms if one is not room]
        assert difference([add(without, "room", None, [to_values(room)])], [wanted]) == []
        for kind, parts in zip(_KINDS, (room.reservoirs, room.lines, room.containers), strict=True):
            for one in parts:
                there = remove(wanted, Place(kind, wanted.slug, room.slug, one.slug))
                gone = [str(change) for change in difference([there], [wanted]) if change.action == "retire"]
                assert gone == [f"retire  {Place(kind, wanted.slug, room.slug, one.slug)}"]


FACILITY = parse("""
[[facility]]
slug = "birchwood"
zone = "Europe/Oslo"
rules = { dry_limit_mbar = 170 }
  [[facility.room]]
  slug = "room-03"
  lights_on = "06:00"
  lights_off = "18:00"
    [[facility.room.line]]
    slug = "loop"
    kind = "loop"
    [[facility.room.container]]
    slug = "pot-01"
    line = "loop"
    rules = { set_point_mbar = 150 }
""")[0]
POT = Place("container", "birchwood", "room-03", "pot-01")


def test_a_key_set_to_nothing_is_taken_away_and_others_stay() -> None:
    pot = edit(FACILITY, POT, {"line": None, "volume_l": 20}).rooms[0].containers[0]
    assert (pot.line, pot.volume_l, pot.rules) == (None, 20.0, {"set_point_mbar": 150.0})
    assert rules_given(FACILITY, POT) == {"set_point_mbar": 150.0}


def test_limits_that_would_cross_further_down_are_refused_where_they_cross() -> None:
    with pytest.raises(DocumentError) as caught:
        edit(FACILITY, Place("facility", "birchwood", None, "birchwood"), {"rules": {"dry_limit_mbar": 140}})
    (problem,) = caught.value.problems
    assert problem.thing == "facility birchwood, room room-03, container pot-01: wet limit, set point, dry limit"


def test_what_is_not_there_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="container is 'pot-09'; accepted: the slug of a container that is there"):
        edit(FACILITY, replace(POT, slug="pot-09"), {"volume_l": 1})
    with pytest.raises(InputError, match="room is 'room-99'"):
        remove(FACILITY, replace(POT, room="room-99"))
    with pytest.raises(InputError, match="take these out of use first"):
        end(FACILITY)


def test_a_facility_without_rooms_ends_after_its_gateways() -> None:
    empty = add(replace(FACILITY, rooms=()), "gateway", None, [{"slug": "gw-01"}])
    assert [str(change) for change in end(empty)] == [
        "retire  facility birchwood, gateway gw-01",
        "retire  facility birchwood",
    ]


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Room 3", "room-3"),
        ("  R3 -- East!  ", "r3-east"),
        ("Søndre Ære, hus Å", "sondre-aere-hus-a"),
        ("Größe 5/6", "grosse-5-6"),
        ("日本", ""),
        ("x" * 80, "x" * 63),
    ],
)
def test_a_slug_is_made_from_what_people_call_a_thing(name: str, slug: str) -> None:
    assert slug_from(name) == slug
