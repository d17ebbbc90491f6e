"""What an alarm's sentence is made of: as the watch sees it, and as it is kept so that it can be said again.

A message is stored in plain English when it is made. People read it in their language and units, so what it was made of
is kept beside it and its evidence: names, times and failed work as they were then. Not here: the sentences (`message`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast
from zoneinfo import ZoneInfo

from wickwatch.alarms.model import Condition
from wickwatch.alarms.verdict import Failed
from wickwatch.alarms.words import place_name
from wickwatch.detect.finding import Value
from wickwatch.fleet import Facility, Kind


@dataclass(frozen=True)
class Facts:
    """What a sentence as of `at` is made of; `room` is the facility's name where it is about no room."""

    kind: Kind
    subject_type: str
    subject: str
    room: str
    facility: str
    zone: ZoneInfo
    since: datetime
    at: datetime
    evidence: Mapping[str, Value]
    harm_at: datetime | None = None
    failed: Failed | None = None

    def kept(self) -> dict[str, object]:
        """The same as JSON, without kind and evidence, which an alarm has anyway."""
        return {
            "subject_type": self.subject_type,
            "subject": self.subject,
            "room": self.room,
            "facility": self.facility,
            "zone": self.zone.key,
            "since": self.since.isoformat(),
            "at": self.at.isoformat(),
            "harm_at": None if self.harm_at is None else self.harm_at.isoformat(),
            "failed": None if self.failed is None else self.failed.kept(),
        }


def facts(condition: Condition, place: Facility, at: datetime, failed: Failed | None = None) -> Facts:
    """What the message of a condition is made of as of `at` (aware UTC)."""
    return Facts(
        kind=condition.kind,
        subject_type=condition.subject.type,
        subject=condition.subject.name,
        room=place_name(place, condition.room_id),
        facility=place.name,
        zone=place.zone,
        since=condition.since,
        at=at,
        evidence=condition.evidence,
        harm_at=condition.harm_at,
        failed=failed,
    )


def kept_facts(kind: str, evidence: Mapping[str, object], kept: Mapping[str, Any]) -> Facts:
    """The facts again from what was kept of them."""
    zone, harm_at, failed = ZoneInfo(kept["zone"]), kept["harm_at"], kept["failed"]
    return Facts(
        kind=cast(Kind, kind),
        subject_type=kept["subject_type"],
        subject=kept["subject"],
        room=kept["room"],
        facility=kept["facility"],
        zone=zone,
        since=datetime.fromisoformat(kept["since"]),
        at=datetime.fromisoformat(kept["at"]),
        evidence=cast(Mapping[str, Value], evidence),
        harm_at=None if harm_at is None else datetime.fromisoformat(harm_at),
        failed=None if failed is None else Failed.again(failed, zone),
    )
