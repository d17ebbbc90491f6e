"""Rows as the store gives them, for views: every field has a value that can be meant."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid4

from wickwatch.store.pages import AlarmRow, ContainerRow, ReservoirRow, RoomRow
from wickwatch.store.people import Visible
from wickwatch.web.views.state import RoomState, room_states

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
FACILITY = UUID(int=1)
VISIBLE = Visible(FACILITY, "birchwood", "Birchwood House", "Europe/Oslo", "grower")


def room(name: str = "Room 1", **changes: Any) -> RoomRow:
    row = RoomRow(
        uuid4(),
        FACILITY,
        "birchwood",
        "Birchwood House",
        "Europe/Oslo",
        name.lower().replace(" ", "-"),
        name,
        time(6),
        time(18),
        {},
        {},
    )
    return replace(row, **changes)


def container(of: RoomRow, tension_mbar: float | None, name: str = "Pot 1", **changes: Any) -> ContainerRow:
    slug = name.lower().replace(" ", "-")
    read_at = None if tension_mbar is None else NOW - timedelta(minutes=1)
    row = ContainerRow(of.id, uuid4(), slug, name, None, 1, None, 7, 60.0, tension_mbar, read_at)
    return replace(row, **changes)


def reservoir(of: RoomRow, level_mm: float | None, name: str = "East", **changes: Any) -> ReservoirRow:
    keys = {"diameter_mm": 580, "height_mm": 900}
    read_at = None if level_mm is None else NOW - timedelta(minutes=1)
    row = ReservoirRow(
        of.id, uuid4(), name.lower(), name, "cylinder", keys, 0.0, 40.0, 30.0, None, 8, 60.0, level_mm, read_at
    )
    return replace(row, **changes)


def alarm(of: RoomRow | None, **changes: Any) -> AlarmRow:
    row = AlarmRow(
        uuid4(),
        FACILITY,
        "birchwood",
        "Birchwood House",
        "Europe/Oslo",
        of.id if of else None,
        of.slug if of else None,
        of.name if of else None,
        "drying-drift",
        "container",
        uuid4(),
        "Pot 1",
        "medium",
        "unacknowledged",
        True,
        None,
        None,
        None,
        None,
        None,
        NOW - timedelta(hours=1),
        None,
        None,
        None,
        "Pot 1 is drying out.",
        {},
        {},
    )
    return replace(row, **changes)


def state(
    of: RoomRow, *rows: ContainerRow | ReservoirRow | AlarmRow, now: datetime = NOW, **keywords: Any
) -> RoomState:
    """The state of one room with what is in it."""
    pots = [row for row in rows if isinstance(row, ContainerRow)]
    tanks = [row for row in rows if isinstance(row, ReservoirRow)]
    alarms = [row for row in rows if isinstance(row, AlarmRow)]
    return room_states([of], pots, tanks, [], alarms, now, **keywords)[0]
