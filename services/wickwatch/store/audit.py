"""Who changed what: for whom a connection writes, what cannot be seen from rows, and the log as administrators read it.

The database notes the rows by itself, under one entry for each request or command (`audit_row` in the schema). Not
here: who may read it (`web.permits`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, LiteralString
from uuid import UUID, uuid4

import orjson
from psycopg.types.json import Jsonb

from wickwatch.store.connect import Connection

Via = Literal["page", "api", "command", "link"]
VIAS: tuple[Via, ...] = ("page", "api", "command", "link")

# For whom this transaction, or this connection from now on, writes.
_FOR: LiteralString = "SELECT set_config('wickwatch.audit', %s, %s)"

# One change that no row of an audited table tells of.
_NOTE: LiteralString = "SELECT audit(%s, %s, %s, %s, NULL, %s)"

# Entries with a change that may be seen, the newest first. `everything` also shows what is of no facility.
_ENTRIES: LiteralString = """
SELECT e.id, e.at, e.person_id, e.who, e.via, e.address, e.action, e.told
FROM audit_entry e
WHERE EXISTS (
    SELECT FROM audit_change c WHERE c.entry_id = e.id
    AND (c.facility_id = ANY(%(facilities)s) OR (c.facility_id IS NULL AND %(everything)s))
    AND (%(facility)s::uuid IS NULL OR c.facility_id = %(facility)s)
    AND (%(thing)s::text IS NULL OR c.thing = %(thing)s))
AND (%(who)s::text IS NULL OR lower(e.who) = lower(%(who)s))
AND (%(via)s::text IS NULL OR e.via = %(via)s)
AND (%(start)s::timestamptz IS NULL OR e.at >= %(start)s)
AND (%(end)s::timestamptz IS NULL OR e.at < %(end)s)
AND (%(after_at)s::timestamptz IS NULL OR (e.at, e.id) < (%(after_at)s, %(after_id)s::uuid))
ORDER BY e.at DESC, e.id DESC LIMIT %(limit)s
"""

# Their changes that may be seen, in the order they were made.
_CHANGES: LiteralString = """
SELECT c.entry_id, f.slug, c.thing, c.thing_id, c.name, c.old, c.new
FROM audit_change c LEFT JOIN facility f ON f.id = c.facility_id
WHERE c.entry_id = ANY(%(entries)s)
AND (c.facility_id = ANY(%(facilities)s) OR (c.facility_id IS NULL AND %(everything)s))
ORDER BY c.id
"""

# What ids in changes are called today.
_NAMES: LiteralString = """
SELECT id::text, name FROM person WHERE id::text = ANY(%(ids)s)
UNION ALL SELECT id::text, name FROM facility WHERE id::text = ANY(%(ids)s)
UNION ALL SELECT id::text, name FROM room WHERE id::text = ANY(%(ids)s)
UNION ALL SELECT id::text, name FROM reservoir WHERE id::text = ANY(%(ids)s)
UNION ALL SELECT id::text, name FROM supply_line WHERE id::text = ANY(%(ids)s)
UNION ALL SELECT id::text, name FROM container WHERE id::text = ANY(%(ids)s)
"""


@dataclass(frozen=True)
class Author:
    """For whom something is written, once for each request or command; `address` is where that came from."""

    id: UUID
    at: datetime
    person_id: UUID | None
    who: str
    via: Via
    address: str
    action: str
    told: str


@dataclass(frozen=True)
class Sight:
    """What a reader of the log may see: some facilities, and with `everything` also what is of none."""

    facilities: Collection[UUID]
    everything: bool


@dataclass(frozen=True)
class Filters:
    """What is asked for; None asks for all."""

    facility: UUID | None = None
    who: str | None = None
    via: Via | None = None
    thing: str | None = None
    start: datetime | None = None
    end: datetime | None = None


@dataclass(frozen=True)
class Change:
    """One row that was changed: `old` is None where it is new, `new` where it was removed; `facility` is a slug."""

    facility: str | None
    thing: str
    thing_id: str
    name: str
    old: Mapping[str, Any] | None
    new: Mapping[str, Any] | None


@dataclass(frozen=True)
class Entry:
    """One request or command, and what it changed."""

    id: UUID
    at: datetime
    person_id: UUID | None
    who: str
    via: Via
    address: str
    action: str
    told: str
    changes: tuple[Change, ...]


def author(
    at: datetime, who: str, via: Via, address: str, action: str, told: str, person_id: UUID | None = None
) -> Author:
    """Somebody who is about to write."""
    return Author(uuid4(), at, person_id, who, via, address[:100], action[:200], told[:300])


def write_for(conn: Connection, writer: Author, *, whole: bool = False) -> None:
    """Note what this transaction changes as this author's; with `whole` what the connection does from now on."""
    conn.execute(_FOR, (orjson.dumps(writer).decode(), not whole))


def note(conn: Connection, facility_id: UUID | None, thing: str, name: str, new: Mapping[str, object]) -> None:
    """Note a change that no audited row tells of, under the author that this connection writes for."""
    conn.execute(_NOTE, (facility_id, thing, "", name, Jsonb(dict(new))))


def entries(
    conn: Connection, sight: Sight, filters: Filters, limit: int, after: tuple[datetime, UUID] | None = None
) -> list[Entry]:
    """Entries with what the reader may see of them, the newest first; `after` continues behind one."""
    seen = {"facilities": list(sight.facilities), "everything": sight.everything}
    after_at, after_id = after or (None, None)
    place = {"limit": limit, "after_at": after_at, "after_id": after_id}
    rows = conn.execute(_ENTRIES, seen | vars(filters) | place).fetchall()
    changes: dict[UUID, list[Change]] = {row[0]: [] for row in rows}
    for entry_id, *rest in conn.execute(_CHANGES, seen | {"entries": list(changes)}):
        changes[entry_id].append(Change(*rest))
    return [Entry(*(*row, tuple(changes[row[0]]))) for row in rows]


def names(conn: Connection, ids: Collection[str]) -> dict[str, str]:
    """What people and parts of the place are called today, by id as text."""
    return dict(conn.execute(_NAMES, {"ids": list(ids)}).fetchall())


def all_entries(conn: Connection, sight: Sight, filters: Filters, page: int = 500) -> Iterator[Entry]:
    """Every entry that is asked for, a page at a time."""
    after: tuple[datetime, UUID] | None = None
    while found := entries(conn, sight, filters, page, after):
        yield from found
        after = (found[-1].at, found[-1].id)
