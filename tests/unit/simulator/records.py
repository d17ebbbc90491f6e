"""Records of the truth and alarms made by hand, in hours of a month; what a score reads."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

START = datetime(2026, 3, 1, tzinfo=UTC)


def at(hours: float) -> str:
    return (START + timedelta(hours=hours)).isoformat().replace("+00:00", "Z")


def happened(
    event: str, subject: str, begin: float, end: float | None, room: str = "room-01", **detail: Any
) -> dict[str, Any]:
    return {"event": event, "facility": "alderholm", "room": room, "subject": subject, "from": at(begin),
            "to": None if end is None else at(end), "detail": {"kind": None, **detail}}  # fmt: skip


def run(days: float = 30, rooms: int = 4) -> dict[str, Any]:
    return happened("simulated", "alderholm", 0, 24 * days, room="", rooms=rooms)


def alarm(kind: str, name: str, raised: float, room: str | None = "room-01", **more: Any) -> dict[str, Any]:
    return {"id": f"{kind}-{raised}", "kind": kind, "facility": "alderholm", "room": room, "raised_at": at(raised),
            "subject": {"type": "container", "id": "8f1c", "name": name}, "cause": None, "suppressed": False,
            **more}  # fmt: skip
