"""Is the watching itself alive? What stopped, as a finding about the facility.

Silence is not health: a part without a sign of life, a job that no longer ends well and a disk about to be full are
conditions like any other. Not here: reading the signs of life (`watch.health`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from wickwatch.detect.finding import Finding, Judgement
from wickwatch.fleet import Facility, Subject


@dataclass(frozen=True)
class Stopped:
    """One thing that stopped: `part` in words, since when at the latest, and why if it said so."""

    part: str
    since: datetime
    why: str = ""


def monitoring(place: Facility, as_of: datetime, stopped: Sequence[Stopped]) -> Judgement:
    """One finding for all that stopped, since people mend it in one go; the earliest counts as its beginning."""
    if not stopped:
        return Judgement(as_of, frozenset({"monitoring-stopped"}))
    first = min(stopped, key=lambda each: each.since)
    found = Finding(
        kind="monitoring-stopped",
        subject=Subject("facility", place.id, place.name),
        room_id=None,
        since=first.since,
        evidence={
            "parts": ", ".join(each.part for each in stopped),
            "stopped_for_s": round((as_of - first.since).total_seconds()),
            "why": "; ".join(each.why for each in stopped if each.why) or None,
        },
    )
    return Judgement(as_of, frozenset({"monitoring-stopped"}), (found,))
