"""What happened in a facility: alarms with the beginning of their journal, sweeps, signs of life.

An alarm is written in the state asked for, so that a page can be shown one of each; how it got there is the alarms'
own tests' matter.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import psycopg
from psycopg.types.json import Jsonb

Connection = psycopg.Connection[Any]


def alarm(
    conn: Connection,
    facility_id: UUID,
    room_id: UUID | None,
    subject: tuple[str, UUID, str],
    raised_at: datetime,
    kind: str = "drying-drift",
    priority: str = "medium",
    state: str = "unacknowledged",
    message: str = "Pot 01 dries out.",
    evidence: Mapping[str, object] | None = None,
    person_id: UUID | None = None,
    cause_id: UUID | None = None,
) -> UUID:
    """An open alarm about `subject` (type, id, name); one that is acknowledged is so since five minutes after."""
    alarm_id = uuid4()
    acknowledged = raised_at + timedelta(minutes=5) if state == "acknowledged" else None
    conn.execute(
        """
        INSERT INTO alarm (id, facility_id, room_id, kind, subject_type, subject_id, subject_name, priority, state,
            condition_present, acknowledged_at, acknowledged_by, cause_id, shelved_until, raised_at, message, evidence)
        VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)""",
        (
            alarm_id,
            facility_id,
            room_id,
            kind,
            *subject,
            priority,
            state,
            state != "returned-unacknowledged",
            acknowledged,
            person_id if acknowledged else None,
            cause_id,
            raised_at + timedelta(hours=12) if state == "shelved" else None,
            raised_at,
            message,
            Jsonb(evidence or {"tension_mbar": 231.0, "dry_limit_mbar": 180.0, "slope_mbar_per_day": 14.2}),
        ),
    )
    journal = """
        INSERT INTO alarm_journal (alarm_id, version, at, event, state, person_id, detail)
        VALUES (%s, %s, %s, %s, %s, %s, %s)"""
    about = {
        "facility_id": str(facility_id),
        "room_id": None if room_id is None else str(room_id),
        "kind": kind,
        "subject": dict(zip(("type", "id", "name"), map(str, subject), strict=True)),
        "priority": priority,
        "message": message,
        "evidence": evidence or {},
        "call": cause_id is None,
    }
    conn.execute(journal, (alarm_id, 1, raised_at, "raised", "unacknowledged", None, Jsonb(about)))
    if acknowledged:
        conn.execute(journal, (alarm_id, 2, acknowledged, "acknowledged", "acknowledged", person_id, Jsonb({})))
        conn.execute("UPDATE alarm SET version = 2 WHERE id = %s", (alarm_id,))
    return alarm_id


def alive(conn: Connection, facility_ids: list[UUID], now: datetime) -> None:
    """All parts beat, and each facility was swept just now."""
    for part in ("ingest", "watch", "notify", "web"):
        conn.execute(
            "INSERT INTO heartbeat (part, instance, at, healthy) VALUES (%s, 'test', now() + interval '1 hour', true)",
            (part,),
        )
    for facility_id in facility_ids:
        conn.execute(
            """
            INSERT INTO job_run (job, facility_id, as_of, started_at, ended_at, ok)
            VALUES ('sweep', %s, %s, %s, %s, true)""",
            (facility_id, now, now, now),
        )
