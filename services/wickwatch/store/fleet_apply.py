"""Bringing the stored place to what is declared, in the caller's transaction and under one lock.

Not here: what differs (`fleet.difference`), nor what channels are attached to (`store.fleet_attach`). Nothing is
deleted: what is no longer declared gets the moment it was retired, and an attachment gets its end. Each statement takes
all its rows at once, so that a fleet of a thousand rooms is a matter of seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from psycopg.types.json import Jsonb

from wickwatch.errors import RefusedError
from wickwatch.fleet.declared import (
    DeclaredContainer,
    DeclaredFacility,
    DeclaredLine,
    DeclaredReservoir,
    DeclaredRoom,
)
from wickwatch.fleet.difference import Change, difference
from wickwatch.store import fleet_sql as sql
from wickwatch.store.connect import Connection
from wickwatch.store.fleet_attach import attach, detach
from wickwatch.store.fleet_declared import declared
from wickwatch.texts import _

#: A clock that differs from the database's by more than this [s] may not attach ahead of it.
_AHEAD = timedelta(minutes=5)


def lock(conn: Connection) -> None:
    """Wait for whoever else changes the place; held until the transaction ends."""
    conn.execute(sql.LOCK)


def apply_declared(conn: Connection, wanted: Sequence[DeclaredFacility], at: datetime | None = None) -> list[Change]:
    """Make the declared facilities what is declared, as `apply` does; returns what was changed.

    Raises RefusedError where an attachment would overlap one that is written already.
    """
    lock(conn)
    changes = difference(wanted, declared(conn, [facility.slug for facility in wanted]))
    apply(conn, changes, at)
    return changes


def apply(conn: Connection, changes: Sequence[Change], at: datetime | None = None) -> None:
    """Make these changes, which hold from `at` (aware) on. Raises RefusedError.

    Where it is not given they hold from now on, and what was never heard is attached from its first reading on.

    They must be the difference from what is stored, taken after `lock` in the same transaction.
    """
    lock(conn)
    now = datetime.now(UTC)
    named, at = at is not None, at or now
    if at > now + _AHEAD:
        raise RefusedError(_("changes can't hold from %(at)s on, which has not come yet", at=at.isoformat()))
    conn.execute(sql.WHOLE_TABLES)
    detach(conn, [change for change in changes if change.action == "detach"], at)
    for kind in sql.RETIRE:
        rows = [_where(change) for change in changes if change.action == "retire" and change.place.kind == kind]
        if rows:
            conn.execute(sql.RETIRE[kind], {"rows": Jsonb(rows), "at": at})
    for kind in sql.SET:
        rows = [_row(change) for change in changes if change.declared is not None and change.place.kind == kind]
        if rows:
            conn.execute(sql.SET[kind], {"rows": Jsonb(rows)})
    attached = [change for change in changes if change.action == "attach"]
    attach(conn, attached, at, from_first_reading=not named)
    conn.execute(sql.AS_USUAL)


def _where(change: Change) -> dict[str, Any]:
    place = change.place
    return {"facility": place.facility, "room": place.room, "slug": place.slug}


def _row(change: Change) -> dict[str, Any]:
    """What an add or a change writes, by column; references are slugs."""
    row = _where(change)
    match change.declared:
        case DeclaredFacility() as one:
            row |= {"name": one.name, "zone": one.zone, "rules": one.rules, "advice": one.advice}
            row |= {"language": one.language, "tension_unit": one.tension_unit}
            row |= {"volume_unit": one.volume_unit, "clock": one.clock}
        case DeclaredRoom() as one:
            lights = {"lights_on": one.lights_on.isoformat(), "lights_off": one.lights_off.isoformat()}
            row |= {"name": one.name, "rules": one.rules, **lights}
        case DeclaredReservoir() as one:
            row |= {"name": one.name, "shape": one.shape, "keys": one.keys, "rules": one.rules}
            row |= {"sensor_zero_mm": one.sensor_zero_mm, "outlet_mm": one.outlet_mm, "head_mm": one.head_mm}
        case DeclaredLine() as one:
            row |= {"name": one.name, "kind": one.kind, "reservoir": one.reservoir}
        case DeclaredContainer() as one:
            row |= {"name": one.name, "line": one.line, "volume_l": one.volume_l, "medium": one.medium}
            row |= {"stands_for": one.stands_for, "rules": one.rules}
    return row
