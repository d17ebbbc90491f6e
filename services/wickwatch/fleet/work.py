"""Work entries as plain data: what a person did, where and when.

Not here: their storing, nor what follows for detectors and alarms.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

#: What can be recorded, and what it can be about.
WORK_KINDS = {
    "refilled": ("reservoir",),
    "purged": ("line",),
    "opened-valve": ("line", "reservoir"),
    "re-set-emitter": ("container",),
    "replaced-emitter": ("container",),
    "watered-by-hand": ("container", "room"),
    "replaced-probe": ("container",),
    "refilled-probe": ("container",),
    "checked": ("container", "reservoir", "line", "room", "gateway"),
    "maintenance": ("container", "reservoir", "line", "room", "gateway"),
}


@dataclass(frozen=True)
class Work:
    """One work entry; `at` is when it was done (aware UTC), not when it was written down."""

    id: UUID
    kind: str
    subject_type: str
    subject_id: UUID
    room_id: UUID | None
    at: datetime
    person: str | None = None
    note: str = ""
