"""Statements that change the place; each takes a JSON array of rows that name things by slug, as a fleet file does.

Not here: what channels are attached to (`store.fleet_attach`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import LiteralString

# One change of the place at a time; any number that nothing else in the database uses.
LOCK: LiteralString = "SELECT pg_advisory_xact_lock(7230110002)"

# The planner takes 100 rows for any JSON array and would look up thousands one by one in tables it knows nothing of
# yet: minutes instead of seconds for a large fleet.
WHOLE_TABLES: LiteralString = "SET LOCAL enable_nestloop = off"
AS_USUAL: LiteralString = "SET LOCAL enable_nestloop TO DEFAULT"

# Facilities: those of that slug, also one retired before, else new ones.
_SET_FACILITY: LiteralString = """
MERGE INTO facility t USING (
    SELECT g.*, old.id AS old_id
    FROM jsonb_to_recordset(%(rows)s)
         AS g (slug text, name text, zone text, language text, tension_unit text, volume_unit text, clock text,
               rules jsonb, advice jsonb)
    LEFT JOIN (
        SELECT DISTINCT ON (slug) id, slug FROM facility ORDER BY slug, retired_at DESC NULLS FIRST
    ) old ON old.slug = g.slug
) g ON t.id = g.old_id
WHEN MATCHED THEN UPDATE SET name = g.name, zone = g.zone, language = g.language, tension_unit = g.tension_unit,
    volume_unit = g.volume_unit, clock = g.clock, rules = g.rules, advice = g.advice, retired_at = NULL
WHEN NOT MATCHED THEN INSERT (slug, name, zone, language, tension_unit, volume_unit, clock, rules, advice)
    VALUES (g.slug, g.name, g.zone, g.language, g.tension_unit, g.volume_unit, g.clock, g.rules, g.advice)
"""

# Gateways: those of that slug, also those only heard, else new ones.
_SET_GATEWAY: LiteralString = """
MERGE INTO gateway t USING (
    SELECT f.id AS facility_id, g.slug, old.id AS old_id
    FROM jsonb_to_recordset(%(rows)s) AS g (facility text, slug text)
    JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
    LEFT JOIN (
        SELECT DISTINCT ON (facility_id, slug) id, facility_id, slug FROM gateway
        ORDER BY facility_id, slug, retired_at DESC NULLS FIRST
    ) old ON old.facility_id = f.id AND old.slug = g.slug
) g ON t.id = g.old_id
WHEN MATCHED THEN UPDATE SET declared = true, retired_at = NULL
WHEN NOT MATCHED THEN INSERT (facility_id, slug, declared) VALUES (g.facility_id, g.slug, true)
"""

# Rooms: those of that slug in their facility, also those retired before, else new ones.
_SET_ROOM: LiteralString = """
MERGE INTO room t USING (
    SELECT f.id AS facility_id, g.slug, g.name, g.lights_on, g.lights_off, g.rules, old.id AS old_id
    FROM jsonb_to_recordset(%(rows)s)
         AS g (facility text, slug text, name text, lights_on time, lights_off time, rules jsonb)
    JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
    LEFT JOIN (
        SELECT DISTINCT ON (facility_id, slug) id, facility_id, slug FROM room
        ORDER BY facility_id, slug, retired_at DESC NULLS FIRST
    ) old ON old.facility_id = f.id AND old.slug = g.slug
) g ON t.id = g.old_id
WHEN MATCHED THEN UPDATE SET name = g.name, lights_on = g.lights_on, lights_off = g.lights_off, rules = g.rules,
    retired_at = NULL
WHEN NOT MATCHED THEN INSERT (facility_id, slug, name, lights_on, lights_off, rules)
    VALUES (g.facility_id, g.slug, g.name, g.lights_on, g.lights_off, g.rules)
"""

# Reservoirs: those of that slug in their room, also those retired before, else new ones.
_SET_RESERVOIR: LiteralString = """
MERGE INTO reservoir t USING (
    SELECT r.id AS room_id, g.*, old.id AS old_id
    FROM jsonb_to_recordset(%(rows)s)
         AS g (facility text, room text, slug text, name text, shape text, keys jsonb, rules jsonb,
               sensor_zero_mm float8, outlet_mm float8, head_mm float8)
    JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
    JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
    LEFT JOIN (
        SELECT DISTINCT ON (room_id, slug) id, room_id, slug FROM reservoir
        ORDER BY room_id, slug, retired_at DESC NULLS FIRST
    ) old ON old.room_id = r.id AND old.slug = g.slug
) g ON t.id = g.old_id
WHEN MATCHED THEN UPDATE SET name = g.name, shape = g.shape, keys = g.keys, rules = g.rules,
    sensor_zero_mm = g.sensor_zero_mm, outlet_mm = g.outlet_mm, head_mm = g.head_mm, retired_at = NULL
WHEN NOT MATCHED THEN INSERT (room_id, slug, name, shape, keys, rules, sensor_zero_mm, outlet_mm, head_mm)
    VALUES (g.room_id, g.slug, g.name, g.shape, g.keys, g.rules, g.sensor_zero_mm, g.outlet_mm, g.head_mm)
"""

# Supply lines: those of that slug in their room, also those retired before, else new ones.
_SET_LINE: LiteralString = """
MERGE INTO supply_line t USING (
    SELECT r.id AS room_id, g.*, s.id AS reservoir_id, old.id AS old_id
    FROM jsonb_to_recordset(%(rows)s)
         AS g (facility text, room text, slug text, name text, kind text, reservoir text)
    JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
    JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
    LEFT JOIN reservoir s ON s.room_id = r.id AND s.slug = g.reservoir AND s.retired_at IS NULL
    LEFT JOIN (
        SELECT DISTINCT ON (room_id, slug) id, room_id, slug FROM supply_line
        ORDER BY room_id, slug, retired_at DESC NULLS FIRST
    ) old ON old.room_id = r.id AND old.slug = g.slug
) g ON t.id = g.old_id
WHEN MATCHED THEN UPDATE SET name = g.name, kind = g.kind, reservoir_id = g.reservoir_id, retired_at = NULL
WHEN NOT MATCHED THEN INSERT (room_id, slug, name, kind, reservoir_id)
    VALUES (g.room_id, g.slug, g.name, g.kind, g.reservoir_id)
"""

# Containers: those of that slug in their room, also those retired before, else new ones.
_SET_CONTAINER: LiteralString = """
MERGE INTO container t USING (
    SELECT r.id AS room_id, g.*, s.id AS line_id, old.id AS old_id
    FROM jsonb_to_recordset(%(rows)s)
         AS g (facility text, room text, slug text, name text, line text, volume_l float8, medium text,
               stands_for integer, rules jsonb)
    JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
    JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
    LEFT JOIN supply_line s ON s.room_id = r.id AND s.slug = g.line AND s.retired_at IS NULL
    LEFT JOIN (
        SELECT DISTINCT ON (room_id, slug) id, room_id, slug FROM container
        ORDER BY room_id, slug, retired_at DESC NULLS FIRST
    ) old ON old.room_id = r.id AND old.slug = g.slug
) g ON t.id = g.old_id
WHEN MATCHED THEN UPDATE SET name = g.name, line_id = g.line_id, volume_l = g.volume_l, medium = g.medium,
    stands_for = g.stands_for, rules = g.rules, retired_at = NULL
WHEN NOT MATCHED THEN INSERT (room_id, slug, name, line_id, volume_l, medium, stands_for, rules)
    VALUES (g.room_id, g.slug, g.name, g.line_id, g.volume_l, g.medium, g.stands_for, g.rules)
"""

#: What writes each kind of thing, in an order in which what is referred to is there first.
SET: Mapping[str, LiteralString] = {
    "facility": _SET_FACILITY,
    "gateway": _SET_GATEWAY,
    "room": _SET_ROOM,
    "reservoir": _SET_RESERVOIR,
    "line": _SET_LINE,
    "container": _SET_CONTAINER,
}

# A container leaves its room.
_RETIRE_CONTAINER: LiteralString = """
UPDATE container t SET retired_at = %(at)s
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, room text, slug text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
WHERE t.room_id = r.id AND t.slug = g.slug AND t.retired_at IS NULL
"""

# A line leaves its room.
_RETIRE_LINE: LiteralString = """
UPDATE supply_line t SET retired_at = %(at)s
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, room text, slug text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
WHERE t.room_id = r.id AND t.slug = g.slug AND t.retired_at IS NULL
"""

# A reservoir leaves its room.
_RETIRE_RESERVOIR: LiteralString = """
UPDATE reservoir t SET retired_at = %(at)s
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, room text, slug text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
JOIN room r ON r.facility_id = f.id AND r.slug = g.room AND r.retired_at IS NULL
WHERE t.room_id = r.id AND t.slug = g.slug AND t.retired_at IS NULL
"""

# A room leaves its facility, after all that stood in it.
_RETIRE_ROOM: LiteralString = """
UPDATE room t SET retired_at = %(at)s
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, slug text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
WHERE t.facility_id = f.id AND t.slug = g.slug AND t.retired_at IS NULL
"""

# A gateway leaves its facility; if it is heard again, it is as one never declared.
_RETIRE_GATEWAY: LiteralString = """
UPDATE gateway t SET retired_at = %(at)s
FROM jsonb_to_recordset(%(rows)s) AS g (facility text, slug text)
JOIN facility f ON f.slug = g.facility AND f.retired_at IS NULL
WHERE t.facility_id = f.id AND t.slug = g.slug AND t.retired_at IS NULL
"""

# A facility goes, after all that stood in it; only a page asks for that, never a fleet file.
_RETIRE_FACILITY: LiteralString = """
UPDATE facility t SET retired_at = %(at)s
FROM jsonb_to_recordset(%(rows)s) AS g (slug text) WHERE t.slug = g.slug AND t.retired_at IS NULL
"""

#: What retires each kind of thing, what is inside before what it is inside of.
RETIRE: Mapping[str, LiteralString] = {
    "container": _RETIRE_CONTAINER,
    "line": _RETIRE_LINE,
    "reservoir": _RETIRE_RESERVOIR,
    "room": _RETIRE_ROOM,
    "gateway": _RETIRE_GATEWAY,
    "facility": _RETIRE_FACILITY,
}
