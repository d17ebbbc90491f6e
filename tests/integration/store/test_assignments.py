"""A channel is attached to one thing at a time, a thing has one channel of a kind, and what was stays written."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from uuid import UUID, uuid4

import pytest

from wickwatch.errors import InputError, RefusedError
from wickwatch.store import assignments
from wickwatch.store.channels import Heard, gateway, register
from wickwatch.store.connect import Connection, connect

DAY = timedelta(days=1)
START = datetime(2026, 11, 1, tzinfo=UTC)


class Place(NamedTuple):
    """A facility with a room, two containers and a reservoir; channels 1 and 2 are tension, 3 is a level."""

    room: UUID
    pots: tuple[UUID, UUID]
    reservoir: UUID
    elsewhere: UUID


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as opened:
        yield opened


def added(conn: Connection, statement: str, *values: object) -> UUID:
    row = conn.execute(statement, values).fetchone()  # type: ignore[call-overload]
    assert row
    return row[0]  # type: ignore[no-any-return]


ADD_FACILITY = "INSERT INTO facility (slug, name, zone) VALUES (%s, %s, 'Europe/Oslo') RETURNING id"
ADD_ROOM = """
INSERT INTO room (facility_id, slug, name, lights_on, lights_off) VALUES (%s, 'r', 'R', '6:00', '18:00') RETURNING id
"""
ADD_POT = "INSERT INTO container (room_id, slug, name) VALUES (%s, %s, %s) RETURNING id"
ADD_TANK = """
INSERT INTO reservoir (room_id, slug, name, shape, keys, outlet_mm) VALUES (%s, 'a', 'A', 'box', '{}', 0) RETURNING id
"""


@pytest.fixture
def place(conn: Connection) -> Place:
    site = added(conn, ADD_FACILITY, "birchwood", "Birchwood House")
    here = added(conn, ADD_ROOM, site)
    other = added(conn, ADD_ROOM, added(conn, ADD_FACILITY, "elmfield", "Elmfield"))
    heard = [Heard(f"urn:dev:x{n}:tension", f"urn:dev:x{n}", "tension", "mbar") for n in (1, 2)]
    heard.append(Heard("urn:dev:x3:level", "urn:dev:x3", "level", "mm"))
    register(conn, site, gateway(conn, site, "gw-01"), heard)
    pots = (added(conn, ADD_POT, here, "a", "A"), added(conn, ADD_POT, here, "b", "B"))
    return Place(here, pots, added(conn, ADD_TANK, here), added(conn, ADD_POT, other, "a", "A"))


def written(conn: Connection) -> list[tuple[int, object, int, int | None]]:
    """(channel, subject, first day, day after the last) of every assignment."""
    found = conn.execute(
        "SELECT channel_id, coalesce(container_id, reservoir_id, line_id, room_id), lower(during), upper(during)"
        " FROM assignment ORDER BY lower(during), channel_id"
    ).fetchall()
    return [(c, s, (low - START).days, None if high is None else (high - START).days) for c, s, low, high in found]


def test_a_channel_is_attached_until_further_notice(conn: Connection, place: Place) -> None:
    assignments.attach(conn, 1, "container", place.pots[0], START)
    assignments.attach(conn, 3, "reservoir", place.reservoir, START)
    assert written(conn) == [(1, place.pots[0], 0, None), (3, place.reservoir, 0, None)]


def test_a_channel_that_moves_ends_where_it_was(conn: Connection, place: Place) -> None:
    assignments.attach(conn, 1, "container", place.pots[0], START)
    assignments.attach(conn, 1, "container", place.pots[1], START + 3 * DAY)
    assert written(conn) == [(1, place.pots[0], 0, 3), (1, place.pots[1], 3, None)]


def test_a_container_given_another_probe_lets_go_of_the_first(conn: Connection, place: Place) -> None:
    assignments.attach(conn, 1, "container", place.pots[0], START)
    assignments.attach(conn, 2, "container", place.pots[0], START + DAY)
    assert written(conn) == [(1, place.pots[0], 0, 1), (2, place.pots[0], 1, None)]


def test_a_twin_stands_beside_the_probe_that_counts(conn: Connection, place: Place) -> None:
    assignments.attach(conn, 1, "container", place.pots[0], START)
    assignments.attach(conn, 2, "container", place.pots[0], START, twin=True)
    assert written(conn) == [(1, place.pots[0], 0, None), (2, place.pots[0], 0, None)]


def test_the_same_asked_again_changes_nothing(conn: Connection, place: Place) -> None:
    for day in (0, 5):
        assignments.attach(conn, 1, "container", place.pots[0], START + day * DAY)
    assert written(conn) == [(1, place.pots[0], 0, None)]


def test_a_channel_can_be_attached_to_nothing(conn: Connection, place: Place) -> None:
    assignments.attach(conn, 1, "container", place.pots[0], START)
    assignments.detach(conn, 1, START + 2 * DAY)
    assignments.detach(conn, 1, START + 3 * DAY)
    assert written(conn) == [(1, place.pots[0], 0, 2)]


def test_what_is_written_is_not_rewritten(conn: Connection, place: Place) -> None:
    assignments.attach(conn, 1, "container", place.pots[0], START + 5 * DAY)
    for since in (START, START + 5 * DAY):
        with pytest.raises(RefusedError, match="give a later moment"):
            assignments.attach(conn, 1, "container", place.pots[1], since)
    assignments.detach(conn, 1, START + 6 * DAY)
    with pytest.raises(RefusedError, match="was attached otherwise after"):
        assignments.attach(conn, 2, "container", place.pots[0], START)
    assert written(conn) == [(1, place.pots[0], 5, 6)]


def test_what_does_not_go_together_is_refused(conn: Connection, place: Place) -> None:
    with pytest.raises(InputError, match="subject of a level channel is 'container'; accepted: reservoir"):
        assignments.attach(conn, 3, "container", place.pots[0], START)
    with pytest.raises(InputError, match="the id of a container of the channel's facility"):
        assignments.attach(conn, 1, "container", place.elsewhere, START)
    with pytest.raises(InputError, match="the id of a container of the channel's facility"):
        assignments.attach(conn, 1, "container", uuid4(), START)
    with pytest.raises(InputError, match="channel is 99"):
        assignments.attach(conn, 99, "container", place.pots[0], START)
    assert written(conn) == []
