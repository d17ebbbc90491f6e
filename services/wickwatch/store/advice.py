"""A facility's own text by kind of alarm. Not here: the steps that hold everywhere (`alarms.advice`)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import LiteralString
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch.fleet import check_advice
from wickwatch.store import alarms
from wickwatch.store.connect import Connection

# The texts of one facility.
_READ: LiteralString = "SELECT advice FROM facility WHERE id = %s"

# Replace them all.
_WRITE: LiteralString = "UPDATE facility SET advice = %s WHERE id = %s"


def own(conn: Connection, facility_id: UUID) -> dict[str, str]:
    """Texts by kind of alarm."""
    row = conn.execute(_READ, (facility_id,)).fetchone()
    return row[0] if row else {}


def replace(conn: Connection, facility_id: UUID, texts: Mapping[str, object]) -> dict[str, str]:
    """Make these the texts of a facility and return them as they are kept. Raises InputError."""
    kept = check_advice(texts, "facility")
    conn.execute(_WRITE, (Jsonb(kept), facility_id))
    alarms.tell(conn, facility_id)
    return kept
