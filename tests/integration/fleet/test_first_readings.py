"""What a fleet file attaches without naming a moment holds from the first reading on, whichever way that comes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from wickwatch.fleet.document import parse
from wickwatch.ingest.heard import Directory
from wickwatch.ingest.writing import Packet, write_batch
from wickwatch.store import channels, first_readings, fleet
from wickwatch.store.connect import Connection, connect
from wickwatch.store.first_readings import Oldest, Outside
from wickwatch.store.readings import Rows

NOW = datetime.now(UTC)
DAY = timedelta(days=1)

ROOM = """
[[facility]]
slug = "alderholm"
name = "Alderholm"
zone = "Europe/Oslo"

  [[facility.room]]
  slug = "bed-room"
  name = "Bed room"
  lights_on = "06:00"
  lights_off = "18:00"

    [[facility.room.container]]
    slug = "pot-01"
    tension = "urn:dev:x{probe}:tension"
"""


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as connection:
        yield connection


def apply(conn: Connection, probe: int = 1, at: datetime | None = None) -> int:
    """Attach this probe; returns the id of its channel."""
    fleet.apply_declared(conn, parse(ROOM.format(probe=probe)), at)
    conn.commit()
    return channel_id(conn, probe)


def channel_id(conn: Connection, probe: int) -> int:
    found = conn.execute("SELECT id FROM channel WHERE name = %s", (f"urn:dev:x{probe}:tension",)).fetchone()
    assert found
    return int(found[0])


def rows(channel: int, *days_ago: float) -> Rows:
    at = np.array([(NOW - days * DAY).replace(tzinfo=None) for days in days_ago], dtype="M8[us]")
    return Rows(np.full(len(at), channel, np.int32), at, np.full(len(at), 90.0))


def began(conn: Connection, channel: int, *days_ago: float) -> bool:
    """Store readings; whether the channel's attachment begins with them."""
    return first_readings.begin(conn, [rows(channel, *days_ago)], NOW) == {channel}


def since(conn: Connection, probe: int) -> float:
    """How many days ago the newest attachment of a probe begins."""
    found = conn.execute(
        "SELECT lower(during) FROM assignment WHERE channel_id = %s ORDER BY during DESC", (channel_id(conn, probe),)
    ).fetchone()
    assert found
    return float((NOW - found[0]) / DAY)


def test_an_attachment_begins_with_the_oldest_reading_of_what_was_never_heard(conn: Connection) -> None:
    channel = apply(conn)
    assert since(conn, 1) == pytest.approx(0.0, abs=0.01)
    assert began(conn, channel, 3, 5, 4)
    assert since(conn, 1) == pytest.approx(5.0)
    assert not began(conn, channel, 4)
    assert began(conn, channel, 9)
    assert since(conn, 1) == pytest.approx(9.0)
    place = fleet.load_facility(conn, fleet.facilities(conn)[0].id, NOW - 8 * DAY)
    assert place.rooms[0].containers[0].tension is not None, "the place as it was then has the probe in its pot"


def test_a_moment_that_somebody_named_stays(conn: Connection) -> None:
    channel = apply(conn, at=NOW - 2 * DAY)
    assert not began(conn, channel, 5)
    assert since(conn, 1) == pytest.approx(2.0)


def test_what_was_heard_before_it_was_attached_measured_something_else_then(conn: Connection) -> None:
    fleet.apply_declared(conn, parse(ROOM.split("    [[facility.room.container]]", maxsplit=1)[0]))
    site = fleet.facilities(conn)[0].id
    heard = channels.Heard("urn:dev:x1:tension", "urn:dev:x1", "tension", "mbar")
    channels.register(conn, site, channels.gateway(conn, site, "gw-01"), [heard])
    conn.commit()
    channel = apply(conn)
    assert not began(conn, channel, 5)
    assert since(conn, 1) == pytest.approx(0.0, abs=0.01)


def test_a_probe_that_replaces_another_begins_when_that_one_ended(conn: Connection) -> None:
    apply(conn, 1, NOW - 10 * DAY)
    replacing = apply(conn, 2)
    assert not began(conn, replacing, 5)
    assert since(conn, 2) == pytest.approx(0.0, abs=0.01)


def test_where_the_one_before_ended_earlier_it_begins_there_at_most(conn: Connection) -> None:
    apply(conn, 1, NOW - 10 * DAY)
    without = ROOM.replace('    tension = "urn:dev:x{probe}:tension"\n', "")
    fleet.apply_declared(conn, parse(without), NOW - 4 * DAY)
    conn.commit()
    late = apply(conn, 2)
    assert began(conn, late, 6, 1)
    assert since(conn, 2) == pytest.approx(4.0)


def test_readings_taken_just_now_are_not_looked_up(conn: Connection) -> None:
    channel = apply(conn)
    conn.execute("UPDATE assignment SET during = tstzrange(%s, NULL)", (NOW,))
    assert not began(conn, channel, 30 / 86400)


def test_a_gateways_backlog_counts_as_an_import_does(conn: Connection) -> None:
    apply(conn)
    pack = [{"bn": "urn:dev:x1:", "bt": (NOW - 3 * DAY).timestamp(), "n": "tension", "u": "mbar", "v": 90.0}]
    packet = Packet("wickwatch/1/alderholm/gw-01/senml", json.dumps(pack).encode(), NOW.timestamp())
    outcome = write_batch(conn, Directory(whole=True), [packet])
    assert (outcome.written.stored, outcome.refused) == (1, [])
    assert since(conn, 1) == pytest.approx(3.0)


def test_what_belongs_to_nothing_is_counted(conn: Connection) -> None:
    early = apply(conn, 1, NOW - 2 * DAY)
    site = fleet.facilities(conn)[0].id
    names = [("urn:dev:x8", "tension", "mbar"), ("urn:dev:x8", "battery", "percent")]
    heard = [channels.Heard(f"{device}:{quantity}", device, quantity, unit) for device, quantity, unit in names]
    loose = channels.register(conn, site, channels.gateway(conn, site, "gw-01"), heard)
    seen = Oldest()
    assert seen.outside(conn) == Outside(0, 0, None)
    for channel in (early, *(each.id for each in loose)):
        seen.add(rows(channel, 1, 5))
    told = seen.outside(conn)
    assert (told.unattached, told.later) == (1, 1), "a battery is attached to nothing by its nature"
    assert told.since is not None
    assert (NOW - told.since) / DAY == pytest.approx(2.0)
