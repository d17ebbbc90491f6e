"""Work entries as plain data: what a person did, where and when.

Not here: their storing, nor what follows for detectors and alarms. The kinds are few and in the trade's words, so that
somebody with wet hands finds the right one; whatever else was done is `maintenance` with a note.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args
from uuid import UUID

WorkKind = Literal[
    "refilled",
    "purged",
    "cleaned-filter",
    "opened-valve",
    "mended-leak",
    "re-set-emitter",
    "replaced-emitter",
    "watered-by-hand",
    "refilled-probe",
    "replaced-probe",
    "moved-probe",
    "set-up",
    "pruned",
    "removed-plant",
    "maintenance",
    "checked",
]

#: What can be recorded, and what it can be about.
WORK_KINDS: Mapping[str, tuple[str, ...]] = {
    "refilled": ("reservoir",),
    "purged": ("line",),
    "cleaned-filter": ("line", "reservoir"),
    "opened-valve": ("line", "reservoir"),
    "mended-leak": ("reservoir", "line", "container"),
    "re-set-emitter": ("container",),
    "replaced-emitter": ("container",),
    "watered-by-hand": ("container", "room"),
    "refilled-probe": ("container",),
    "replaced-probe": ("container", "reservoir"),
    "moved-probe": ("container",),
    "set-up": ("container",),
    "pruned": ("container", "room"),
    "removed-plant": ("container",),
    "maintenance": ("container", "reservoir", "line", "room", "gateway"),
    "checked": ("container", "reservoir", "line", "room", "gateway"),
}
assert tuple(WORK_KINDS) == get_args(WorkKind)


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
