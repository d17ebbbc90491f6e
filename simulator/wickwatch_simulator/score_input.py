"""Truth and alarms as a score reads them: JSON Lines into events and calls.

Not here: comparing them (`score`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from wickwatch.errors import InputError


@dataclass(frozen=True)
class Event:
    """One record of the truth.

    `rooms` are all it touches; `names` what its subject is called; `detail` as it came.
    """

    event: str
    kind: str | None
    facility: str
    rooms: frozenset[str]
    names: frozenset[str]
    explained: frozenset[str]
    begin: datetime
    onset: datetime | None
    end: datetime | None
    required: bool
    detail: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True)
class Call:
    """One alarm that called somebody."""

    kind: str
    facility: str
    room: str | None
    names: frozenset[str]
    raised: datetime


def read_lines(path: Path, what: str) -> list[dict[str, Any]]:
    """Objects of a JSON Lines file; raises InputError naming the line."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(what, str(path), f"a file of JSON Lines that can be read ({error})") from error
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip():
            try:
                found.append(json.loads(line))
            except ValueError as error:
                raise InputError(f"{what} {path.name} line {number}", line, "one JSON object") from error
    return found


def moment(value: object, where: str) -> datetime:
    """A time of the file, with its zone; raises InputError naming where it stands."""
    try:
        at = datetime.fromisoformat(str(value))
    except ValueError as error:
        raise InputError(where, value, "a time such as 2026-03-02T00:00:00Z") from error
    if at.tzinfo is None:
        raise InputError(where, value, "a time with its zone")
    return at


def events(records: Iterable[dict[str, Any]]) -> list[Event]:
    """The truth's records, those of the run itself left out; raises InputError for one that lacks a field."""
    found = []
    for number, record in enumerate(records, 1):
        where = f"truth line {number}"
        for key in ("event", "facility", "room", "subject", "from", "to", "detail"):
            if key not in record:
                raise InputError(where, record, f"the fields of a truth record; {key} is missing")
        if record["event"] == "simulated":
            continue
        detail, begin = record["detail"], moment(record["from"], where)
        onset = detail.get("onset", record["from"])
        rooms = detail.get("rooms", [record["room"]])
        found.append(
            Event(
                record["event"], detail.get("kind"), record["facility"], frozenset(rooms),
                frozenset({record["subject"], detail.get("name", record["subject"])}),
                frozenset(detail.get("explained", ())), begin, None if onset is None else moment(onset, where),
                None if record["to"] is None else moment(record["to"], where), bool(detail.get("required", True)),
                detail,
            )
        )  # fmt: skip
    return found


def calls(alarms: Iterable[dict[str, Any]]) -> list[Call]:
    """Alarms that called somebody, in order of time; raises InputError for one that is not in the contract's shape."""
    found = []
    for number, alarm in enumerate(alarms, 1):
        where = f"alarms line {number}"
        for key in ("kind", "facility", "subject", "raised_at"):
            if key not in alarm:
                raise InputError(where, alarm, f"an alarm in the contract's shape; {key} is missing")
        if alarm.get("suppressed") or alarm.get("cause") is not None:
            continue
        subject = alarm["subject"]
        names = frozenset(str(subject[key]) for key in ("id", "slug", "name") if subject.get(key))
        if subject.get("type") == "room" and alarm.get("room"):
            names |= {str(alarm["room"])}  # the alarm's own slug for its room, which the truth goes by
        found.append(
            Call(alarm["kind"], alarm["facility"], alarm.get("room"), names, moment(alarm["raised_at"], where))
        )
    return sorted(found, key=lambda c: c.raised)
