"""What is heard is registered once, belongs to its facility, and moves with its gateway."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from uuid import UUID

import numpy as np
import pytest

from tests.parts.process import wait_until
from wickwatch.store import channels, copies, readings
from wickwatch.store.channels import Heard
from wickwatch.store.connect import Connection, connect

NOW = datetime(2026, 11, 20, 4, 0, tzinfo=UTC)
DEVICE = "urn:dev:mac:0024befffe804ff1"
TENSION = Heard(f"{DEVICE}:tension", DEVICE, "tension", "mbar")
BATTERY = Heard(f"{DEVICE}:battery", DEVICE, "battery", "%EL")


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as opened:
        yield opened


def facility(conn: Connection, slug: str, rules: str = "{}") -> UUID:
    row = conn.execute(
        "INSERT INTO facility (slug, name, zone, rules) VALUES (%s, %s, 'Europe/Oslo', %s) RETURNING id",
        (slug, slug, rules),
    ).fetchone()
    assert row
    return row[0]  # type: ignore[no-any-return]


def gateway_of_device(conn: Connection) -> object:
    return conn.execute("SELECT g.slug FROM device d JOIN gateway g ON g.id = d.gateway_id").fetchall()


def test_facilities_in_use_come_with_their_retention(conn: Connection) -> None:
    facility(conn, "birchwood", '{"retention_days": 30}')
    facility(conn, "elmfield")
    conn.execute("UPDATE facility SET retired_at = now() WHERE id = %s", (facility(conn, "closed"),))
    assert {(place.slug, place.retention_days) for place in channels.places(conn)} == {
        ("birchwood", 30),
        ("elmfield", None),
    }


def test_a_gateway_is_registered_once_as_heard_but_not_declared(conn: Connection) -> None:
    site = facility(conn, "birchwood")
    assert channels.gateway(conn, site, "gw-01") == channels.gateway(conn, site, "gw-01")
    assert conn.execute("SELECT slug, declared FROM gateway").fetchall() == [("gw-01", False)]


def test_a_channel_is_registered_once_and_attached_to_nothing(conn: Connection) -> None:
    site = facility(conn, "birchwood")
    gateway = channels.gateway(conn, site, "gw-01")
    first = channels.register(conn, site, gateway, [TENSION, BATTERY, TENSION])
    assert sorted((c.name, c.quantity, c.unit) for c in first) == [
        (BATTERY.name, "battery", "%EL"),
        (TENSION.name, "tension", "mbar"),
    ]
    assert sorted(channels.register(conn, site, gateway, [BATTERY, TENSION])) == sorted(first)
    assert conn.execute("SELECT count(*) FROM device").fetchone() == (1,)
    assert conn.execute("SELECT count(*) FROM assignment").fetchone() == (0,)


def test_the_same_name_in_another_facility_is_another_channel(conn: Connection) -> None:
    ids = []
    for slug in ("birchwood", "elmfield"):
        site = facility(conn, slug)
        ids += channels.register(conn, site, channels.gateway(conn, site, "gw-01"), [TENSION])
    assert ids[0].id != ids[1].id


def test_a_device_heard_through_another_gateway_has_moved(conn: Connection) -> None:
    site = facility(conn, "birchwood")
    for slug in ("gw-01", "gw-02"):
        channels.register(conn, site, channels.gateway(conn, site, slug), [TENSION])
        assert gateway_of_device(conn) == [(slug,)]
    channels.register(conn, site, channels.gateway(conn, site, "gw-01"), [BATTERY])  # a new channel of it
    assert gateway_of_device(conn) == [("gw-01",)]


def test_copies_that_hear_the_same_new_names_at_once_register_each_once(database_url: str, conn: Connection) -> None:
    site = facility(conn, "birchwood")
    conn.commit()
    heard = [Heard(f"urn:dev:x{n}:tension", f"urn:dev:x{n}", "tension", "mbar") for n in range(200)]

    def copy(number: int) -> set[int]:
        with connect(database_url, "copy") as own:
            gateway = channels.gateway(own, site, "gw-01")
            return {c.id for c in channels.register(own, site, gateway, heard[::-1] if number % 2 else heard)}

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(copy, range(4)))
    assert all(ids == found[0] for ids in found)
    assert len(found[0]) == 200


def test_when_a_gateway_was_heard_never_goes_back(conn: Connection) -> None:
    gateway = channels.gateway(conn, facility(conn, "birchwood"), "gw-01")
    for at in (NOW, NOW - timedelta(minutes=1)):
        channels.mark_heard(conn, {gateway: at})
    assert conn.execute("SELECT heard_at FROM gateway").fetchone() == (NOW,)


def test_a_status_is_noted_with_the_time_it_changed(conn: Connection) -> None:
    gateway = channels.gateway(conn, facility(conn, "birchwood"), "gw-01")
    channels.mark_status(conn, gateway, "online", NOW)
    channels.mark_status(conn, gateway, "online", NOW + timedelta(hours=1))  # retained, heard again
    assert conn.execute("SELECT status, status_at FROM gateway").fetchone() == ("online", NOW)
    channels.mark_status(conn, gateway, "offline", NOW + timedelta(hours=2))
    channels.mark_status(conn, gateway, "online", NOW + timedelta(hours=1))  # written late by another copy
    assert conn.execute("SELECT status, status_at FROM gateway").fetchone() == ("offline", NOW + timedelta(hours=2))


def test_the_usual_interval_is_the_median_of_the_last_gaps(conn: Connection) -> None:
    site = facility(conn, "birchwood")
    heard = [Heard(f"urn:dev:x{n}:tension", f"urn:dev:x{n}", "tension", "mbar") for n in range(3)]
    channels.register(conn, site, channels.gateway(conn, site, "gw-01"), heard)
    seconds = np.array(
        [0, 60, 120, 180, 1000, 1060, 1120, 50, 0]
    )  # one gap too long; two readings of channel 2; one of 3
    ids = np.array([1, 1, 1, 1, 1, 1, 1, 2, 3], np.int32)
    at = np.datetime64("2026-11-20T03:00:00", "us") + (seconds * 1_000_000).astype("m8[us]")
    readings.write(conn, site, readings.Rows(ids, at, np.zeros(9)))
    assert channels.estimate_intervals(conn, NOW, only_new=False) == 1
    assert conn.execute("SELECT interval_s FROM channel ORDER BY id").fetchall() == [(60,), (None,), (None,)]
    conn.execute("UPDATE channel SET interval_s = 5 WHERE id = 1")
    assert channels.estimate_intervals(conn, NOW, only_new=True) == 0
    assert channels.estimate_intervals(conn, NOW, only_new=False) == 1


def test_copies_are_numbered_from_one_and_a_number_is_free_again_when_its_copy_ends(database_url: str) -> None:
    with connect(database_url, "first") as first, connect(database_url, "second") as second:
        assert (copies.claim(first, "ingest"), copies.claim(second, "ingest")) == (1, 2)
        assert not copies.hold(second, "ingest", 1)
    with connect(database_url, "third") as third:
        wait_until(lambda: copies.hold(third, "ingest", 1), "the first place free")
        assert copies.claim(third, "ingest") == 1
