"""The alarm journal and the calls made for it as tables, which all measures are taken from.

A table, because a measure is a question about many alarms at once. Everything in it comes from the journal itself: an
alarm's first entry says what it is about. Not here: any measure (`measures`), nor reading the journal
(`store.measures`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast
from uuid import UUID

import pandas as pd

from wickwatch.alarms.model import JournalEntry

#: Columns of the journal's table, one row for each entry, in the order things happened. Ids are text; `person_id` is
#: None where nobody did it; `call` tells whether the entry asked for somebody, which calling the next does not do anew;
#: `priority` is the one after the entry.
JOURNAL = (
    "alarm_id",
    "version",
    "at",
    "event",
    "state",
    "person_id",
    "call",
    "priority",
    "kind",
    "subject_id",
    "subject_name",
    "room_id",
)

#: Columns of the calls' table, one row for each alarm brought to one person, however many messages that took.
CALLS = ("at", "alarm_id", "person_id", "person")


@dataclass(frozen=True)
class Called:
    """One alarm brought to one person at a time."""

    at: datetime
    alarm_id: UUID
    person_id: UUID
    person: str


def journal_frame(entries: Iterable[JournalEntry]) -> pd.DataFrame:
    """The journal as a table with the columns `JOURNAL`, ordered by time; `at` is datetime64[us, UTC].

    `entries` of one alarm come in their order and from its first, since that one says what the alarm is about.
    Raises ValueError where an alarm's first entry is missing.
    """
    about: dict[UUID, dict[str, object]] = {}
    rows: list[dict[str, object]] = []
    for entry in entries:
        detail = cast(Mapping[str, Any], entry.detail)
        if entry.version == 1:
            subject = detail["subject"]
            about[entry.alarm_id] = {
                "alarm_id": str(entry.alarm_id),
                "kind": detail["kind"],
                "subject_id": subject["id"],
                "subject_name": subject["name"],
                "room_id": detail["room_id"],
            }
        known = about.get(entry.alarm_id)
        if known is None:
            raise ValueError(f"the journal of alarm {entry.alarm_id} does not begin with its first entry")
        known["priority"] = detail.get("priority", known.get("priority"))
        rows.append(
            known
            | {
                "version": entry.version,
                "at": entry.at,
                "event": entry.event,
                "state": entry.state,
                "person_id": None if entry.person_id is None else str(entry.person_id),
                "call": bool(detail.get("call")) and entry.event not in ("escalated", "handed-over"),
            }
        )
    frame = _timed(pd.DataFrame(rows, columns=list(JOURNAL)))
    frame["call"] = frame["call"].astype(bool)
    people = frame["person_id"].astype(object)
    frame["person_id"] = people.where(people.notna(), None)  # a column of text would hold "not a number" instead
    return frame.sort_values(["at", "alarm_id", "version"], kind="stable", ignore_index=True)


def calls_frame(calls: Iterable[Called]) -> pd.DataFrame:
    """The calls as a table with the columns `CALLS`, ordered by time; `at` is datetime64[us, UTC]."""
    rows = [(call.at, str(call.alarm_id), str(call.person_id), call.person) for call in calls]
    return _timed(pd.DataFrame(rows, columns=list(CALLS))).sort_values("at", kind="stable", ignore_index=True)


def _timed(frame: pd.DataFrame) -> pd.DataFrame:
    frame["at"] = pd.to_datetime(frame["at"], utc=True).astype("datetime64[us, UTC]")
    return frame
