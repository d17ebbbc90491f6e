"""Truth and alarms as a score reads them: JSON Lines into events and calls.

Not here: comparing them (`score`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
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
    """One alarm that called somebody; `cleared` is None while its condition stands."""

    kind: str
    facility: str
    room: str | None
    names: frozenset[str]
    raised: datetime
    cleared: datetime | None = None


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
    return _in_order(_call(alarm) for alarm in _checked(alarms) if _called(alarm))


def explained(alarms: Iterable[dict[str, Any]]) -> list[Call]:
    """Alarms that called nobody because their cause did, or its cause, in order of time, from when both were there.

    Whoever was called for the cause was told of these with it. Raises InputError as `calls` does.
    """
    made = list(_checked(alarms))
    by_id = {str(alarm["id"]): alarm for alarm in made if "id" in alarm}
    found = []
    for alarm in made:
        called = None if _called(alarm) else _called_for(alarm, by_id)
        if called is not None:
            call = _call(alarm)
            found.append(replace(call, raised=max(call.raised, _call(called).raised)))
    return _in_order(found)


def _called_for(alarm: Mapping[str, Any], by_id: Mapping[str, dict[str, Any]]) -> dict[str, Any] | None:
    """The alarm that somebody was called for in place of this one: its cause, or the cause of that; None if none."""
    seen: set[str] = set()
    above: Mapping[str, Any] = alarm
    while (cause := str(above.get("cause"))) in by_id and cause not in seen:
        if _called(by_id[cause]):
            return by_id[cause]
        seen.add(cause)
        above = by_id[cause]
    return None


def _checked(alarms: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for number, alarm in enumerate(alarms, 1):
        for key in ("kind", "facility", "subject", "raised_at"):
            if key not in alarm:
                raise InputError(f"alarms line {number}", alarm, f"an alarm in the contract's shape; {key} is missing")
        moment(alarm["raised_at"], f"alarms line {number}")
        yield alarm


def _called(alarm: Mapping[str, Any]) -> bool:
    return not alarm.get("suppressed") and alarm.get("cause") is None


def _call(alarm: Mapping[str, Any]) -> Call:
    subject = alarm["subject"]
    names = frozenset(str(subject[key]) for key in ("id", "slug", "name") if subject.get(key))
    if subject.get("type") == "room" and alarm.get("room"):
        names |= {str(alarm["room"])}  # the alarm's own slug for its room, which the truth goes by
    cleared = alarm.get("cleared_at")
    return Call(
        alarm["kind"],
        alarm["facility"],
        alarm.get("room"),
        names,
        moment(alarm["raised_at"], "alarm"),
        None if cleared is None else moment(cleared, "alarm"),
    )


def _in_order(made: Iterable[Call]) -> list[Call]:
    return sorted(made, key=lambda call: call.raised)
