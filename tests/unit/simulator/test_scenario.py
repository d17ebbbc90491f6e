"""Scenario files: what they make, and that a mistake in one is named with its place, value and what is accepted."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.unit.simulator.houses import event, house
from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.errors import InputError
from wickwatch.fleet.document import parse
from wickwatch_simulator import Simulation, load_scenario
from wickwatch_simulator.catalogue import EVENTS, FAULTS, HARMLESS
from wickwatch_simulator.load import names
from wickwatch_simulator.random_events import RECOVERY_HOURS


def test_the_demonstration_has_twelve_rooms_in_two_houses_and_two_zones() -> None:
    demo = load_scenario("demo")
    assert "demo" in names() and len(demo.rooms) >= 12 and demo.days == 21
    assert len(demo.facilities) == 2
    now = datetime(2026, 3, 20, tzinfo=UTC)
    assert len({now.astimezone(ZoneInfo(f.zone)).utcoffset() for f in demo.facilities}) == 2
    assert any(e.begin < demo.end and e.end is None for e in demo.events)
    assert any(e.begin > demo.end for e in demo.events)


def test_rooms_days_seed_and_start_can_be_given() -> None:
    start = datetime(2026, 11, 1, 7, 30, 12, tzinfo=UTC)
    small = load_scenario("demo", rooms=3, days=2, seed=5, start=start)
    assert (len(small.rooms), small.days, small.seed) == (3, 2, 5)
    assert small.start == start.replace(second=0) and small.end == small.start + timedelta(days=2)
    assert all(e.begin >= small.start for e in small.events)
    assert load_scenario("demo", faults=False).events == ()


@pytest.mark.parametrize("rooms", [1, 12, 40])
def test_the_fleet_file_is_taken_by_the_fleet_s_own_reader(rooms: int) -> None:
    scenario = load_scenario("demo", rooms=rooms)
    declared = parse(Simulation(scenario).fleet_toml())
    assert sum(len(f.rooms) for f in declared) == rooms
    for place, told in zip(scenario.rooms, (r for f in declared for r in f.rooms), strict=True):
        assert [c.slug for c in told.containers] == [c.slug for c in place.containers]
        assert {c.tension for c in told.containers} == {c.probe.channel for c in place.containers}
        for tank, plan in zip(told.reservoirs, place.reservoirs, strict=True):
            assert tank_from_keys(tank.shape, tank.keys).full_l == tank_from_keys(tank.shape, plan.keys).full_l


def test_every_channel_has_its_own_name() -> None:
    channels = Simulation(load_scenario("demo", rooms=60)).channels
    assert len(set(channels.names)) == len(channels.names)


GOOD = """
name = "x"
start = 2026-03-02T00:00:00Z
days = 5
rooms = 2
[[facility]]
slug = "a"
zone = "Europe/Oslo"
[[template]]
name = "Room"
"""


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("days = 5", "days = 0"), r"x.toml: days is 0;.*0.01 to 3660"),
        (("days = 5", ""), "x.toml: days"),
        (("rooms = 2", "rooms = 2.5"), "whole number"),
        (("rooms = 2", "rooms = true"), "rooms"),
        (("2026-03-02T00:00:00Z", "2026-03-02T00:00:00"), "time with its zone"),
        (("Europe/Oslo", "Europe/Atlantis"), "facility 1: zone.*Atlantis"),
        (('slug = "a"', 'slug = "A b"'), "facility 1: slug"),
        (("[[template]]", '[[template]]\nmedium = "gravel"'), "template 1: medium.*gravel.*peat-perlite"),
        (("[[template]]", '[[template]]\nlights_on = "25:00"'), "template 1: lights_on.*06:00"),
        (("[[template]]", "[[template]]\ncontainers = [9, 2]"), "containers.*least, most"),
        (("[[template]]", "[[template]]\ncolour = 3"), "template 1: colour.*one of the keys"),
        (('[[template]]\nname = "Room"', ""), "at least one"),
        (("[[facility]]", "[facility]"), "facility"),
        (("[[facility]]", "[[facility]]\ngateway = { drops = 1 }"), "gateway: drops.*drop_share"),
        (('name = "x"', "name = "), "TOML"),
    ],
)
def test_a_mistake_is_named_with_its_place_and_what_is_accepted(
    tmp_path: Path, change: tuple[str, str], said: str
) -> None:
    path = tmp_path / "x.toml"
    assert change[0] in GOOD
    path.write_text(GOOD.replace(*change))
    with pytest.raises(InputError, match=said):
        load_scenario(path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (event("stuck-open", room=1), "one of day, days_before_end, minutes_after_end"),
        (event("stuck-open", room=1, day=1, minutes_after_end=3), "one of day"),
        (event("stuck-openn", room=1, day=1), "event 1: event.*stuck-openn.*stuck-open"),
        (event("stuck-open", room=1, day=1, container=90), "event 1: container.*1 to"),
        (event("stuck-open", room=1, day=1, reservoir=1), "reservoir.*one of the keys"),
        (event("stuck-open", room=1, day=1, hours=0), "hours"),
    ],
)
def test_a_mistake_in_an_event_is_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        house(tmp_path, text)


@pytest.mark.parametrize("source", ["nowhere", "nowhere.toml", "../demo"])
def test_a_scenario_that_is_not_there_is_refused_with_those_there_are(source: str) -> None:
    with pytest.raises(InputError, match="demo"):
        load_scenario(source)


def test_an_event_in_a_room_that_does_not_exist_is_left_out(tmp_path: Path) -> None:
    assert house(tmp_path, event("stuck-open", room=7, day=1)).events == ()


RANDOM = "\n[random]\nfaults_per_room_month = 3.4\nharmless_per_room_month = 7\n"


def test_random_events_come_as_often_as_asked_and_of_every_sort(tmp_path: Path) -> None:
    scenario = house(tmp_path, RANDOM, rooms=60, days=30)
    faults = [e for e in scenario.events if e.kind.alarm]
    harmless = [e for e in scenario.events if not e.kind.alarm]
    assert len(faults) == pytest.approx(60 * 3.4, rel=0.15)
    assert len(harmless) == pytest.approx(60 * 7, rel=0.15)
    assert {e.event for e in faults} == set(FAULTS) and {e.event for e in harmless} == set(HARMLESS)
    assert house(tmp_path, RANDOM, rooms=60, days=30).events == scenario.events
    assert house(tmp_path, RANDOM, rooms=60, days=30, seed=12).events != scenario.events


def test_random_faults_of_one_container_or_reservoir_lie_apart(tmp_path: Path) -> None:
    faults = [
        e for e in house(tmp_path, RANDOM, rooms=40, days=60).events if e.kind.alarm and e.kind.target != "gateway"
    ]
    groups: dict[tuple[str, str], list[tuple[datetime, datetime]]] = {}
    for e in faults:
        assert e.end is not None
        groups.setdefault((e.room, e.subject), []).append((e.begin, e.end))
    for spans in groups.values():
        spans.sort()
        for (_, end), (begin, _) in pairwise(spans):
            assert begin >= end + timedelta(hours=RECOVERY_HOURS)


def test_only_the_events_asked_for_are_drawn(tmp_path: Path) -> None:
    text = '\n[random]\nfaults_per_room_month = 6\nonly = ["clogged", "air-lock"]\n'
    assert {e.event for e in house(tmp_path, text, rooms=30, days=30).events} == {"clogged", "air-lock"}


def test_people_s_events_begin_in_working_hours_of_the_house(tmp_path: Path) -> None:
    scenario = house(tmp_path, RANDOM, rooms=40, days=30, zone="America/Halifax")
    hours = [e.begin.astimezone(ZoneInfo("America/Halifax")).hour for e in scenario.events if EVENTS[e.event].begins]
    assert len(hours) > 100 and min(hours) >= 8 and max(hours) <= 17


def test_the_simulator_s_page_tells_of_every_event_and_its_alarm() -> None:
    page = Path("simulator/README.md").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| `")]
    for name, kind in EVENTS.items():
        row = next((r for r in rows if f"`{name}`" in r), None)
        assert row is not None, name
        _, _, subject, alarm, _ = row.split("|")
        assert subject.strip().startswith(kind.target)
        assert f"`{kind.alarm}`" in alarm if kind.alarm else "harmless" in alarm
