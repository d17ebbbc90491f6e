"""A fleet applied to a real database: it becomes what is declared, keeps its history, and says what can't be."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import psycopg
import pytest
from hypothesis import HealthCheck, given, settings

from tests.unit.fleet.declared_places import facilities
from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.difference import difference
from wickwatch.fleet.document import parse
from wickwatch.fleet.writing import to_toml
from wickwatch.store import channels, fleet
from wickwatch.store.channels import Heard
from wickwatch.store.connect import Connection, connect

EXAMPLE = (Path(__file__).parents[3] / "deploy" / "fleet-example.toml").read_text()
NOW = datetime.now(UTC)
DAY = timedelta(days=1)


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as connection:
        yield connection


def apply(conn: Connection, text: str, at: datetime | None = None) -> list[str]:
    changes = fleet.apply_declared(conn, parse(text), at)
    conn.commit()
    return [str(change) for change in changes]


def only_id(conn: Connection) -> UUID:
    (site,) = fleet.facilities(conn)
    return site.id


def attachments(conn: Connection, channel: str) -> list[tuple[str, bool]]:
    """Where a channel was attached, in order of time, and whether it still is."""
    return conn.execute(
        """SELECT coalesce(p.slug, r.slug), upper_inf(a.during)
           FROM assignment a JOIN channel c ON c.id = a.channel_id
           LEFT JOIN container p ON p.id = a.container_id LEFT JOIN reservoir r ON r.id = a.reservoir_id
           WHERE c.name = %s ORDER BY a.during""",
        (channel,),
    ).fetchall()


def test_what_is_applied_is_exported_as_it_was_declared(conn: Connection) -> None:
    apply(conn, EXAMPLE)
    (exported,) = fleet.declared(conn)
    assert difference(parse(EXAMPLE), [exported]) == []
    assert apply(conn, to_toml([exported])) == []


def test_some_rooms_of_a_facility_are_read_as_they_are_in_all_of_it(conn: Connection) -> None:
    apply(conn, EXAMPLE)
    (whole,) = fleet.declared(conn)
    for room in whole.rooms:
        assert fleet.declared(conn, [whole.slug], [room.slug]) == (replace(whole, rooms=(room,)),)
    assert fleet.declared(conn, [whole.slug], []) == (replace(whole, rooms=()),)


def test_applying_twice_changes_nothing_the_second_time(conn: Connection) -> None:
    assert len(apply(conn, EXAMPLE)) == 19
    assert apply(conn, EXAMPLE) == []


@given(facilities(), facilities())
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_facility_becomes_any_other(plain_url: str, first: DeclaredFacility, second: DeclaredFacility) -> None:
    with connect(plain_url, "test") as conn:
        for number, wanted in enumerate((first, replace(second, slug=first.slug), first)):
            fleet.apply_declared(conn, [wanted], NOW - DAY + timedelta(hours=number))
            (stored,) = fleet.declared(conn, [wanted.slug])
            assert difference([wanted], [stored]) == []
            assert difference([stored], [wanted]) == []
        conn.rollback()


def test_a_facility_is_loaded_with_its_rules_inherited_and_its_channels_attached(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - DAY)
    place = fleet.load_facility(conn, only_id(conn), NOW)
    third, fourth = place.rooms
    assert (place.slug, place.zone.key, place.rules.set_point_mbar) == ("birchwood", "Europe/Oslo", 100)
    assert (third.rules.set_point_mbar, third.rules.dry_limit_mbar) == (90, 180)
    assert third.containers[0].rules == third.rules
    assert (fourth.containers[0].rules.set_point_mbar, fourth.containers[0].rules.dry_limit_mbar) == (100, 150)
    assert third.lines[0].reservoir_id == third.reservoirs[0].id
    assert third.containers[0].line_id == third.lines[0].id
    pot = third.containers[1]
    assert pot.tension is not None
    assert pot.twin is not None
    assert (pot.tension.name, pot.tension.quantity, pot.tension.since) == (
        "urn:dev:mac:0024befffe804ff2:tension",
        "tension",
        NOW - DAY,
    )
    assert pot.twin.name == "urn:dev:mac:0024befffe804ff3:tension"
    assert third.temperature is not None
    assert third.humidity is not None
    level = fourth.reservoirs[0].level
    assert level is not None
    assert level.id != pot.tension.id
    assert fourth.reservoirs[0].keys["strapping"] == ((0, 0), (100, 26.1), (400, 118.5), (800, 243))
    assert fourth.reservoirs[0].empty_mm == 50
    assert [gateway.slug for gateway in place.gateways] == ["gw-01"]


def test_a_channel_knows_its_gateway_and_its_usual_interval(conn: Connection) -> None:
    apply(conn, EXAMPLE)
    conn.execute("UPDATE device SET gateway_id = (SELECT id FROM gateway) WHERE urn = 'urn:dev:mac:0024befffe804ff1'")
    conn.execute("UPDATE channel SET interval_s = 60 WHERE name = 'urn:dev:mac:0024befffe804ff1:tension'")
    place = fleet.load_facility(conn, only_id(conn), datetime.now(UTC))
    channel = place.rooms[0].containers[0].tension
    assert channel is not None
    assert (channel.gateway_id, channel.interval_s) == (place.gateways[0].id, 60)


def test_a_channel_knows_the_battery_of_its_device_wherever_it_goes(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - 2 * DAY)
    first, second = "urn:dev:mac:0024befffe804ff1", "urn:dev:mac:0024befffe804ff2"
    told = [Heard(f"{first}:battery", first, "battery", "%EL"), Heard(f"{second}:battery", second, "battery", "V")]
    battery = {channel.name: channel.id for channel in channels.register(conn, only_id(conn), None, told)}

    def batteries() -> list[int | None]:
        pots = fleet.load_facility(conn, only_id(conn), datetime.now(UTC)).rooms[0].containers[:2]
        return [pot.tension.battery for pot in pots if pot.tension is not None]

    assert batteries() == [battery[f"{first}:battery"], None]  # volts don't tell what is left
    apply(conn, EXAMPLE.replace("ff1:tension", "ff9:tension").replace("ff2:tension", "ff1:tension"))
    assert batteries() == [None, battery[f"{first}:battery"]]


def test_a_facility_is_seen_as_it_was_at_a_moment(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - 3 * DAY)
    moved = EXAMPLE.replace("ff1:tension", "ff9:tension").replace("ff2:tension", "ff1:tension")
    apply(conn, moved[: moved.index('  [[facility.room]]\n  slug = "room-04"')], NOW - DAY)

    def seen(at: datetime) -> list[tuple[str, str | None]]:
        place = fleet.load_facility(conn, only_id(conn), at)
        return [
            (pot.slug, pot.tension.name[-11:] if pot.tension else None)
            for room in place.rooms
            for pot in room.containers
        ]

    assert seen(NOW - 4 * DAY) == [("pot-01", None), ("pot-02", None), ("bed-01", None)]
    assert seen(NOW - 2 * DAY) == [("pot-01", "ff1:tension"), ("pot-02", "ff2:tension"), ("bed-01", "ff4:tension")]
    assert seen(NOW) == [("pot-01", "ff9:tension"), ("pot-02", "ff1:tension")]


def test_a_channel_that_moves_leaves_where_it_was_at_that_moment(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - 3 * DAY)
    moved = EXAMPLE.replace("ff1:tension", "ff9:tension").replace("ff2:tension", "ff1:tension")
    apply(conn, moved, NOW - DAY)
    assert attachments(conn, "urn:dev:mac:0024befffe804ff1:tension") == [("pot-01", False), ("pot-02", True)]
    row = conn.execute("SELECT count(DISTINCT upper(during)) FROM assignment WHERE NOT upper_inf(during)").fetchone()
    assert row == (1,)


def test_history_is_never_dropped_and_goes_on_when_something_comes_back(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - 3 * DAY)
    before = conn.execute("SELECT id, slug FROM container ORDER BY id").fetchall()
    assert len(before) == 3
    apply(conn, EXAMPLE[: EXAMPLE.index("  [[facility.room]]")], NOW - 2 * DAY)
    assert conn.execute("SELECT id, slug FROM container ORDER BY id").fetchall() == before
    assert conn.execute("SELECT count(*) FROM assignment WHERE NOT upper_inf(during)").fetchone() == (8,)
    assert fleet.declared(conn)[0].rooms == ()
    apply(conn, EXAMPLE, NOW - DAY)
    assert conn.execute("SELECT id, slug FROM container WHERE retired_at IS NULL ORDER BY id").fetchall() == before
    assert attachments(conn, "urn:dev:mac:0024befffe804fa2:level") == [("r4", False), ("r4", True)]


def test_an_attachment_that_would_overlap_a_written_one_is_refused_and_changes_nothing(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - 3 * DAY)
    without = EXAMPLE.replace('tension = "urn:dev:mac:0024befffe804ff4:tension"', "")
    apply(conn, without, NOW - DAY)
    with pytest.raises(RefusedError, match=r"ff4:tension can't be attached to bed-01 from .* attached elsewhere from"):
        fleet.apply_declared(conn, parse(EXAMPLE), NOW - 2 * DAY)
    conn.rollback()
    assert apply(conn, without) == []
    other = EXAMPLE.replace("ff4:tension", "ff8:tension")
    with pytest.raises(RefusedError, match=r"ff8:tension can't .* bed-01 had urn\S+ff4:tension from"):
        fleet.apply_declared(conn, parse(other), NOW - 2 * DAY)


def test_a_channel_can_not_leave_before_it_came(conn: Connection) -> None:
    apply(conn, EXAMPLE, NOW - DAY)
    with pytest.raises(RefusedError, match=r"ff4:tension is where it is since .* what is written stays"):
        fleet.apply_declared(conn, parse(EXAMPLE.replace("ff4:tension", "ff8:tension")), NOW - 2 * DAY)


def test_nothing_can_hold_from_the_future_on(conn: Connection) -> None:
    with pytest.raises(RefusedError, match="has not come yet"):
        fleet.apply_declared(conn, parse(EXAMPLE), NOW + DAY)


def test_a_channel_is_known_before_its_first_reading(conn: Connection) -> None:
    apply(conn, EXAMPLE)
    assert conn.execute("SELECT quantity, unit, count(*) FROM channel GROUP BY 1, 2 ORDER BY 1").fetchall() == [
        ("humidity", "%RH", 1),
        ("level", "mm", 2),
        ("temperature", "degC", 1),
        ("tension", "mbar", 4),
    ]


def test_a_gateway_that_was_only_heard_becomes_a_declared_one(conn: Connection) -> None:
    apply(conn, EXAMPLE)
    heard = "INSERT INTO gateway (facility_id, slug) SELECT id, 'gw-02' FROM facility RETURNING id"
    (heard_id,) = conn.execute(heard).fetchone() or (None,)
    assert apply(conn, EXAMPLE) == []
    with_it = EXAMPLE.replace('slug = "gw-01"', 'slug = "gw-01"\n\n  [[facility.gateway]]\n  slug = "gw-02"')
    assert apply(conn, with_it) == ["add     facility birchwood, gateway gw-02"]
    assert conn.execute("SELECT id, declared FROM gateway WHERE slug = 'gw-02'").fetchall() == [(heard_id, True)]


def test_two_at_once_apply_one_after_the_other(conn: Connection, database_url: str) -> None:
    apply(conn, EXAMPLE)
    texts = [EXAMPLE.replace("volume_l = 250", f"volume_l = {litres}") for litres in (300, 400)]
    failures: list[BaseException] = []
    ready = threading.Barrier(2)

    def one(text: str) -> None:
        try:
            with connect(database_url, "test") as own:
                ready.wait(10)
                for _ in range(5):
                    fleet.apply_declared(own, parse(text))
                    own.commit()
        except BaseException as failure:
            failures.append(failure)

    threads = [threading.Thread(target=one, args=(text,)) for text in texts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert failures == []
    assert fleet.declared(conn)[0].rooms[1].containers[0].volume_l in (300, 400)
    assert conn.execute("SELECT count(*) FROM container").fetchone() == (3,)


def test_an_unknown_facility_is_an_error_that_names_those_there_are(conn: Connection) -> None:
    with pytest.raises(InputError, match="none yet, apply a fleet file first"):
        fleet.facility_by_slug(conn, None)
    apply(conn, EXAMPLE)
    assert fleet.facility_by_slug(conn, None).slug == "birchwood"
    with pytest.raises(InputError, match="'elmtree'; accepted: one of: birchwood"):
        fleet.facility_by_slug(conn, "elmtree")
    with pytest.raises(InputError, match="facility id"):
        fleet.load_facility(conn, UUID(int=0), NOW)


def test_the_database_itself_refuses_two_attachments_of_one_channel(conn: Connection) -> None:
    apply(conn, EXAMPLE)
    again = """INSERT INTO assignment (channel_id, quantity, room_id, during)
               SELECT channel_id, 'humidity', (SELECT id FROM room LIMIT 1), during FROM assignment LIMIT 1"""
    with pytest.raises(psycopg.errors.ExclusionViolation):
        conn.execute(again)
