"""The audit log for administrators: who changed what, in words, and as lines of a table.

Not here: what is noted (`store.audit`), or who may read it (`web.permits`).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from wickwatch.store.audit import Change, Entry
from wickwatch.store.people import Visible
from wickwatch.texts import N_, Words, _
from wickwatch.web.views.times import Moment, moment

#: Ways in which something is changed, in words.
VIAS = Words(
    {
        "page": N_("on a page"),
        "api": N_("by a program"),
        "command": N_("by a command"),
        "link": N_("by a message's link"),
    }
)

#: What can be changed, by table.
THINGS = Words(
    {
        "alarm": N_("alarm"),
        "api_token": N_("token"),
        "assignment": N_("attachment of a channel"),
        "contact": N_("way to reach a person"),
        "container": N_("container"),
        "facility": N_("facility"),
        "gateway": N_("gateway"),
        "membership": N_("role"),
        "notice": N_("message"),
        "out_of_service": N_("out of service"),
        "invitation": N_("invitation"),
        "person": N_("person"),
        "quarantine": N_("refused readings"),
        "quiet_hours": N_("quiet hours"),
        "reading": N_("readings"),
        "report_order": N_("order of a report"),
        "report_subscription": N_("subscription of reports"),
        "reservoir": N_("reservoir"),
        "room": N_("room"),
        "rota_feed": N_("calendar's address"),
        "rota_holidays": N_("holidays"),
        "rota_pattern": N_("weekly turns"),
        "rota_pattern_person": N_("person of weekly turns"),
        "rota_step": N_("time to answer"),
        "rota_turn": N_("turn by date"),
        "rule_trial": N_("trial of rules"),
        "session": N_("sign-in"),
        "supply_line": N_("supply line"),
        "work_entry": N_("work entry"),
    }
)

COLUMNS = ("at", "who", "via", "address", "action", "facility", "thing", "id", "name", "old", "new")

_ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")

#: Values are cut after so many characters on the page; the CSV has them whole.
_LONGEST = 200


@dataclass(frozen=True)
class FieldLine:
    """One value that changed; `old` or `new` is empty where there was or is none."""

    name: str
    old: str
    new: str


@dataclass(frozen=True)
class ChangeLine:
    """One thing that was changed; `what` is added, changed or removed."""

    what: str
    thing: str
    name: str
    facility: str
    fields: tuple[FieldLine, ...]


@dataclass(frozen=True)
class EntryLine:
    """One request or command."""

    at: Moment
    who: str
    how: str
    told: str
    action: str
    changes: tuple[ChangeLine, ...]
    more: int


@dataclass(frozen=True)
class Asked:
    """The filters as they stand in the form."""

    facility: str = ""
    who: str = ""
    via: str = ""
    thing: str = ""
    since: str = ""
    until: str = ""


@dataclass(frozen=True)
class AuditPage:
    """The log; `zone` is what its times are in, `next` and `csv` are addresses, the first empty at the end."""

    lines: tuple[EntryLine, ...]
    asked: Asked
    facilities: tuple[Visible, ...]
    people: tuple[str, ...]
    vias: Mapping[str, str]
    things: Mapping[str, str]
    zone: str
    next: str
    csv: str


#: Changes of one entry that the page shows; a fleet file can have thousands.
_MOST = 20


def ids_in(entries: Iterable[Entry]) -> set[str]:
    """Every id that changes of these entries hold, to be shown by name."""
    text = json.dumps([[change.old, change.new] for entry in entries for change in entry.changes])
    return set(_ID.findall(text))


def line(entry: Entry, names: Mapping[str, str], zone: ZoneInfo, now: datetime) -> EntryLine:
    """One entry for the page."""
    return EntryLine(
        at=moment(entry.at, zone, now),
        who=entry.who,
        how=f"{VIAS[entry.via]}, {entry.address}",
        told=entry.told.rstrip("."),
        action=entry.action,
        changes=tuple(_change(change, names) for change in entry.changes[:_MOST]),
        more=max(0, len(entry.changes) - _MOST),
    )


def rows(entries: Iterable[Entry]) -> Iterator[Sequence[str]]:
    """Lines of the table, one for each change, in the order of `COLUMNS`."""
    for entry in entries:
        at = entry.at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        head = (at, entry.who, entry.via, entry.address, entry.action)
        for change in entry.changes:
            values = (_json(change.old), _json(change.new))
            cells = (*head, change.facility or "", change.thing, change.thing_id, change.name, *values)
            yield [_harmless(cell) for cell in cells]


def _change(change: Change, names: Mapping[str, str]) -> ChangeLine:
    old, new = change.old or {}, change.new or {}
    what = _("added") if change.old is None else _("removed") if change.new is None else _("changed")
    return ChangeLine(
        what,
        THINGS.get(change.thing, change.thing.replace("_", " ")),
        change.name,
        change.facility or "",
        tuple(
            FieldLine(name.replace("_", " "), _shown(old.get(name), names), _shown(new.get(name), names))
            for name in sorted({*old, *new} - {"id"})
        ),
    )


def _shown(value: object, names: Mapping[str, str]) -> str:
    if value is None:
        return ""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    text = _ID.sub(lambda found: names.get(found[0], found[0]), text)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def _json(value: Mapping[str, Any] | None) -> str:
    return "" if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True)


def _harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula (OWASP, CSV Injection)."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell
