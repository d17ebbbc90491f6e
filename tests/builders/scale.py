"""A place of any size, written by the server from numbers: for plans and for the clock, not for what it shows."""

from __future__ import annotations

from datetime import datetime
from typing import Any, LiteralString
from uuid import UUID

import psycopg

from tests.builders import place

_ROOMS: LiteralString = """
INSERT INTO room (facility_id, slug, name, lights_on, lights_off)
SELECT %(facility)s, 'room-' || lpad(n::text, 4, '0'), 'Room ' || n, '06:00', '18:00'
FROM generate_series(1, %(rooms)s) n
"""

_RESERVOIRS: LiteralString = """
INSERT INTO reservoir (room_id, slug, name, shape, keys, outlet_mm, head_mm)
SELECT id, 'east', replace(name, 'Room ', 'R') || ' east', 'cylinder', '{"diameter_mm": 580, "height_mm": 900}', 40, 30
FROM room WHERE facility_id = %(facility)s
"""

_LINES: LiteralString = """
INSERT INTO supply_line (room_id, reservoir_id, slug, name, kind)
SELECT room_id, id, 'loop', 'Loop', 'loop' FROM reservoir
"""

_CONTAINERS: LiteralString = """
INSERT INTO container (room_id, line_id, slug, name, volume_l)
SELECT l.room_id, l.id, 'pot-' || lpad(n::text, 2, '0'), 'Pot ' || n, 20
FROM supply_line l CROSS JOIN generate_series(1, %(pots)s) n
"""

_DEVICES: LiteralString = """
INSERT INTO device (facility_id, urn)
SELECT %(facility)s, 'urn:dev:mac:' || substr(md5(id::text), 1, 16) FROM (
    SELECT id FROM container UNION ALL SELECT id FROM reservoir) things
"""

_CHANNELS: LiteralString = """
INSERT INTO channel (facility_id, device_id, name, quantity, unit, interval_s)
SELECT %(facility)s, d.id, d.urn || ':' || t.quantity, t.quantity, t.unit, 60
FROM (SELECT id, 'tension' AS quantity, 'hPa' AS unit FROM container UNION ALL
      SELECT id, 'level', 'mm' FROM reservoir) t
JOIN device d ON d.urn = 'urn:dev:mac:' || substr(md5(t.id::text), 1, 16)
"""

_ASSIGNMENTS: LiteralString = """
INSERT INTO assignment (channel_id, quantity, container_id, reservoir_id, during)
SELECT c.id, c.quantity, k.id, v.id, tstzrange(%(now)s - interval '30 days', NULL)
FROM channel c JOIN device d ON d.id = c.device_id
LEFT JOIN container k ON c.quantity = 'tension' AND d.urn = 'urn:dev:mac:' || substr(md5(k.id::text), 1, 16)
LEFT JOIN reservoir v ON c.quantity = 'level' AND d.urn = 'urn:dev:mac:' || substr(md5(v.id::text), 1, 16)
"""

_FINE: LiteralString = """
INSERT INTO rollup_5m (channel_id, at, n, low, high, mean, last, last_at)
SELECT c.id, at, 5, value - 1, value + 1, value, value, at + interval '4 minutes'
FROM channel c
CROSS JOIN generate_series(date_bin('5 minutes', %(now)s, 'epoch') - %(fine)s * interval '5 minutes',
                           date_bin('5 minutes', %(now)s - interval '4 minutes', 'epoch'), '5 minutes') at
CROSS JOIN LATERAL (SELECT CASE c.quantity WHEN 'level' THEN 320 + c.id %% 400 - extract(epoch FROM at - %(now)s) / 1800
    ELSE 70 + (c.id * 37) %% 90 + 6 * sin(extract(epoch FROM at) / 3000 + c.id) END AS value) v
"""

_COARSE: LiteralString = """
INSERT INTO rollup_1h (channel_id, at, n, low, high, mean)
SELECT c.id, at, 60, value - 1, value + 1, value
FROM channel c
CROSS JOIN generate_series(date_bin('1 hour', %(now)s, 'epoch') - %(coarse)s * interval '1 hour',
                           date_bin('1 hour', %(now)s, 'epoch'), '1 hour') at
CROSS JOIN LATERAL (SELECT CASE c.quantity WHEN 'level' THEN 320 + c.id %% 400 - extract(epoch FROM at - %(now)s) / 1800
    ELSE 70 + (c.id * 37) %% 90 END AS value) v
"""

_ALARMS: LiteralString = """
INSERT INTO alarm (id, facility_id, room_id, kind, subject_type, subject_id, subject_name, priority, state,
                   condition_present, raised_at, message, evidence)
SELECT gen_random_uuid(), %(facility)s, c.room_id, 'drying-drift', 'container', c.id, c.name, 'medium',
       'unacknowledged', true, %(now)s - interval '3 hours',
       c.name || ' is drying out: 212 mbar, 14.2 mbar more each day.', '{}'
FROM container c WHERE c.slug = 'pot-03' ORDER BY md5(c.id::text) LIMIT %(alarms)s
"""


def facility(
    conn: psycopg.Connection[Any],
    now: datetime,
    rooms: int,
    pots: int = 20,
    alarms: int = 30,
    fine: int = 24,
    coarse: int = 72,
) -> UUID:
    """A facility of `rooms` with `pots` each, a reservoir each, so many buckets of rollups, and some alarms."""
    facility_id = place.facility(conn, "birchwood")
    values = {
        "facility": facility_id,
        "now": now,
        "rooms": rooms,
        "pots": pots,
        "alarms": alarms,
        "fine": fine,
        "coarse": coarse,
    }
    parts = (_ROOMS, _RESERVOIRS, _LINES, _CONTAINERS, _DEVICES, _CHANNELS, _ASSIGNMENTS, _FINE, _COARSE, _ALARMS)
    for part in parts:
        conn.execute(part, values)
    conn.commit()
    conn.autocommit = True
    conn.execute("ANALYZE")
    conn.autocommit = False
    return facility_id
